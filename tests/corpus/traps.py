"""Sheets that are wrong in a way a careful reader would stop at: each is doubted in words before anything is written."""

from __future__ import annotations

import random

from corpus.case import PLACE, PLOTS, PRISM, Case, Said, sheet
from corpus.consultant import HEAD, numbered
from corpus.sheets import ODS, XLSX
from corpus.truth import IN_PER_CM, LETTERS, Look, Size, Stem, cruise


@sheet("cull by a mark")
def _cull(seed):
    names, stems = cruise(seed, empty=0)
    chance = random.Random(seed)
    marked = [Stem(**{**vars(stem), "cull": chance.random() < 0.15}) for stem in stems]
    rows = [[*row, "x" if stem.cull else ""] for row, stem in zip(numbered(stems), marked, strict=True)]
    return Case(sheets={"c": [(*HEAD, "Cull"), *rows]}, said=PRISM, looks=[Look(points=names, stems=marked)])


@sheet("dead and cull by letters in one column of marks")
def _marks(seed):
    names, stems = cruise(seed, empty=0)
    chance = random.Random(seed)
    kinds = [chance.choice(("", "", "", "dead", "cull")) for _ in stems]
    marked = [Stem(**{**vars(s), "dead": kind == "dead", "cull": kind == "cull"}) for s, kind in zip(stems, kinds, strict=True)]
    rows = [[*row, kind] for row, kind in zip(numbered(stems), kinds, strict=True)]
    look = Look(points=names, stems=marked)
    said = Said(settings=PRISM.settings, columns={"Mark": "status"})
    return Case(sheets={"c": [(*HEAD, "Mark"), *rows]}, how=XLSX, said=said, looks=[look])


@sheet("more basal area than any stand carries")
def _dense(seed):
    _names, stems = cruise(seed, empty=0)
    rows = [[stem.point, LETTERS[stem.species], round(stem.dbh_in / IN_PER_CM, 1)] for stem in stems]
    sheets = {"c": [("Plot", "Sp", "DBH (in)"), *rows]}
    return Case(sheets=sheets, said=PLOTS, doubts=(r"basal area",))


@sheet("stems below the least diameter of the ring")
def _below(seed):
    _names, stems = cruise(seed, empty=0)
    small = [Stem(**{**vars(stem), "dbh_in": 3.2 if number in (1, 6) else stem.dbh_in}) for number, stem in enumerate(stems)]
    said = Said(settings={**PRISM.settings, "low_dbh_in": "5"})
    return Case(sheets={"c": [HEAD, *numbered(small)]}, said=said, doubts=(r"least|smaller|below",))


@sheet("heights and diameters changed about")
def _crossed(seed):
    _names, stems = cruise(seed, empty=0)
    rows = [[stem.point, LETTERS[stem.species], 60 + int(stem.dbh_in), round(stem.dbh_in, 1)] for stem in stems]
    sheets = {"c": [("Plot", "Sp", "DBH (in)", "Height (ft)"), *rows]}
    return Case(sheets=sheets, how=ODS, said=PLOTS, doubts=(r"[Hh]eight",))


@sheet("latitude and longitude changed about")
def _turned(seed):
    names, stems = cruise(seed, empty=0)
    place = {name: (37.8 + int(name) / 1000, -82.3 - int(name) / 1000) for name in names}
    rows = [[*row, place[row[0]][1], place[row[0]][0]] for row in numbered(stems)]
    sheets = {"c": [(*HEAD, "Latitude", "Longitude"), *rows]}
    return Case(sheets=sheets, said=PRISM, doubts=(r"latitude",))


@sheet("a day before the last visit of the stand")
def _earlier(seed):
    _names, stems = cruise(seed, empty=0)
    said = Said(settings={**PRISM.settings, "stand": "K4", "visited_on": "2015-05-14"})
    return Case(sheets={"c": [HEAD, *numbered(stems)]}, said=said, stopped=True)


@sheet("one stand to a sheet")
def _each(seed):
    looks, sheets, answers = [], {}, {}
    for number, stand in enumerate(("K1", "K2")):
        names, stems = cruise(seed + number, points=6, empty=0)
        looks.append(Look(stand=stand, points=names, stems=stems))
        sheets[f"tally {stand}"] = [HEAD, *numbered(stems)]
        answers |= {f"tally {stand}.stand": stand, f"tally {stand}.visited_on": "2025-05-14", f"tally {stand}.baf_ft2_ac": "10"}
    return Case(sheets=sheets, how=XLSX, said=Said(settings=answers), looks=looks)


@sheet("letters and name in one cell")
def _both(seed):
    words = {802: "WO - White Oak", 316: "RM - Red Maple"}
    names, stems = cruise(seed, empty=0, species=(802, 316))
    rows = [[stem.point, words[stem.species], stem.dbh_in] for stem in stems]
    sheets = {"c": [("Plot", "Species", "DBH (in)"), *rows]}
    said = Said(settings=PRISM.settings, codes={"WO - White Oak": "802", "RM - Red Maple": "316"})
    return Case(sheets=sheets, said=said, looks=[Look(points=names, stems=stems)])


@sheet("both rings of a nested cruise on one sheet")
def _one_sheet(seed):
    names, large = cruise(seed, empty=0, low=5)
    chance = random.Random(seed)
    small = [
        Stem(point=name, species=316, dbh_in=round(chance.uniform(1, 4.9), 1), layer="midstory")
        for name in names
        for _ in range(chance.randint(0, 2))
    ]
    rows = [[s.point, "BAF 10", LETTERS[s.species], s.dbh_in] for s in large]
    rows += [[s.point, "1/50 ac", LETTERS[s.species], s.dbh_in] for s in small]
    sheets = {"c": [("Point", "Plot type", "Sp", "DBH (in)"), *rows]}
    look = Look(points=names, stems=[*large, *small], by_layer={"midstory": Size(plot_area_ac=0.02)})
    return Case(sheets=sheets, how=XLSX, said=Said(settings=PLACE), looks=[look], guarded=True)
