"""Sheets as agencies keep them: young stems in height classes, metric plots, open codes, check marks, acorns."""

from __future__ import annotations

import dataclasses
import datetime as dt
import random

from corpus.case import DESIGN, FLOOR, PLACE, PRISM, Case, Said, sheet
from corpus.sheets import CSV, ODS, XLSX, Written
from corpus.truth import AC_PER_M2, FT_PER_M, IN_PER_CM, LATIN, LETTERS, NAMES, SYMBOLS, Look, Size, Stem, Young, cruise, young_count

FLOOR_DAY = dt.date(2025, 8, 20)
MIL_ACRE = Size(plot_area_ac=0.001)
QUOTED = {"<0.5": "<6in", "0.5-1": "6-12in", "1-3": "1-3'", "3-4.5": "3-4.5'", "4.5-10": "4.5'-10'", "10+": "10'+"}
WORDS = ("Plot", "Species", "Ht class", "Count")


def floor(names, lines, **more):
    return Look(on=FLOOR_DAY, kind="reproduction", points=names, young=lines, size=MIL_ACRE, **more)


def lined(lines, written=lambda tall: tall, species=NAMES):
    return [[one.point, species[one.species], written(one.height_class), one.stems] for one in lines]


def nothing(names, lines, word):
    held = {one.point for one in lines}
    return [[name, word, "", ""] for name in names if name not in held]


@sheet("young stems, one line a class")
def _lines(seed):
    names, lines = young_count(seed, empty=0)
    sheets = {"regen": [WORDS, *lined(lines)]}
    return Case(sheets=sheets, said=FLOOR, looks=[floor(names, lines)], asked=("stand", "visited_on", "plot_area_ac"))


@sheet("height classes with foot and inch marks")
def _quoted(seed):
    names, lines = young_count(seed, empty=0)
    return Case(sheets={"regen": [WORDS, *lined(lines, QUOTED.get)]}, how=XLSX, said=FLOOR, looks=[floor(names, lines)])


@sheet("height classes with ft. and words")
def _feet(seed):
    words = {
        "<0.5": "under 6 in.",
        "0.5-1": "6 in. - 1 ft.",
        "1-3": "1 - 3 ft",
        "3-4.5": "3 to 4.5 ft",
        "4.5-10": "4.5-10 ft",
        "10+": ">10 ft",
    }
    names, lines = young_count(seed, empty=0)
    return Case(sheets={"regen": [WORDS, *lined(lines, words.get)]}, how=ODS, said=FLOOR, looks=[floor(names, lines)])


@sheet("height classes in centimeters that fit no single class")
def _cm_classes(seed):
    names, lines = young_count(seed, empty=0, classes=("1-3", "3-4.5"))
    rows = lined(lines, {"1-3": "30-90 cm", "3-4.5": "90-140 cm"}.get)
    return Case(sheets={"regen": [WORDS, *rows]}, asked=("30-90 cm",), said=FLOOR, looks=[floor(names, lines)], guarded=True)


@sheet("a class that spans two of ours")
def _spanning(seed):
    _names, lines = young_count(seed, empty=0, classes=("0.5-1", "1-3"))
    rows = lined(lines, {"0.5-1": "<1 ft", "1-3": "1-3 ft"}.get)
    return Case(sheets={"regen": [WORDS, *rows]}, asked=("<1 ft",), guarded=True)


@sheet("rows that say none, no regen, a dash or nothing")
def _none(seed):
    names, lines = young_count(seed, plots=14, empty=5)
    bare = [name for name in names if name not in {one.point for one in lines}]
    words = ("none", "no regen", "-", "", "No tally")
    rows = [*lined(lines), *([name, word, "", ""] for name, word in zip(bare, words, strict=True))]
    return Case(sheets={"regen": [WORDS, *rows]}, said=FLOOR, looks=[floor(names, lines)])


@sheet("a plot with a species, a class and a count of 0")
def _zero(seed):
    names, lines = young_count(seed, empty=2)
    bare = [name for name in names if name not in {one.point for one in lines}]
    rows = [*lined(lines), *([name, "none", "", 0] for name in bare)]
    return Case(sheets={"regen": [WORDS, *rows]}, how=XLSX, said=FLOOR, looks=[floor(names, lines)])


def wide(lines, columns, of):
    """One row a plot and species, one column a class."""
    keys = list(dict.fromkeys((one.point, one.species) for one in lines))
    held = {(one.point, one.species, of(one)): one.stems for one in lines}
    return [[point, NAMES[code], *(held.get((point, code, column), "") for column in columns)] for point, code in keys]


