"""Cruises as consultants send them: prisms and plots in inches, own letters, title rows, totals, marks."""

from __future__ import annotations

import datetime as dt
import random

from corpus.case import DESIGN, PLACE, PLOTS, PRISM, Case, Said, sheet
from corpus.sheets import CSV, ODS, XLSX, Written
from corpus.truth import LETTERS, NAMES, Look, Size, Stem, cruise

HEAD = ("Pt", "Tree", "Sp", "DBH (in)")


def numbered(stems, last=lambda stem: ()):
    """Lines of point, tree number, letters and diameter."""
    rows, number, at = [], 0, ""
    for stem in stems:
        number = number + 1 if stem.point == at else 1
        at = stem.point
        rows.append([stem.point, number, LETTERS[stem.species], stem.dbh_in, *last(stem)])
    return rows


def with_empty(names, stems, rows):
    """The lines, and for a point that held nothing a line of its own."""
    held = {stem.point for stem in stems}
    return [*rows, *([name, "", "none", ""] for name in names if name not in held)]


def plain(seed, **more):
    names, stems = cruise(seed, **more)
    return names, stems, with_empty(names, stems, numbered(stems))


@sheet("prism cruise, plain")
def _plain(seed):
    names, stems, rows = plain(seed)
    return Case(
        sheets={"cruise": [HEAD, *rows]}, said=PRISM, asked=("stand", "visited_on", "baf_ft2_ac"), looks=[Look(points=names, stems=stems)]
    )


@sheet("prism cruise, stand and day in columns, workbook")
def _columns(seed):
    names, stems, rows = plain(seed)
    full = [["K2", dt.date(2025, 6, 20), *row] for row in rows]
    look = Look(stand="K2", on=dt.date(2025, 6, 20), points=names, stems=stems)
    sheets = {"Sheet1": [("Stand", "Date", *HEAD), *full]}
    return Case(sheets=sheets, how=XLSX, said=Said(settings=DESIGN), asked=("baf_ft2_ac",), looks=[look])


