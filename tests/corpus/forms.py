"""Sheets as small forms and other people's habits: labels above small tables, tables below each other, sheets on their side,
stand and plot in one cell, slopes, sums without a word, several trees on a line, names of species turned about."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math

from corpus.agency import FLOOR_DAY, WORDS, lined
from corpus.case import DESIGN, PLACE, PLOTS, PRISM, Case, Said, sheet
from corpus.consultant import HEAD, numbered
from corpus.sheets import XLSX, Written
from corpus.truth import LATIN, LETTERS, NAMES, Look, Size, cruise, young_count

TENTH = Size(plot_area_ac=0.1)
SHORT = ("Species", "DBH (in)")


def _at(stems, name):
    return [[LETTERS[stem.species], stem.dbh_in] for stem in stems if stem.point == name]


@sheet("a small table for each plot under labels of plot, factor and day")
def _labelled(seed):
    names, stems = cruise(seed, empty=0)
    factors = {name: 20.0 if number % 3 == 2 else 10.0 for number, name in enumerate(names)}
    rows = []
    for name in names:
        rows += [["Plot:", name], ["BAF:", factors[name]], ["Date:", dt.date(2025, 5, 14)], SHORT, *_at(stems, name), []]
    sizes = {name: Size(baf_ft2_ac=factor) for name, factor in factors.items()}
    return Case(sheets={"c": rows}, how=XLSX, said=Said(settings={"stand": "K1"}), looks=[Look(points=names, stems=stems, by_point=sizes)])


@sheet("all labels of a plot in one row above its table")
def _label_rows(seed):
    looks, rows = [], []
    for number, stand in enumerate(("K1", "K2")):
        names, stems = cruise(seed + number, points=5, empty=0)
        looks.append(Look(stand=stand, points=names, stems=stems))
        for name in names:
            rows += [[f"Stand: {stand}", f"Plot: {name}", "BAF: 10", "Date: 5/14/2025", "Crew: two seasonals"], SHORT, *_at(stems, name)]
    return Case(sheets={"c": rows}, how=XLSX, looks=looks)


@sheet("species of its own above each table")
def _own_species(seed):
    names, stems = cruise(seed, points=4, empty=0, low=6, high=14)
    stems = [dataclasses.replace(stem, dbh_in=float(2 * round(stem.dbh_in / 2))) for stem in stems]
    rows = []
    for name in names:
        here = [stem for stem in stems if stem.point == name]
        kinds = sorted({stem.species for stem in here})
        kinds = kinds if len(kinds) > 1 else [*kinds, 541]
        rows += [[f"Point {name}"], ["DBH class (in)", *(LETTERS[code] for code in kinds)]]
        for size in sorted({stem.dbh_in for stem in here}):
            rows.append([size, *(sum(s.dbh_in == size and s.species == code for s in here) or "" for code in kinds)])
        rows.append([])
    return Case(sheets={"c": rows}, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("a summary below the tally")
def _summary(seed):
    names, stems = cruise(seed, empty=0)
    below = [[], ["Summary"], ["Species", "Trees", "BA/ac"], ["WO", 12, 40], ["RM", 7, 20], ["Total", 19, 60]]
    return Case(sheets={"c": [HEAD, *numbered(stems), *below]}, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("seedlings below the trees of one sheet")
def _both_tables(seed):
    names, stems = cruise(seed, empty=0)
    plots, lines = young_count(seed, empty=0, classes=("1-3", "3-4.5"))
    start = len(stems) + 4
    below = [[], ["Regeneration, milacre plots"], WORDS, *lined(lines)]
    own = f"c from row {start}"
    said = Said(settings={"stand": "K1", "visited_on": FLOOR_DAY.isoformat(), "c.baf_ft2_ac": "10", f"{own}.plot_area_ac": "0.001"})
    looks = [
        Look(on=FLOOR_DAY, points=names, stems=stems),
        Look(on=FLOOR_DAY, kind="reproduction", points=plots, young=lines, size=Size(plot_area_ac=0.001)),
    ]
    return Case(sheets={"c": [["Overstory"], HEAD, *numbered(stems), *below]}, how=XLSX, said=said, looks=looks)


@sheet("a cruise on its side")
def _on_its_side(seed):
    names, stems = cruise(seed, empty=0)
    rows = list(zip(*[HEAD, *numbered(stems)], strict=True))
    return Case(sheets={"c": [["Cruise of the ridge"], *rows]}, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("stand and plot in one cell")
def _joined(seed):
    looks, rows = [], []
    for number, stand in enumerate(("K1", "K2")):
        names, stems = cruise(seed + number, points=5, empty=0)
        looks.append(Look(stand=stand, points=names, stems=stems))
        rows += [[f"{stand}-{stem.point}", LETTERS[stem.species], stem.dbh_in] for stem in stems]
    said = Said(settings={"visited_on": "2025-05-14", "stand_in_plot": "yes", **DESIGN})
    return Case(sheets={"c": [("Plot", *SHORT), *rows]}, said=said, looks=looks, asked=("stand_in_plot",))


@sheet("stand and plot in one cell under their own heading")
def _joined_heading(seed):
    names, stems = cruise(seed, points=5, empty=0)
    rows = [[f"K2/{stem.point}", LETTERS[stem.species], stem.dbh_in] for stem in stems]
    said = Said(settings={"visited_on": "2025-05-14", **DESIGN})
    return Case(sheets={"c": [("Stand/Pt", *SHORT), *rows]}, said=said, looks=[Look(stand="K2", points=names, stems=stems)])


def _sloping(seed, size, said, steep=(0, 35, 60)):
    names, stems = cruise(seed, empty=0)
    slope = {name: steep[number % len(steep)] for number, name in enumerate(names)}
    rows = [[stem.point, LETTERS[stem.species], stem.dbh_in, slope[stem.point]] for stem in stems]
    # A circle along the ground is shorter on the map by the cosine of the slope's angle (geometry).
    cosine = {name: math.cos(math.atan(pct / 100)) for name, pct in slope.items()}
    sizes = {
        name: Size(plot_area_ac=size.plot_area_ac * one) if size.plot_area_ac else Size(baf_ft2_ac=size.baf_ft2_ac / one)
        for name, one in cosine.items()
    }
    told = Said(settings={**said.settings, "slope": "uncorrected"})
    return Case(
        sheets={"c": [("Plot", *SHORT, "Slope %"), *rows]},
        said=told,
        asked=("slope",),
        looks=[Look(points=names, stems=stems, by_point=sizes)],
    )


@sheet("plots laid out along a slope")
def _sloping_plots(seed):
    return _sloping(seed, TENTH, PLOTS)


@sheet("a prism held level on a slope")
def _sloping_prism(seed):
    return _sloping(seed, Size(baf_ft2_ac=10.0), PRISM)


@sheet("slopes of plots that were laid out level")
def _level(seed):
    case = _sloping(seed, TENTH, PLOTS)
    look = dataclasses.replace(case.looks[0], by_point={}, size=TENTH)
    return dataclasses.replace(case, said=Said(settings={**PLOTS.settings, "slope": "corrected"}), looks=[look])


@sheet("sums of counts without a word")
def _bare_sums(seed):
    names, stems = cruise(seed, empty=0)
    rows = []
    for name in names:
        here = [stem for stem in stems if stem.point == name]
        rows += [[stem.point, LETTERS[stem.species], stem.dbh_in, 1] for stem in here]
        rows.append(["", "", "", len(here)])
    rows.append(["", "", "", len(stems)])
    head = ("Plot", *SHORT, "Count")
    return Case(sheets={"c": [head, *rows]}, how=XLSX, said=PLOTS, looks=[Look(points=names, stems=stems, size=TENTH)])


@sheet("several trees on a line, their headings numbered")
def _numbered_trees(seed):
    names, stems = cruise(seed, empty=0)
    rows = []
    for name in names:
        here = [stem for stem in stems if stem.point == name]
        rows += [
            [name, *(cell for stem in here[at : at + 3] for cell in (LETTERS[stem.species], stem.dbh_in))] for at in range(0, len(here), 3)
        ]
    head = ("Plot", *(f"{word}{number}" for number in (1, 2, 3) for word in ("Sp", "DBH in ")))
    return Case(sheets={"c": [head, *rows]}, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("names of species turned about")
def _turned_names(seed):
    names, stems = cruise(seed, empty=0, species=(802, 837, 833, 316, 403, 541))

    def word(number, stem):
        first, _, last = NAMES[stem.species].rpartition(" ")
        latin = f" ({LATIN[stem.species]})" if stem.species in LATIN else ""
        return (f"{last.title()}, {first}", f"{last.title()} ({first})", f"{last.title()}, {first}{latin}")[number % 3]

    rows = [[stem.point, word(number, stem), stem.dbh_in] for number, stem in enumerate(stems)]
    return Case(sheets={"c": [("Plot", *SHORT), *rows]}, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("a metric cruise in French, commas for points")
def _french(seed):
    names, stems = cruise(seed, empty=0, species=tuple(LATIN))
    rows = [[stem.point, LATIN[stem.species], f"{stem.dbh_in * 2.54:.2f}".replace(".", ",")] for stem in stems]
    said = Said(settings={**PLACE, "plot_area_ac": "400 m2"})
    look = Look(points=names, stems=stems, size=Size(plot_area_ac=400 / 4046.8564224))
    how = Written("csv", delimiter=";", encoding="latin-1")
    return Case(sheets={"c": [("Placette", "Essence", "DHP (cm)"), *rows]}, how=how, said=said, looks=[look])


@sheet("a column of two-inch classes")
def _classes(seed):
    names, stems = cruise(seed, empty=0)
    low = [2 * int(stem.dbh_in // 2) for stem in stems]
    rows = [[stem.point, LETTERS[stem.species], f"{size}-{size + 2}"] for stem, size in zip(stems, low, strict=True)]
    middles = [dataclasses.replace(stem, dbh_in=size + 1.0) for stem, size in zip(stems, low, strict=True)]
    look = Look(points=names, stems=middles, size=TENTH)
    return Case(sheets={"c": [("Plot", "Species", "DBH class (in)"), *rows]}, said=PLOTS, looks=[look])


@sheet("trees counted by a prism without diameters")
def _no_sizes(seed):
    names, stems = cruise(seed, empty=0)
    kinds = sorted({stem.species for stem in stems})
    rows = [[name, *(sum(s.point == name and s.species == code for s in stems) for code in kinds)] for name in names]
    said = Said(settings={**PRISM.settings, "height_class": "1-3"})
    return Case(sheets={"c": [("Point", *(LETTERS[code] for code in kinds)), *rows]}, said=said, stopped=True)


@sheet("trees marked in and out of the plot")
def _in_and_out(seed):
    names, stems = cruise(seed, empty=0)
    marks = ["Out" if number % 5 == 0 else "In" for number in range(len(stems))]
    rows = [[*row, mark] for row, mark in zip(numbered(stems), marks, strict=True)]
    rows.append([99, 1, "WO", 21, "Out"])
    inside = [stem for stem, mark in zip(stems, marks, strict=True) if mark == "In"]
    return Case(sheets={"c": [(*HEAD, "In/Out"), *rows]}, how=XLSX, said=PRISM, looks=[Look(points=[*names, "99"], stems=inside)])


@sheet("a column of other species beside the named ones")
def _others(seed):
    names, lines = young_count(seed, empty=0, species=(802, 316, 999), classes=("1-3",))
    held = {(one.point, one.species): one.stems for one in lines}
    rows = [[name, *(held.get((name, code), "") for code in (802, 316, 999))] for name in names]
    said = Said(settings={"stand": "K1", "visited_on": FLOOR_DAY.isoformat(), "plot_area_ac": "0.001", "height_class": "1-3"})
    look = Look(on=FLOOR_DAY, kind="reproduction", points=names, young=lines, size=Size(plot_area_ac=0.001))
    return Case(sheets={"regen": [("Plot", "White oak", "Red maple", "Other"), *rows]}, said=said, looks=[look])


@sheet("seedlings beside the trees of one sheet")
def _beside(seed):
    names, stems = cruise(seed, empty=0)
    plots, lines = young_count(seed, empty=0, classes=("1-3", "3-4.5"))
    left, right = numbered(stems), lined(lines)
    most = max(len(left), len(right))
    pad = [[""] * len(HEAD)] * (most - len(left)), [[""] * len(WORDS)] * (most - len(right))
    rows = [[*one, "", *other] for one, other in zip([*left, *pad[0]], [*right, *pad[1]], strict=True)]
    said = Said(settings={"stand": "K1", "visited_on": FLOOR_DAY.isoformat(), "c.baf_ft2_ac": "10", "c, right part.plot_area_ac": "0.001"})
    looks = [
        Look(on=FLOOR_DAY, points=names, stems=stems),
        Look(on=FLOOR_DAY, kind="reproduction", points=plots, young=lines, size=Size(plot_area_ac=0.001)),
    ]
    return Case(sheets={"c": [(*HEAD, "", *WORDS), *rows]}, how=XLSX, said=said, looks=looks)