@sheet("a column for each height class")
def _wide(seed):
    names, lines = young_count(seed, empty=2)
    columns = list(QUOTED)
    rows = [*wide(lines, columns, lambda one: one.height_class), *([n, "none"] for n in names if n not in {one.point for one in lines})]
    head = ("Plot", "Species", "<6 in", "6-12 in", "1-3 ft", "3-4.5 ft", "4.5-10 ft", "10+ ft")
    return Case(sheets={"regen": [head, *rows]}, how=XLSX, said=FLOOR, looks=[floor(names, lines)])


@sheet("a column for each height class, zeros written")
def _zeros(seed):
    names, lines = young_count(seed, empty=0, classes=("1-3", "3-4.5"))
    keys = list(dict.fromkeys((one.point, one.species) for one in lines))
    held = {(one.point, one.species, one.height_class): one.stems for one in lines}
    rows = [[point, NAMES[code], held.get((point, code, "1-3"), 0), held.get((point, code, "3-4.5"), 0)] for point, code in keys]
    return Case(sheets={"regen": [("Plot", "Species", "1-3 ft", "3-4.5 ft"), *rows]}, said=FLOOR, looks=[floor(names, lines)])


@sheet("a column for each species of young stems")
def _species(seed):
    names, lines = young_count(seed, empty=0, species=(802, 837, 316))
    keys = list(dict.fromkeys((one.point, one.height_class) for one in lines))
    held = {(one.point, one.height_class, one.species): one.stems for one in lines}
    rows = [[point, tall, *(held.get((point, tall, code), "") for code in (802, 837, 316))] for point, tall in keys]
    head = ("Plot", "Height class", "White oak", "Black oak", "Red maple")
    return Case(sheets={"regen": [head, *rows]}, said=FLOOR, looks=[floor(names, lines)])


@sheet("a total column beside the height classes")
def _total_column(seed):
    names, lines = young_count(seed, empty=0, classes=("1-3", "3-4.5"))
    rows = [[*row, sum(cell for cell in row[2:] if cell != "")] for row in wide(lines, ("1-3", "3-4.5"), lambda one: one.height_class)]
    rows.append(["Total", "", sum(r[2] or 0 for r in rows), sum(r[3] or 0 for r in rows), sum(r[4] for r in rows)])
    sheets = {"regen": [("Plot", "Species", "1-3 ft", "3-4.5 ft", "Total"), *rows]}
    return Case(sheets=sheets, how=XLSX, said=FLOOR, looks=[floor(names, lines)])


def _measured(seed):
    chance = random.Random(seed)
    names = [str(number) for number in range(1, 9)]
    return names, [
        Young(point=name, species=chance.choice((802, 316)), height_ft=round(chance.uniform(0.5, 9), 1), stems=1)
        for name in names
        for _ in range(chance.randint(1, 4))
    ]


@sheet("heights of young stems in centimeters")
def _height_cm(seed):
    names, lines = _measured(seed)
    rows = [[one.point, NAMES[one.species], round(one.height_ft / FT_PER_M * 100, 1), 1] for one in lines]
    return Case(sheets={"regen": [("Plot", "Species", "Height (cm)", "Count"), *rows]}, said=FLOOR, looks=[floor(names, lines)])


@sheet("heights of young stems without a unit")
def _height_bare(seed):
    names, lines = _measured(seed)
    rows = [[one.point, NAMES[one.species], round(one.height_ft / FT_PER_M, 3), 1] for one in lines]
    said = Said(settings=FLOOR.settings, units={"height_ft": "m"})
    sheets = {"regen": [("Plot", "Species", "Height", "Count"), *rows]}
    return Case(sheets=sheets, how=XLSX, said=said, asked=("height_ft",), looks=[floor(names, lines)])


@sheet("heights in feet and inches")
def _feet_inches(seed):
    names, lines = _measured(seed)
    half = [Young(**{**vars(one), "height_ft": int(one.height_ft) + 0.5}) for one in lines]
    rows = [[one.point, NAMES[one.species], f"{int(one.height_ft)}'6\"", 1] for one in half]
    return Case(sheets={"regen": [("Plot", "Species", "Height", "Count"), *rows]}, said=FLOOR, looks=[floor(names, half)], guarded=True)


