"""Sheets nobody planned for: what spreadsheets do by themselves, columns that could be two things, tables turned about."""

from __future__ import annotations

import datetime as dt
import random

from corpus.agency import FLOOR_DAY, WORDS, floor, lined
from corpus.case import DESIGN, FLOOR, PLACE, PLOTS, PRISM, Case, Said, sheet
from corpus.consultant import HEAD, numbered
from corpus.sheets import CSV, XLSX, Written
from corpus.truth import LETTERS, NAMES, Look, Size, Stem, Young, cruise, young_count

TENTH = Size(plot_area_ac=0.1)


@sheet("plots under rows of their own")
def _plot_rows(seed):
    names, stems = cruise(seed, empty=1)
    rows = []
    for name in names:
        here = [stem for stem in stems if stem.point == name]
        rows.append([f"Plot {name}", "", ""])
        rows += [["", LETTERS[stem.species], stem.dbh_in] for stem in here] or [["", "none", ""]]
    return Case(
        sheets={"c": [("", "Species", "DBH (in)"), *rows]}, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)], guarded=True
    )


@sheet("a column for each plot of young stems")
def _turned(seed):
    names, lines = young_count(seed, plots=6, empty=1, classes=("1-3", "3-4.5"))
    keys = list(dict.fromkeys((one.species, one.height_class) for one in lines))
    held = {(one.species, one.height_class, one.point): one.stems for one in lines}
    rows = [[NAMES[code], tall, *(held.get((code, tall, name), "") for name in names)] for code, tall in keys]
    head = ("Species", "Height class", *(f"Plot {name}" for name in names))
    return Case(sheets={"regen": [head, *rows]}, how=XLSX, said=FLOOR, looks=[floor(names, lines)], guarded=True)


@sheet("species over height classes in two rows of headings")
def _two_levels(seed):
    names, lines = young_count(seed, plots=8, empty=0, species=(802, 316), classes=("1-3", "3-4.5"))
    held = {(one.point, one.species, one.height_class): one.stems for one in lines}
    rows = [[name, *(held.get((name, code, tall), "") for code in (802, 316) for tall in ("1-3", "3-4.5"))] for name in names]
    head = [("Plot", "White oak", "", "Red maple", ""), ("", "1-3 ft", "3-4.5 ft", "1-3 ft", "3-4.5 ft")]
    how = Written("xlsx", merged={"regen": ("B1:C1", "D1:E1")})
    return Case(sheets={"regen": [*head, *rows]}, how=how, said=FLOOR, looks=[floor(names, lines)], guarded=True)


@sheet("height classes that the spreadsheet made days of")
def _classes_as_days(seed):
    names, lines = young_count(seed, empty=0, classes=("1-3", "3-4.5"))
    rows = lined(lines)
    for row in rows:
        row[2] = dt.date(2025, 1, 3) if row[2] == "1-3" else row[2]
    return Case(sheets={"regen": [WORDS, *rows]}, how=XLSX, said=FLOOR, looks=[floor(names, lines)], guarded=True)


@sheet("species lines with a count of 0")
def _zero_counts(seed):
    names, lines = young_count(seed, plots=8, empty=2, classes=("1-3",))
    held = {(one.point, one.species): one.stems for one in lines}
    rows = [[name, NAMES[code], "1-3", held.get((name, code), 0)] for name in names for code in (802, 837, 316, 621)]
    seen = [one for one in lines if one.species in (802, 837, 316, 621)]
    return Case(sheets={"regen": [WORDS, *rows]}, said=FLOOR, looks=[floor(names, seen)])