@sheet("title rows and merged headings")
def _titles(seed):
    names, stems, rows = plain(seed)
    top = [["Spring cruise of the upper forty"], [], ["typed by the office, 10 factor prism"], []]
    how = Written("xlsx", merged={"Cruise": ("A1:D1", "A3:D3")})
    return Case(sheets={"Cruise": [*top, HEAD, *rows]}, how=how, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("headings in two rows, the unit below")
def _two_rows(seed):
    names, stems, rows = plain(seed)
    head = [("Plot", "Tree", "Species", "Diameter"), ("No.", "No.", "", "(in)")]
    return Case(sheets={"Cruise": [*head, *rows]}, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("blanks that mean the same as above")
def _blanks(seed):
    names, stems = cruise(seed, empty=0)
    rows, at = [], ""
    for number, stem in enumerate(stems):
        head = ["K3", dt.date(2025, 5, 14)] if number == 0 else ["", ""]
        rows.append([*head, stem.point if stem.point != at else "", LETTERS[stem.species], stem.dbh_in])
        at = stem.point
    sheets = {"tally": [("Stand", "Date", "Pt", "Sp", "DBH (in)"), *rows]}
    return Case(sheets=sheets, how=ODS, said=Said(settings=DESIGN), looks=[Look(stand="K3", points=names, stems=stems)])


def _dittoed(stems, mark):
    rows, before = [], None
    for stem in stems:
        point = mark if before and before.point == stem.point else stem.point
        word = mark if before and before.point == stem.point and before.species == stem.species else LETTERS[stem.species]
        rows.append([point, word, stem.dbh_in])
        before = stem
    return rows


@sheet("ditto marks")
def _ditto(seed):
    names, stems = cruise(seed, empty=0, species=(802, 837))
    return Case(
        sheets={"c": [("Point", "Species", "DBH (in)"), *_dittoed(stems, '"')]}, said=PRISM, looks=[Look(points=names, stems=stems)]
    )


@sheet("ditto as do.")
def _do(seed):
    names, stems = cruise(seed, empty=0, species=(802, 316))
    sheets = {"c": [("Point", "Species", "DBH (in)"), *_dittoed(stems, "do.")]}
    return Case(sheets=sheets, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("total, average and checked-by rows")
def _totals(seed):
    names, stems, rows = plain(seed)
    feet = [["Total trees", "", "", len(stems)], ["Average DBH", "", "", 15.2], ["Checked by J. on Monday", "", "", ""]]
    return Case(sheets={"c": [HEAD, *rows, [], *feet]}, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("subtotals after each point")
def _subtotals(seed):
    names, stems = cruise(seed, empty=0)
    rows = []
    for name in names:
        rows += numbered([stem for stem in stems if stem.point == name])
        here = [stem.dbh_in for stem in stems if stem.point == name]
        rows.append(["Subtotal", len(here), "", round(sum(here), 1)])
    sheets = {"c": [HEAD, *rows, ["Grand Total", len(stems), "", ""]]}
    return Case(sheets=sheets, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("headings again in mid-sheet")
def _again(seed):
    names, stems, rows = plain(seed)
    half = len(rows) // 2
    return Case(sheets={"c": [HEAD, *rows[:half], [], HEAD, *rows[half:]]}, said=PRISM, looks=[Look(points=names, stems=stems)])


CROWNS = {"D": "dominant", "C": "codominant", "I": "intermediate", "S": "overtopped"}


@sheet("crown letters D C I S")
def _crowns(seed):
    names, stems = cruise(seed, empty=0)
    chance = random.Random(seed)
    letters = [chance.choice("DCIS") for _ in stems]
    crowned = [Stem(**{**vars(stem), "crown": CROWNS[letter]}) for stem, letter in zip(stems, letters, strict=True)]
    rows = [[*row, letter] for row, letter in zip(numbered(stems), letters, strict=True)]
    return Case(sheets={"c": [(*HEAD, "Crown Cl"), *rows]}, said=PRISM, looks=[Look(points=names, stems=crowned)])


def _some_dead(seed):
    names, stems = cruise(seed, empty=0)
    chance = random.Random(seed)
    return names, [Stem(**{**vars(stem), "dead": chance.random() < 0.2}) for stem in stems]


@sheet("dead by a mark")
def _dead(seed):
    names, stems = _some_dead(seed)
    rows = numbered(stems, lambda stem: ["x" if stem.dead else ""])
    return Case(sheets={"c": [(*HEAD, "Dead"), *rows]}, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("live and dead by letters")
def _letters(seed):
    names, stems = _some_dead(seed)
    rows = numbered(stems, lambda stem: ["D" if stem.dead else "L"])
    return Case(sheets={"c": [(*HEAD, "Live/Dead"), *rows]}, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("dead and cull among the remarks column of marks")
def _snags(seed):
    names, stems = _some_dead(seed)
    rows = numbered(stems, lambda stem: ["dead" if stem.dead else "live"])
    return Case(sheets={"c": [(*HEAD, "Condition"), *rows]}, how=ODS, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("stems counted per line")
def _counted(seed):
    names, stems = cruise(seed, empty=0)
    chance = random.Random(seed)
    many = [Stem(**{**vars(stem), "stems": chance.randint(1, 4)}) for stem in stems]
    rows = [[stem.point, LETTERS[stem.species], stem.dbh_in, stem.stems] for stem in many]
    sheets = {"c": [("Plot", "Sp", "DBH (in)", "Count"), *rows]}
    return Case(sheets=sheets, said=PLOTS, looks=[Look(points=names, stems=many, size=Size(plot_area_ac=0.1))])


def _classed(seed, species=(802, 837, 316)):
    """A tally by two-inch classes: a stem stands at the middle of its class."""
    chance = random.Random(seed)
    names = [str(number) for number in range(1, 9)]
    stems = [
        Stem(point=name, species=code, dbh_in=float(size), stems=chance.randint(1, 5))
        for name in names
        for code in species
        for size in (8, 10, 12, 14, 16)
        if chance.random() < 0.5
    ]
    return [name for name in names if any(stem.point == name for stem in stems)], stems


def _crossed(stems, rows_of, column_of, columns):
    """Counts with one row for each of ``rows_of`` and one column for each of ``columns``."""
    keys = list(dict.fromkeys(rows_of(stem) for stem in stems))
    held = {(rows_of(stem), column_of(stem)): stem.stems for stem in stems}
    return [[*key, *(held.get((key, column), "") for column in columns)] for key in keys]


@sheet("a column for each inch class")
def _sizes(seed):
    names, stems = _classed(seed)
    sizes = (8.0, 10.0, 12.0, 14.0, 16.0)
    body = _crossed(stems, lambda s: (s.point, LETTERS[s.species]), lambda s: s.dbh_in, sizes)
    head = ("Plot", "Species", '8"', '10"', '12"', '14"', '16"')
    return Case(sheets={"c": [head, *body]}, how=XLSX, said=PLOTS, looks=[Look(points=names, stems=stems, size=Size(plot_area_ac=0.1))])


@sheet("a column for each inch class, bare numbers as headings")
def _bare_sizes(seed):
    names, stems = _classed(seed)
    sizes = (8.0, 10.0, 12.0, 14.0, 16.0)
    body = _crossed(stems, lambda s: (s.point, LETTERS[s.species]), lambda s: s.dbh_in, sizes)
    sheets = {"DBH class (in)": [("Plot", "Species", 8, 10, 12, 14, 16), *body]}
    return Case(sheets=sheets, how=XLSX, said=PLOTS, looks=[Look(points=names, stems=stems, size=Size(plot_area_ac=0.1))])


@sheet("a column for each species")
def _by_species(seed):
    names, stems = _classed(seed)
    body = _crossed(stems, lambda s: (s.point, s.dbh_in), lambda s: s.species, (802, 837, 316))
    head = ("Plot", "DBH class (in)", "White oak", "Black oak", "Red maple")
    return Case(sheets={"c": [head, *body]}, said=PLOTS, looks=[Look(points=names, stems=stems, size=Size(plot_area_ac=0.1))])


@sheet("tally strokes")
def _stroked(seed):
    names, stems = _classed(seed)
    few = [Stem(**{**vars(stem), "stems": min(stem.stems, 4)}) for stem in stems]
    rows = [[stem.point, LETTERS[stem.species], stem.dbh_in, "|" * stem.stems] for stem in few]
    sheets = {"c": [("Plot", "Sp", "DBH class (in)", "Tally"), *rows]}
    return Case(sheets=sheets, said=PLOTS, looks=[Look(points=names, stems=few, size=Size(plot_area_ac=0.1))])


@sheet("tally dots")
def _dotted(seed):
    names, stems = _classed(seed)
    dots = {1: ".", 2: ":", 3: ":.", 4: "::"}
    few = [Stem(**{**vars(stem), "stems": min(stem.stems, 4)}) for stem in stems]
    rows = [[stem.point, LETTERS[stem.species], stem.dbh_in, dots[stem.stems]] for stem in few]
    sheets = {"c": [("Plot", "Sp", "DBH class (in)", "Tally"), *rows]}
    return Case(sheets=sheets, how=XLSX, said=PLOTS, looks=[Look(points=names, stems=few, size=Size(plot_area_ac=0.1))])


@sheet("plots listed apart from the tally")
def _apart(seed):
    names, stems = cruise(seed, points=12, empty=3)
    plots = [[name, "ridge" if int(name) < 5 else "cove"] for name in names]
    sheets = {"Plots": [("Plot", "Remarks"), *plots], "Trees": [("Plot", *HEAD[1:]), *numbered(stems)]}
    return Case(sheets=sheets, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("a factor for each point")
def _factors(seed):
    names, stems = cruise(seed, empty=0)
    factor = {name: 10.0 if int(name) % 2 else 20.0 for name in names}
    rows = numbered(stems, lambda stem: [factor[stem.point]])
    look = Look(points=names, stems=stems, by_point={name: Size(baf_ft2_ac=found) for name, found in factor.items()})
    return Case(sheets={"c": [(*HEAD, "BAF"), *rows]}, said=Said(settings=PLACE), looks=[look])


@sheet("a plot size for each point")
def _areas(seed):
    names, stems = cruise(seed, empty=0)
    area = {name: 0.1 if int(name) % 3 else 0.05 for name in names}
    rows = numbered(stems, lambda stem: [area[stem.point]])
    look = Look(points=names, stems=stems, by_point={name: Size(plot_area_ac=found) for name, found in area.items()})
    return Case(sheets={"c": [(*HEAD, "Plot size (ac)"), *rows]}, how=XLSX, said=Said(settings=PLACE), looks=[look])


@sheet("the same factor on every line")
def _one_factor(seed):
    names, stems = cruise(seed, empty=0)
    rows = numbered(stems, lambda stem: [20])
    look = Look(points=names, stems=stems, size=Size(baf_ft2_ac=20.0))
    return Case(sheets={"c": [(*HEAD, "BAF"), *rows]}, said=Said(settings=PLACE), looks=[look])


def nested(seed):
    """A prism for the overstory and 1/50-acre plots for small trees, at the same points."""
    names, large = cruise(seed, empty=1, low=5)
    chance = random.Random(seed + 1)
    small = [
        Stem(point=name, species=chance.choice((316, 693, 802)), dbh_in=round(chance.uniform(1, 4.9), 1), layer="midstory")
        for name in names
        for _ in range(chance.randint(0, 3))
    ]
    look = Look(points=names, stems=[*large, *small], by_layer={"midstory": Size(plot_area_ac=0.02)})
    return names, large, small, look


@sheet("a nested cruise on two sheets, trees numbered from 1 on each")
def _nested(seed):
    names, large, small, look = nested(seed)
    big = with_empty(names, large, numbered(large))
    little = [*numbered(small), *([name, "", "none", ""] for name in names if name not in {stem.point for stem in small})]
    sheets = {"Cruise": [HEAD, *big], "Small trees": [HEAD, *little]}
    answers = {
        **PLACE, "Cruise.baf_ft2_ac": "10", "Cruise.low_dbh_in": "5", "Small trees.plot_area_ac": "0.02", "Small trees.layer": "midstory",
        "Small trees.low_dbh_in": "1", "Small trees.high_dbh_in": "5",
    }  # fmt: skip
    return Case(sheets=sheets, how=XLSX, said=Said(settings=answers), looks=[look], asked=("Small trees.baf_ft2_ac", "Cruise.baf_ft2_ac"))


@sheet("several stands in one sheet")
def _stands(seed):
    looks, rows = [], []
    for number, stand in enumerate(("K1", "K2", "K3")):
        names, stems = cruise(seed + number, points=5, empty=1)
        looks.append(Look(stand=stand, points=names, stems=stems))
        rows += [[stand, *row] for row in with_empty(names, stems, numbered(stems))]
    said = Said(settings={"visited_on": "2025-05-14", **DESIGN})
    return Case(sheets={"c": [("Stand", *HEAD), *rows]}, said=said, looks=looks)


@sheet("several stands, each under a row with its name")
def _stand_rows(seed):
    looks, rows = [], []
    for number, stand in enumerate(("K1", "K2")):
        names, stems = cruise(seed + number, points=5, empty=0)
        looks.append(Look(stand=stand, points=names, stems=stems))
        rows += [[f"Stand: {stand}", "", "", ""], *numbered(stems)]
    said = Said(settings={"visited_on": "2025-05-14", **DESIGN})
    return Case(sheets={"c": [HEAD, *rows]}, how=XLSX, said=said, looks=looks, guarded=True)


@sheet("a cruise over three days")
def _days(seed):
    names, stems = cruise(seed, points=12, empty=0)
    day = {name: dt.date(2025, 5, 12 + int(name) // 5) for name in names}
    rows = [["K1", day[row[0]], *row] for row in numbered(stems)]
    look = Look(on=dt.date(2025, 5, 12), points=names, stems=stems)
    return Case(sheets={"c": [("Stand", "Date", *HEAD), *rows]}, how=XLSX, said=Said(settings=DESIGN), looks=[look])


@sheet("a check cruise on a second sheet")
def _check(seed):
    names, stems = cruise(seed, points=10, empty=0)
    again = [Stem(**{**vars(stem), "dbh_in": round(stem.dbh_in + 0.2, 1)}) for stem in stems if stem.point in ("3", "7")]
    sheets = {"Cruise": [HEAD, *numbered(stems)], "Check cruise": [HEAD, *numbered(again)]}
    return Case(sheets=sheets, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("a legend of codes on another sheet")
def _legend(seed):
    names, stems = cruise(seed, empty=0)
    code = {802: "A", 837: "B", 832: "C", 621: "E", 316: "F", 693: "G"}
    rows = [[stem.point, code[stem.species], stem.dbh_in] for stem in stems]
    legend = [[letter, NAMES[spcd]] for spcd, letter in code.items()]
    sheets = {"Tally": [("Point", "Species", "DBH (in)"), *rows], "Codes": [("Code", "Species"), *legend]}
    return Case(sheets=sheets, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("a legend of numbers on another sheet")
def _numbers(seed):
    names, stems = cruise(seed, empty=0)
    code = {802: 1, 837: 2, 832: 3, 621: 4, 316: 5, 693: 6}
    rows = [[stem.point, code[stem.species], stem.dbh_in] for stem in stems]
    legend = [[number, NAMES[spcd]] for spcd, number in code.items()]
    sheets = {"Tally": [("Point", "Species", "DBH (in)"), *rows], "Legend": [("Code", "Meaning"), *legend]}
    return Case(sheets=sheets, how=ODS, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("a summary sheet beside the cruise")
def _summary(seed):
    names, stems, rows = plain(seed)
    sums = [[NAMES[802], 11, 35.2], [NAMES[316], 14, 12.0], ["Total", 25, 47.2]]
    sheets = {"Summary": [("Species", "Trees/ac", "BA/ac"), *sums], "Cruise": [HEAD, *rows]}
    return Case(sheets=sheets, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("a row with a diameter and no species")
def _no_species(seed):
    names, stems = cruise(seed, empty=0)
    lost = [Stem(**{**vars(stem), "species": 999 if number in (2, 9) else stem.species}) for number, stem in enumerate(stems)]
    rows = numbered(stems)
    rows[2][2] = rows[9][2] = ""
    said = Said(settings={**PRISM.settings, "blank_species": "unknown"})
    return Case(sheets={"c": [HEAD, *rows]}, said=said, looks=[Look(points=names, stems=lost)])


@sheet("a letter among the digits of one diameter")
def _slip(seed):
    names, stems = cruise(seed, empty=0)
    rows = numbered(stems)
    rows[5][3] = "l8.2"
    good = [stem for number, stem in enumerate(stems) if number != 5]
    return Case(sheets={"c": [HEAD, *rows]}, said=PRISM, looks=[Look(points=names, stems=good)], refused=(7,))


@sheet("several slips told at once")
def _slips(seed):
    names, stems = cruise(seed, empty=0)
    rows = numbered(stems)
    rows[1][3], rows[4][3], rows[8][3] = "-12", "nan", "inf"
    good = [stem for number, stem in enumerate(stems) if number not in (1, 4, 8)]
    return Case(sheets={"c": [HEAD, *rows]}, how=XLSX, said=PRISM, looks=[Look(points=names, stems=good)], refused=(3, 6, 10))


@sheet("a range for a diameter")
def _range(seed):
    names, stems = cruise(seed, empty=0)
    rows = numbered(stems)
    rows[3][3] = "10-12"
    good = [stem for number, stem in enumerate(stems) if number != 3]
    return Case(sheets={"c": [HEAD, *rows]}, said=PRISM, looks=[Look(points=names, stems=good)], refused=(5,))


@sheet("two trees side by side on each line")
def _pairs(seed):
    names, stems = cruise(seed, points=8, empty=0)
    rows = []
    for name in names:
        here = [stem for stem in stems if stem.point == name]
        for one, two in zip(here[::2], [*here[1::2], None], strict=False):
            rows.append([name, LETTERS[one.species], one.dbh_in, *([LETTERS[two.species], two.dbh_in] if two else ["", ""])])
    sheets = {"c": [("Plot", "Sp", "DBH (in)", "Sp", "DBH (in)"), *rows]}
    return Case(sheets=sheets, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)], guarded=True)


@sheet("inch marks beside the numbers")
def _marks(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[stem.point, LETTERS[stem.species], f'{stem.dbh_in}"'] for stem in stems]
    return Case(sheets={"c": [("Plot", "Sp", "DBH"), *rows]}, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("azimuth and distance of each tree")
def _azimuth(seed):
    names, stems = cruise(seed, points=6, empty=0)
    chance = random.Random(seed)
    rows = numbered(stems, lambda stem: [chance.randint(0, 359), round(chance.uniform(2, 37), 1)])
    sheets = {"c": [("Plot", "Tree", "Species", "DBH (in)", "Azimuth", "Distance (ft)"), *rows]}
    return Case(sheets=sheets, said=PLOTS, looks=[Look(points=names, stems=stems, size=Size(plot_area_ac=0.1))])


@sheet("stand and day in the title")
def _titled(seed):
    names, stems, rows = plain(seed)
    top = [["Stand: K1", "", "Date: 5/14/2025"], ["BAF: 10"], []]
    return Case(sheets={"Cruise": [*top, HEAD, *rows]}, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("a csv that begins with its separator")
def _separator(seed):
    names, stems, rows = plain(seed)
    how = Written("csv", delimiter=";", before="sep=;\r\n", encoding="utf-8-sig")
    return Case(sheets={"c": [HEAD, *rows]}, how=how, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("remarks over two lines in one cell")
def _remarks(seed):
    names, stems = cruise(seed, empty=0)
    rows = numbered(stems, lambda stem: ["fork,\nsee map" if stem.dbh_in > 20 else ""])
    return Case(sheets={"c": [(*HEAD, "Remarks"), *rows]}, how=CSV, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("notes under the tally")
def _notes(seed):
    names, stems, rows = plain(seed)
    feet = [[], ["Note: point 4 was moved 30 ft off the road."], ["* tag lost"]]
    said = Said(settings=PRISM.settings | {"remarks": "as written"})
    return Case(sheets={"c": [HEAD, *rows, *feet]}, how=XLSX, said=said, looks=[Look(points=names, stems=stems)])