@sheet("counts that are a guess")
def _guess(seed):
    names, lines = young_count(seed, empty=0)
    rows = lined(lines)
    rows[2][3], rows[5][3] = "12+", "lots"
    good = [one for number, one in enumerate(lines) if number not in (2, 5)]
    held = {one.point for one in good}
    points = [name for name in names if name in held or name in (lines[2].point, lines[5].point)]
    return Case(sheets={"regen": [WORDS, *rows]}, said=FLOOR, looks=[floor(points, good)], refused=(4, 7))


@sheet("plots inside a fence")
def _fenced(seed):
    names, lines = young_count(seed, empty=0)
    inside = frozenset(name for name in names if int(name) > 8)
    rows = [[*row, "Y" if row[0] in inside else "N"] for row in lined(lines)]
    sheets = {"regen": [(*WORDS, "Fenced"), *rows]}
    return Case(sheets=sheets, said=FLOOR, looks=[floor(names, lines, fenced=inside)])


@sheet("plots of young stems listed apart")
def _apart(seed):
    names, lines = young_count(seed, empty=4)
    sheets = {"Plots": [("Plot", "Slope"), *([name, 10 + int(name)] for name in names)], "Tally": [WORDS, *lined(lines)]}
    said = Said(settings={**FLOOR.settings, "Plots.slope": "corrected"})
    return Case(sheets=sheets, how=ODS, said=said, asked=("Plots.slope",), looks=[floor(names, lines)])


@sheet("young stems of two stands under their names")
def _two_stands(seed):
    one, first = young_count(seed, plots=6, empty=1)
    two, second = young_count(seed + 500, plots=6, empty=1)
    rows = [["K1", *row] for row in [*lined(first), *nothing(one, first, "none")]]
    rows += [["K2", *row] for row in [*lined(second), *nothing(two, second, "none")]]
    said = Said(settings={"visited_on": "2025-08-20", "plot_area_ac": "0.001"})
    looks = [floor(one, first), floor(two, second, stand="K2")]
    return Case(sheets={"regen": [("Stand", *WORDS), *rows]}, said=said, looks=looks)


def _diameters(seed, name, scale, digits, head, how=CSV, said=None, **more):
    names, stems = cruise(seed, empty=0)
    rows = [[stem.point, LETTERS[stem.species], round(stem.dbh_in * scale, digits)] for stem in stems]
    return Case(sheets={"c": [("Plot", "Sp", head), *rows]}, how=how, said=said or PRISM, looks=[Look(points=names, stems=stems)], **more)


@sheet("diameters in centimeters, said in the heading")
def _cm(seed):
    return _diameters(seed, "cm", 1 / IN_PER_CM, 2, "DBH (cm)")


@sheet("diameters in millimeters, said in the heading")
def _mm(seed):
    return _diameters(seed, "mm", 10 / IN_PER_CM, 0, "DBH_mm", XLSX)


@sheet("diameters in centimeters without a word")
def _bare_cm(seed):
    said = Said(settings=PRISM.settings, units={"dbh_in": "cm"})
    return _diameters(seed, "cm", 1 / IN_PER_CM, 2, "DBH", said=said, asked=("dbh_in",))


@sheet("diameters in millimeters without a word")
def _bare_mm(seed):
    said = Said(settings=PRISM.settings, units={"dbh_in": "mm"})
    return _diameters(seed, "mm", 10 / IN_PER_CM, 0, "Diameter", ODS, said=said, asked=("dbh_in",))


@sheet("diameters in inches without a word")
def _bare_in(seed):
    said = Said(settings=PRISM.settings, units={"dbh_in": "in"})
    return _diameters(seed, "in", 1, 1, "DBH", said=said, asked=("dbh_in",))


@sheet("the unit in a title row")
def _unit_in_title(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[stem.point, LETTERS[stem.species], round(stem.dbh_in / IN_PER_CM, 2)] for stem in stems]
    sheets = {"c": [["All diameters in cm"], [], ("Plot", "Sp", "DBH"), *rows]}
    said = Said(settings=PRISM.settings, units={"dbh_in": "cm"})
    return Case(sheets=sheets, how=XLSX, said=said, looks=[Look(points=names, stems=stems)])


@sheet("heights in meters beside diameters in inches")
def _heights(seed):
    names, stems = cruise(seed, empty=0)
    tall = [Stem(**{**vars(stem), "height_ft": 70.0 + int(stem.dbh_in)}) for stem in stems]
    rows = [[s.point, LETTERS[s.species], s.dbh_in, round(s.height_ft / FT_PER_M, 3)] for s in tall]
    sheets = {"c": [("Plot", "Sp", "DBH (in)", "Tot Ht (m)"), *rows]}
    return Case(sheets=sheets, how=XLSX, said=PRISM, looks=[Look(points=names, stems=tall)])