@sheet("computed columns beside the tally")
def _computed(seed):
    names, stems = cruise(seed, empty=0)
    rows = numbered(stems, lambda s: [round(0.005454 * s.dbh_in**2, 3), round(10 / (0.005454 * s.dbh_in**2), 2)])
    sheets = {"c": [(*HEAD, "BA", "TPA"), *rows]}
    return Case(sheets=sheets, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("a number that is the tree's")
def _number_of_tree(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[row[0], row[1], row[2], row[3]] for row in numbered(stems)]
    return Case(sheets={"c": [("Plot", "No.", "Sp", "DBH (in)"), *rows]}, said=PLOTS, looks=[Look(points=names, stems=stems, size=TENTH)])


@sheet("a number that is the count")
def _number_counted(seed):
    names, stems = cruise(seed, empty=0)
    chance = random.Random(seed)
    many = [Stem(**{**vars(stem), "stems": chance.randint(1, 4)}) for stem in stems]
    rows = [[s.point, LETTERS[s.species], s.dbh_in, s.stems] for s in many]
    look = Look(points=names, stems=many, size=TENTH)
    return Case(sheets={"c": [("Plot", "Sp", "DBH (in)", "No. of trees"), *rows]}, said=PLOTS, looks=[look])


@sheet("a hash that is the count")
def _hash(seed):
    names, stems = cruise(seed, empty=0)
    chance = random.Random(seed)
    many = [Stem(**{**vars(stem), "stems": chance.randint(1, 4)}) for stem in stems]
    rows = [[s.point, LETTERS[s.species], s.dbh_in, s.stems] for s in many]
    said = Said(settings=PLOTS.settings, columns={"#": "stems"})
    return Case(sheets={"c": [("Plot", "Sp", "DBH (in)", "#"), *rows]}, said=said, looks=[Look(points=names, stems=many, size=TENTH)])


def _dead(seed, words, head, how=CSV, **more):
    names, stems = cruise(seed, empty=0)
    chance = random.Random(seed)
    marked = [Stem(**{**vars(stem), "dead": chance.random() < 0.2}) for stem in stems]
    rows = [[*row, words[stem.dead]] for row, stem in zip(numbered(stems), marked, strict=True)]
    return Case(
        sheets={"c": [(*HEAD, head), *rows]}, how=how, said=more.pop("said", PRISM), looks=[Look(points=names, stems=marked)], **more
    )


@sheet("alive yes and no")
def _alive(seed):
    return _dead(seed, {False: "Y", True: "N"}, "Live")


@sheet("snag yes and no")
def _snag(seed):
    return _dead(seed, {False: "N", True: "Y"}, "Snag", how=XLSX)


@sheet("status by number without a legend")
def _status_number(seed):
    said = Said(settings=PRISM.settings, codes={"1": "live", "2": "dead"})
    return _dead(seed, {False: 1, True: 2}, "Status", said=said, asked=("1", "2"), guarded=True)


@sheet("groups of species in words")
def _groups(seed):
    words = {400: "hickory", 802: "white oak", 316: "red maple"}
    names, stems = cruise(seed, empty=0, species=tuple(words))
    rows = [[s.point, words[s.species], s.dbh_in] for s in stems]
    return Case(sheets={"c": [("Plot", "Species", "DBH (in)"), *rows]}, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("a species nobody could name")
def _question_mark(seed):
    words = {999: "?", 802: "white oak", 316: "red maple"}
    names, stems = cruise(seed, empty=0, species=tuple(words))
    rows = [[s.point, words[s.species], s.dbh_in] for s in stems]
    return Case(sheets={"c": [("Plot", "Species", "DBH (in)"), *rows]}, said=PRISM, looks=[Look(points=names, stems=stems)], unknown=("?",))


@sheet("letters in small case")
def _small(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[s.point, LETTERS[s.species].lower(), s.dbh_in] for s in stems]
    return Case(sheets={"c": [("plot", "sp", "dbh (in)"), *rows]}, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("a legend of height classes on another sheet")
def _class_legend(seed):
    names, lines = young_count(seed, empty=0, classes=("<0.5", "0.5-1", "1-3", "3-4.5"))
    code = {"<0.5": 1, "0.5-1": 2, "1-3": 3, "3-4.5": 4}
    legend = [[1, "under 6 in"], [2, "6-12 in"], [3, "1-3 ft"], [4, "3-4.5 ft"]]
    sheets = {"regen": [WORDS, *lined(lines, code.get)], "Ht classes": [("Code", "Height class"), *legend]}
    return Case(sheets=sheets, how=XLSX, said=FLOOR, looks=[floor(names, lines)], guarded=True)


@sheet("height classes by number without a legend")
def _class_numbers(seed):
    _names, lines = young_count(seed, empty=0, classes=("1-3", "3-4.5"))
    rows = lined(lines, {"1-3": "3", "3-4.5": "4"}.get)
    return Case(sheets={"regen": [WORDS, *rows]}, asked=("3", "4"), said=FLOOR, guarded=True)


@sheet("height classes with long dashes")
def _dashes(seed):
    names, lines = young_count(seed, empty=0, classes=("0.5-1", "1-3", "3-4.5"))
    rows = lined(lines, lambda tall: tall.replace("-", "\u2013") + " ft")
    return Case(sheets={"regen": [WORDS, *rows]}, how=XLSX, said=FLOOR, looks=[floor(names, lines)])


@sheet("a cruise pasted twice")
def _pasted(seed):
    names, stems = cruise(seed, empty=0)
    rows = numbered(stems)
    return Case(sheets={"c": [HEAD, *rows, *rows]}, said=PRISM, looks=[Look(points=names, stems=stems)], guarded=True)


@sheet("one tree number twice on a point")
def _number_twice(seed):
    names, stems = cruise(seed, empty=0)
    rows = numbered(stems)
    rows[1][1] = 1
    good = [stem for number, stem in enumerate(stems) if number not in (0, 1)]
    return Case(sheets={"c": [HEAD, *rows]}, said=PRISM, looks=[Look(points=names, stems=good)], guarded=True)


@sheet("days as the spreadsheet counts them")
def _serial(seed):
    names, stems = cruise(seed, empty=0)
    rows = [["K1", (dt.date(2025, 5, 14) - dt.date(1899, 12, 30)).days, s.point, LETTERS[s.species], s.dbh_in] for s in stems]
    sheets = {"c": [("Stand", "Date", "Plot", "Sp", "DBH (in)"), *rows]}
    return Case(sheets=sheets, said=Said(settings=DESIGN), looks=[Look(points=names, stems=stems)], guarded=True)


@sheet("days with the time of day")
def _timed(seed):
    names, stems = cruise(seed, empty=0)
    rows = [["K1", "2025-05-14 09:30", s.point, LETTERS[s.species], s.dbh_in] for s in stems]
    sheets = {"c": [("Stand", "Date", "Plot", "Sp", "DBH (in)"), *rows]}
    return Case(sheets=sheets, said=Said(settings=DESIGN), looks=[Look(points=names, stems=stems)], guarded=True)


@sheet("a month without its day")
def _month(seed):
    _names, stems = cruise(seed, empty=0)
    rows = [["K1", "May 2025", s.point, LETTERS[s.species], s.dbh_in] for s in stems]
    sheets = {"c": [("Stand", "Date", "Plot", "Sp", "DBH (in)"), *rows]}
    return Case(sheets=sheets, said=Said(settings=DESIGN), stopped=True)


@sheet("numbers in quotes with decimal commas between commas")
def _quoted_commas(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[s.point, NAMES[s.species], f"{s.dbh_in:.1f}".replace(".", ",")] for s in stems]
    return Case(sheets={"c": [("Plot", "Species", "DBH (in)"), *rows]}, said=PRISM, looks=[Look(points=names, stems=stems)], guarded=True)


@sheet("bars between the cells")
def _bars(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[s.point, NAMES[s.species], s.dbh_in] for s in stems]
    how = Written("txt", delimiter="|")
    return Case(sheets={"c": [("Plot", "Species", "DBH (in)"), *rows]}, how=how, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("a plot size in words")
def _tenth(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[s.point, NAMES[s.species], s.dbh_in, "1/10 acre"] for s in stems]
    sheets = {"c": [("Plot", "Species", "DBH (in)", "Plot size"), *rows]}
    return Case(sheets=sheets, said=Said(settings=PLACE), looks=[Look(points=names, stems=stems, size=TENTH)])


@sheet("a plot by its radius in a column")
def _radius(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[s.point, NAMES[s.species], s.dbh_in, 37.24] for s in stems]
    sheets = {"c": [("Plot", "Species", "DBH (in)", "Plot radius (ft)"), *rows]}
    # pi r2 / 43,560 ft2, the definition of an acre.
    look = Look(points=names, stems=stems, size=Size(plot_area_ac=3.141592653589793 * 37.24**2 / 43560))
    return Case(sheets=sheets, how=XLSX, said=Said(settings=PLACE), looks=[look], guarded=True)


@sheet("crown ratio as a share")
def _share(seed):
    names, stems = cruise(seed, empty=0)
    rows = numbered(stems, lambda s: [0.35])
    sheets = {"c": [(*HEAD, "LCR"), *rows]}
    return Case(sheets=sheets, said=PRISM, looks=[Look(points=names, stems=stems, crown_ratio_pct=35.0)], guarded=True)


@sheet("origin of young stems by a mark")
def _sprouts(seed):
    names, lines = young_count(seed, empty=0, classes=("1-3", "3-4.5"))
    rows = [[*row, "x" if number % 3 == 0 else ""] for number, row in enumerate(lined(lines))]
    said = Said(settings=FLOOR.settings | {"columns_left": "left out"})
    return Case(sheets={"regen": [(*WORDS, "Stump sprout"), *rows]}, how=XLSX, said=said, looks=[floor(names, lines)])


@sheet("browse yes and no on counted lines")
def _browse(seed):
    names, lines = young_count(seed, empty=0, classes=("1-3", "3-4.5"))
    rows = [[*row, "Y" if number % 2 else "N"] for number, row in enumerate(lined(lines))]
    return Case(sheets={"regen": [(*WORDS, "Browsed"), *rows]}, said=FLOOR, looks=[floor(names, lines)], guarded=True)


@sheet("counts over a thousand with a comma")
def _thousand(seed):
    names, lines = young_count(seed, empty=0, classes=("<0.5",))
    many = [Young(**{**vars(one), "stems": 1200 if number == 2 else one.stems}) for number, one in enumerate(lines)]
    rows = lined(many)
    rows[2][3] = "1,200"
    return Case(sheets={"regen": [WORDS, *rows]}, how=XLSX, said=FLOOR, looks=[floor(names, many)], guarded=True)


@sheet("lists for choosing on a sheet of their own")
def _lists(seed):
    names, stems = cruise(seed, empty=0)
    lists = [["WO", "L"], ["BO", "D"], ["RM", ""], ["YP", ""]]
    sheets = {"Lists": [("Species", "Status"), *lists], "Data": [HEAD, *numbered(stems)], "Sheet3": [[]]}
    return Case(sheets=sheets, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("one point on two days")
def _revisited(seed):
    names, stems = cruise(seed, points=5, empty=0)
    again = [Stem(**{**vars(stem), "dbh_in": round(stem.dbh_in + 0.3, 1)}) for stem in stems if stem.point == "3"]
    rows = [[dt.date(2025, 5, 14), *row] for row in numbered(stems)] + [[dt.date(2025, 9, 1), *row] for row in numbered(again)]
    said = Said(settings={"stand": "K1", **DESIGN})
    looks = [Look(points=names, stems=stems), Look(on=dt.date(2025, 9, 1), points=["3"], stems=again)]
    return Case(sheets={"c": [("Date", *HEAD), *rows]}, how=XLSX, said=said, looks=looks, figures=False)


@sheet("lines that end as on an old machine")
def _returns(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[s.point, NAMES[s.species], s.dbh_in] for s in stems]
    how = Written("csv", line_end="\r")
    return Case(
        sheets={"c": [("Plot", "Species", "DBH (in)"), *rows]}, how=how, said=PRISM, looks=[Look(points=names, stems=stems)], guarded=True
    )


@sheet("young stems by day of another place in the title")
def _titled_floor(seed):
    names, lines = young_count(seed, empty=0)
    top = [["Regeneration survey, milacre plots"], ["Crew: two seasonals"], []]
    assert FLOOR_DAY.year == 2025
    return Case(sheets={"regen": [*top, WORDS, *lined(lines)]}, how=XLSX, said=FLOOR, looks=[floor(names, lines)])


@sheet("live and dead stems counted in two columns")
def _live_and_dead(seed):
    names, stems = cruise(seed, empty=0)
    chance = random.Random(seed)
    counts = [(chance.randint(1, 3), chance.randint(0, 2)) for _ in stems]
    rows = [[s.point, LETTERS[s.species], s.dbh_in, *pair] for s, pair in zip(stems, counts, strict=True)]
    live = [Stem(**{**vars(s), "stems": pair[0]}) for s, pair in zip(stems, counts, strict=True)]
    dead = [Stem(**{**vars(s), "stems": pair[1], "dead": True}) for s, pair in zip(stems, counts, strict=True) if pair[1]]
    look = Look(points=names, stems=[*live, *dead], size=TENTH)
    return Case(sheets={"c": [("Plot", "Sp", "DBH (in)", "Live", "Dead"), *rows]}, said=PLOTS, looks=[look], guarded=True)


@sheet("stems an acre instead of a count")
def _an_acre(seed):
    _names, lines = young_count(seed, empty=0, classes=("1-3",))
    rows = [[*row[:3], row[3] * 1000] for row in lined(lines)]
    return Case(sheets={"regen": [("Plot", "Species", "Ht class", "Stems/ac"), *rows]}, said=FLOOR, stopped=True)


@sheet("trees an acre instead of a count")
def _trees_an_acre(seed):
    _names, stems = cruise(seed, empty=0)
    rows = [[s.point, LETTERS[s.species], s.dbh_in, 10] for s in stems]
    return Case(sheets={"c": [("Plot", "Sp", "DBH (in)", "Trees/ac"), *rows]}, how=XLSX, said=PLOTS, stopped=True)


@sheet("young stems without a count")
def _uncounted(seed):
    _names, lines = young_count(seed, empty=0, classes=("1-3",))
    rows = [[*row[:3], 10 + number] for number, row in enumerate(lined(lines))]
    return Case(sheets={"regen": [("Plot", "Species", "Ht class", "Cover %"), *rows]}, said=FLOOR, stopped=True)


@sheet("two columns of counts that are two sizes")
def _two_sizes(seed):
    _names, lines = young_count(seed, empty=0, classes=("1-3",))
    rows = [[row[0], row[1], row[3], number % 3] for number, row in enumerate(lined(lines))]
    return Case(sheets={"regen": [("Plot", "Species", "Seedlings", "Saplings"), *rows]}, how=XLSX, said=FLOOR, stopped=True)


@sheet("centimeters under a heading of inches")
def _wrong_heading(seed):
    _names, stems = cruise(seed, empty=0, low=14, high=30)
    rows = [[s.point, LETTERS[s.species], round(s.dbh_in * 2.54, 1)] for s in stems]
    return Case(sheets={"c": [("Plot", "Sp", "DBH (in)"), *rows]}, said=PRISM, doubts=(r"cm|centimeter|[Dd]iameter|large",))


@sheet("a plot that was skipped, by its remark")
def _skipped(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[*row, ""] for row in numbered(stems)] + [["99", "", "", "", "skipped, posted land"]]
    return Case(sheets={"c": [(*HEAD, "Remarks"), *rows]}, said=PRISM, looks=[Look(points=names, stems=stems)], guarded=True)


@sheet("a point whose only tree cannot be read")
def _lost_point(seed):
    names, stems = cruise(seed, empty=0)
    rows = [*numbered(stems), ["99", 1, "WO", "l8"]]
    return Case(sheets={"c": [HEAD, *rows]}, said=PRISM, looks=[Look(points=names, stems=stems)], refused=(len(rows) + 1,))


@sheet("a snag in the column of species")
def _standing_dead(seed):
    names, stems = cruise(seed, empty=0, species=(802, 316))
    rows = numbered(stems)
    rows[3][2] = "snag"
    marked = [Stem(**{**vars(s), "species": 999, "dead": True}) if number == 3 else s for number, s in enumerate(stems)]
    look = Look(points=names, stems=marked)
    return Case(sheets={"c": [HEAD, *rows]}, said=PRISM, looks=[look], guarded=True)


@sheet("a prism and a plot size both answered")
def _both_designs(seed):
    _names, stems = cruise(seed, empty=0)
    said = Said(settings={**PRISM.settings, "plot_area_ac": "0.1"})
    return Case(sheets={"c": [HEAD, *numbered(stems)]}, said=said, stopped=True)


@sheet("a count of trees at the foot, without a word for it")
def _foot(seed):
    names, stems = cruise(seed, empty=0)
    rows = [*numbered(stems), [f"n={len(stems)}", "", "", ""]]
    return Case(sheets={"c": [HEAD, *rows]}, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)], guarded=True)


@sheet("subplots of young stems")
def _subplots(seed):
    names, lines = young_count(seed, plots=8, empty=1)
    place = {name: (str(1 + (int(name) - 1) // 4), str(1 + (int(name) - 1) % 4)) for name in names}
    held = {one.point for one in lines}
    rows = [[*place[one.point], *row[1:]] for one, row in zip(lines, lined(lines), strict=True)]
    rows += [[*place[name], "none", "", ""] for name in names if name not in held]
    moved = [Young(**{**vars(one), "point": "-".join(place[one.point])}) for one in lines]
    look = floor(["-".join(place[name]) for name in names], moved)
    return Case(sheets={"regen": [("Plot", "Subplot", *WORDS[1:]), *rows]}, said=FLOOR, looks=[look], guarded=True)


@sheet("subplots of trees")
def _tree_subplots(seed):
    names, stems = cruise(seed, points=8, empty=0)
    place = {name: (str(1 + (int(name) - 1) // 4), "NESW"[(int(name) - 1) % 4]) for name in names}
    rows = [[*place[s.point], LETTERS[s.species], s.dbh_in] for s in stems]
    moved = [Stem(**{**vars(s), "point": "-".join(place[s.point])}) for s in stems]
    look = Look(points=["-".join(place[name]) for name in names], stems=moved, size=TENTH)
    said = Said(settings=PLOTS.settings | {"plot_parts": "each"})
    sheets = {"c": [("Plot", "Quadrant", "Sp", "DBH (in)"), *rows]}
    return Case(sheets=sheets, how=XLSX, said=said, looks=[look], asked=("plot_parts",))


@sheet("bare numbers as headings of height classes")
def _bare_classes(seed):
    _names, lines = young_count(seed, empty=0, species=(802,), classes=("0.5-1", "1-3", "3-4.5"))
    rows = [
        [one.point, NAMES[one.species], *(one.stems if one.height_class == tall else "" for tall in ("0.5-1", "1-3", "3-4.5"))]
        for one in lines
    ]
    return Case(sheets={"regen": [("Plot", "Species", "0.5", "1", "3"), *rows]}, how=XLSX, said=FLOOR, stopped=True)


@sheet("counts of two years side by side")
def _years(seed):
    _names, lines = young_count(seed, empty=0, classes=("1-3",))
    rows = [[*row, row[3] + 2] for row in lined(lines)]
    return Case(sheets={"regen": [(*WORDS[:3], "2023", "2025"), *rows]}, said=FLOOR, stopped=True)
