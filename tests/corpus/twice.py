"""Sheets that say something beside their columns, or twice: factors without a unit, legends, sums, lists and plots side by side."""

from __future__ import annotations

import random

from corpus.agency import WORDS, floor, lined
from corpus.case import FLOOR, PLACE, PRISM, Case, Said, sheet
from corpus.consultant import HEAD, numbered
from corpus.sheets import XLSX
from corpus.truth import LETTERS, NAMES, Look, Size, Young, cruise, young_count


def _short(stems):
    return [[s.point, LETTERS[s.species], s.dbh_in] for s in stems]


@sheet("a metric factor without its unit")
def _metric_factor(seed):
    names, stems = cruise(seed, empty=1)
    rows = [[s.point, 2, LETTERS[s.species], round(s.dbh_in * 2.54, 4)] for s in stems]
    rows += [[name, 2, "none", ""] for name in names if name not in {s.point for s in stems}]
    said = Said(settings={**PLACE, "factor_unit": "m2/ha"})
    # 2 m2/ha: 2 / 0.3048^2 ft2 on 10,000 / (0.3048^2 * 43,560) acres (the foot by international agreement).
    size = Size(baf_ft2_ac=2 / 0.3048**2 / (10_000 / (0.3048**2 * 43_560)))
    return Case(sheets={"c": [("Plot", "BAF", "Sp", "DBH (cm)"), *rows]}, how=XLSX, asked=("factor_unit",), said=said,
                looks=[Look(points=names, stems=stems, size=size)])  # fmt: skip


@sheet("a title with another factor than the one said")
def _other_title(seed):
    _, stems = cruise(seed, empty=0)
    return Case(sheets={"c": [["Cruise of the ridge, BAF 20"], [], HEAD, *numbered(stems)]}, how=XLSX, said=PRISM, stopped=True)


@sheet("a legend of codes beside the tally")
def _legend_beside(seed):
    names, stems = cruise(seed, empty=0)
    codes = {code: number for number, code in enumerate(sorted({s.species for s in stems}), 1)}
    listed = [(number, NAMES[code]) for code, number in codes.items()]
    rows = [[s.point, codes[s.species], s.dbh_in, "", *(listed[at] if at < len(listed) else ("", ""))] for at, s in enumerate(stems)]
    return Case(sheets={"c": [("Plot", "Sp", "DBH (in)", "", "Code", "Species"), *rows]}, how=XLSX, said=PRISM,
                looks=[Look(points=names, stems=stems)])  # fmt: skip


@sheet("a list of plots beside the tally")
def _list_beside(seed):
    names, stems = cruise(seed, empty=2)
    chance = random.Random(seed)
    factors = {name: chance.choice((10, 20)) for name in names}
    listed = [*factors.items()]
    rows = [[*row, "", *(listed[at] if at < len(listed) else ("", ""))] for at, row in enumerate(_short(stems))]
    looks = [Look(points=names, stems=stems, by_point={name: Size(baf_ft2_ac=float(one)) for name, one in factors.items()})]
    return Case(sheets={"c": [("Plot", "Sp", "DBH (in)", "", "Plot", "BAF"), *rows]}, how=XLSX, said=PRISM, looks=looks)


@sheet("plots beside each other under their names")
def _plots_beside(seed):
    names, stems = cruise(seed, points=4, empty=0)
    here = {name: [[LETTERS[s.species], s.dbh_in] for s in stems if s.point == name] for name in names}
    longest = max(map(len, here.values()))
    rows = [[cell for name in names for cell in (*(here[name][at] if at < len(here[name]) else ("", "")), "")] for at in range(longest)]
    top = [cell for name in names for cell in (f"Plot {name}", "", "")]
    head = ["Sp", "DBH (in)", ""] * len(names)
    return Case(sheets={"c": [top, head, *rows]}, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("rows of all species below each plot")
def _all_rows(seed):
    names, lines = young_count(seed, empty=0, classes=("1-3",))
    rows = []
    for name in names:
        own = [one for one in lines if one.point == name]
        rows += lined(own) + ([[name, "All species", "1-3", sum(one.stems for one in own)]] if own else [])
    return Case(sheets={"regen": [WORDS, *rows]}, how=XLSX, said=FLOOR, looks=[floor(names, lines)])


@sheet("a column that sums the oaks")
def _oaks_summed(seed):
    names, lines = young_count(seed, plots=8, empty=0, species=(802, 837, 316), classes=("1-3",))
    held = {(one.point, one.species): one.stems for one in lines}
    cells = [[held.get((name, code), 0) for code in (802, 837, 316)] for name in names]
    rows = [[name, white, black, white + black, maple] for name, (white, black, maple) in zip(names, cells, strict=True)]
    said = Said(settings={**FLOOR.settings, "height_class": "1-3", "sum_rows": "leave out"})
    young = [Young(**{**vars(one), "height_class": "1-3"}) for one in lines]
    return Case(sheets={"regen": [("Plot", "White oak", "Black oak", "Oaks", "Red maple"), *rows]}, how=XLSX, said=said,
                asked=("sum_rows",), looks=[floor(names, young)])  # fmt: skip


@sheet("a tally without headings")
def _headless(seed):
    names, stems = cruise(seed, empty=0)
    said = Said(settings={**PRISM.settings, "no_headings": "yes"}, units={"dbh_in": "in"})
    return Case(sheets={"c": _short(stems)}, asked=("no_headings", "dbh_in"), said=said, looks=[Look(points=names, stems=stems)])