@sheet("heights without a unit")
def _bare_heights(seed):
    names, stems = cruise(seed, empty=0)
    tall = [Stem(**{**vars(stem), "height_ft": 70.0 + int(stem.dbh_in)}) for stem in stems]
    rows = [[s.point, LETTERS[s.species], s.dbh_in, round(s.height_ft / FT_PER_M, 3)] for s in tall]
    said = Said(settings=PRISM.settings, units={"height_ft": "m"})
    return Case(
        sheets={"c": [("Plot", "Sp", "DBH (in)", "Ht"), *rows]}, said=said, asked=("height_ft",), looks=[Look(points=names, stems=tall)]
    )


@sheet("semicolons and decimal commas")
def _commas(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[s.point, NAMES[s.species], f"{s.dbh_in / IN_PER_CM:.2f}".replace(".", ",")] for s in stems]
    how = Written("csv", delimiter=";")
    return Case(sheets={"c": [("Plot", "Species", "DBH (cm)"), *rows]}, how=how, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("tabs")
def _tabs(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[s.point, NAMES[s.species], s.dbh_in] for s in stems]
    how = Written("txt", delimiter="\t")
    return Case(sheets={"c": [("Plot", "Species", "DBH (in)"), *rows]}, how=how, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("UTF-16 with tabs")
def _utf16(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[s.point, NAMES[s.species], s.dbh_in] for s in stems]
    how = Written("txt", delimiter="\t", encoding="utf-16")
    return Case(sheets={"c": [("Plot", "Species", "DBH (in)"), *rows]}, how=how, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("letters of western Europe in the remarks")
def _latin(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[s.point, NAMES[s.species], s.dbh_in, "Stück, 12°" if s.dbh_in > 20 else ""] for s in stems]
    how = Written("csv", encoding="cp1252")
    sheets = {"c": [("Plot", "Species", "DBH (in)", "Remarks"), *rows]}
    return Case(sheets=sheets, how=how, said=PRISM, looks=[Look(points=names, stems=stems)])


def _named(seed, words, **more):
    names, stems = cruise(seed, empty=0, species=tuple(words))
    rows = [[s.point, words[s.species], s.dbh_in] for s in stems]
    return Case(sheets={"c": [("Plot", "Species", "DBH (in)"), *rows]}, said=PRISM, looks=[Look(points=names, stems=stems)], **more)


@sheet("PLANTS symbols")
def _symbols(seed):
    return _named(seed, SYMBOLS)


@sheet("PLANTS symbols without the digit")
def _bare_symbols(seed):
    return _named(seed, {403: "CAGL", 541: "FRAM", 931: "SAAL", 802: "QUAL", 316: "ACRU"}, how=XLSX)


@sheet("numbers of the national list")
def _numbers(seed):
    return _named(seed, {code: code for code in (802, 837, 316, 621)}, how=XLSX)


@sheet("scientific names")
def _scientific(seed):
    return _named(seed, LATIN, how=ODS)


@sheet("names in other cases and spacing")
def _cases(seed):
    return _named(seed, {802: "WHITE OAK", 837: "Black  Oak", 621: "Yellow Poplar", 316: " red maple ", 693: "Black gum"})


@sheet("misspelt names")
def _misspelt(seed):
    words = {802: "whit oak", 832: "chesnut oak", 621: "yelow poplar", 316: "red maple"}
    case = _named(seed, words, asked=("whit oak", "chesnut oak", "yelow poplar"))
    said = Said(settings=PRISM.settings, codes={"whit oak": "802", "chesnut oak": "832", "yelow poplar": "621"})
    return Case(**{**vars(case), "said": said})


@sheet("letters that can mean two species")
def _ambiguous(seed):
    words = {833: "RO", 802: "WO", 316: "RM"}
    case = _named(seed, words, asked=("RO",))
    return Case(**{**vars(case), "said": Said(settings=PRISM.settings, codes={"RO": "833"})})


@sheet("letters that nobody knows")
def _unknown(seed):
    words = {999: "XQZ", 802: "WO", 316: "RM"}
    one = _named(seed, words)
    return dataclasses.replace(one, unknown=("XQZ",), said=dataclasses.replace(one.said, codes={"XQZ": "999"}), asked=("XQZ",))


def _dated(seed, written, stored, how=CSV, **more):
    names, stems = cruise(seed, empty=0)
    rows = [["K1", written, s.point, LETTERS[s.species], s.dbh_in] for s in stems]
    sheets = {"c": [("Stand", "Date", "Plot", "Sp", "DBH (in)"), *rows]}
    said = more.pop("said", Said(settings=DESIGN))
    return Case(sheets=sheets, how=how, said=said, looks=[Look(on=stored, points=names, stems=stems)], **more)


@sheet("a day that can be read both ways, month first")
def _month_first(seed):
    said = Said(settings={**DESIGN, "day_order": "month"})
    return _dated(seed, "05/06/2025", dt.date(2025, 5, 6), said=said, asked=("day_order",))


@sheet("a day that can be read both ways, day first")
def _day_first(seed):
    said = Said(settings={**DESIGN, "day_order": "day"})
    return _dated(seed, "05/06/2025", dt.date(2025, 6, 5), said=said, asked=("day_order",))


@sheet("a day of the month over 12")
def _clear_day(seed):
    return _dated(seed, "25/06/2025", dt.date(2025, 6, 25))


@sheet("a day in words")
def _day_words(seed):
    return _dated(seed, "14 May 2025", dt.date(2025, 5, 14))


@sheet("a day with two digits of the year")
def _short_year(seed):
    return _dated(seed, "5/14/25", dt.date(2025, 5, 14), guarded=True)


@sheet("real dates in a workbook")
def _real(seed):
    return _dated(seed, dt.date(2025, 5, 6), dt.date(2025, 5, 6), how=XLSX)


@sheet("a plot size of 4 and no unit")
def _four(seed):
    _names, stems = cruise(seed, empty=0)
    rows = [[s.point, LETTERS[s.species], s.dbh_in, 4] for s in stems]
    sheets = {"c": [("Plot", "Sp", "DBH (in)", "Plot size"), *rows]}
    return Case(sheets=sheets, said=Said(settings=PLACE), asked=("plot_area_ac",), guarded=True)


@sheet("plots of 400 square meters")
def _square_meters(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[s.point, LETTERS[s.species], round(s.dbh_in / IN_PER_CM, 2), 400] for s in stems]
    sheets = {"c": [("Plot", "Sp", "DBH (cm)", "Plot area (m2)"), *rows]}
    look = Look(points=names, stems=stems, size=Size(plot_area_ac=400 * AC_PER_M2))
    return Case(sheets=sheets, how=XLSX, said=Said(settings=PLACE), looks=[look])


@sheet("an answer in square meters")
def _metric_answer(seed):
    names, lines = young_count(seed, empty=0)
    said = Said(settings={**FLOOR.settings, "plot_area_ac": "4 m2"})
    look = Look(on=FLOOR_DAY, kind="reproduction", points=names, young=lines, size=Size(plot_area_ac=4 * AC_PER_M2))
    return Case(sheets={"regen": [WORDS, *lined(lines)]}, said=said, looks=[look])


@sheet("a count factor in square meters a hectare")
def _metric_factor(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[s.point, NAMES[s.species], round(s.dbh_in / IN_PER_CM, 2), 2] for s in stems]
    sheets = {"c": [("Plot", "Species", "DBH (cm)", "BAF (m2/ha)"), *rows]}
    # 1 m2/ha = 10.7639104167 ft2 / 2.4710538147 ac, exact by definition of the foot.
    look = Look(points=names, stems=stems, size=Size(baf_ft2_ac=2 * (1 / 0.3048**2) * (4046.8564224 / 10000)))
    return Case(sheets=sheets, said=Said(settings=PLACE), looks=[look], guarded=True)


@sheet("acorns yes and no")
def _acorns(seed):
    chance = random.Random(seed)
    trees = {str(number): chance.random() < 0.5 for number in range(1, 31)}
    rows = [[tag, "WO" if int(tag) % 2 else "BO", 18 + int(tag) % 5, "Y" if bears else "N"] for tag, bears in trees.items()]
    sheets = {"acorns": [("Tree", "Species", "DBH (in)", "Acorns?"), *rows]}
    said = Said(settings={"stand": "K1", "visited_on": "2025-09-10"})
    return Case(sheets=sheets, said=said, bearing=trees, figures=False)


@sheet("acorns few, some and many")
def _few(seed):
    chance = random.Random(seed)
    rows = [[number, "WO", 18, chance.choice(("few", "some", "many", "none"))] for number in range(1, 21)]
    sheets = {"acorns": [("Tree", "Species", "DBH (in)", "Acorns"), *rows]}
    said = Said(settings={"stand": "K1", "visited_on": "2025-09-10"})
    return Case(sheets=sheets, how=XLSX, said=said, asked=("few", "some", "many"), guarded=True, figures=False)
