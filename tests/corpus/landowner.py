"""Sheets as owners type them: lists of stands, tables that begin anywhere, slips of the hand, odd words."""

from __future__ import annotations

from corpus.case import PLACE, PRISM, Case, Said, sheet
from corpus.consultant import numbered, with_empty
from corpus.sheets import ODS, XLSX, Written
from corpus.truth import LETTERS, NAMES, Look, Size, Stem, cruise

AC_PER_HA = 10000 / 4046.8564224


@sheet("a list of stands in acres")
def _stands(seed):
    acres = {"N1": 12.5, "N2": 31.0, "N3": 7.25}
    sheets = {"stands": [("Stand", "Acres", "Property"), *([name, size, "millrun"] for name, size in acres.items())]}
    return Case(sheets=sheets, acres=acres, figures=False)


@sheet("a list of stands in hectares")
def _hectares(seed):
    hectares = {"N4": 5.0, "N5": 11.5}
    sheets = {"my woods": [("Stand No", "Area (ha)", "Farm", "Remarks"), *([name, size, "millrun", ""] for name, size in hectares.items())]}
    return Case(sheets=sheets, how=XLSX, acres={name: size * AC_PER_HA for name, size in hectares.items()}, figures=False)


@sheet("a list of stands with a total row")
def _listed(seed):
    acres = {"N6": 10.0, "N7": 20.0}
    rows = [[name, size] for name, size in acres.items()]
    sheets = {"list": [("Stand", "Acres"), *rows, ["Total", 30.0]]}
    return Case(sheets=sheets, how=ODS, said=Said(settings={"property": "millrun"}), acres=acres, figures=False)


@sheet("a table that begins in the middle of the sheet")
def _middle(seed):
    names, stems = cruise(seed, empty=0)
    rows = [["", "", *row] for row in numbered(stems)]
    sheets = {"Sheet1": [[], [], [], ["", "", "Plot", "Tree", "Species", "DBH (in)"], *rows]}
    return Case(sheets=sheets, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("misspelt headings")
def _headings(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[stem.point, NAMES[stem.species], stem.dbh_in] for stem in stems]
    sheets = {"c": [("Plot", "Speceis", "Diamter (in)"), *rows]}
    return Case(sheets=sheets, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("spaces, hard spaces and numbers kept as text")
def _spaces(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[f" {stem.point} ", f"{NAMES[stem.species]}\u00a0", f" {stem.dbh_in}\u00a0"] for stem in stems]
    return Case(sheets={"c": [("Plot", "Species", "DBH (in)"), *rows]}, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("whole numbers written with .0")
def _floats(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[f"{stem.point}.0", f"{stem.species}.0", stem.dbh_in] for stem in stems]
    return Case(sheets={"c": [("Plot", "Species", "DBH (in)"), *rows]}, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("columns and rows of nothing around the tally")
def _padded(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[*row, "", "", "  "] for row in numbered(stems)]
    blank = [["", "", "", "", "", "", ""]] * 5
    sheets = {"c": [("Pt", "Tree", "Sp", "DBH (in)", "", "", ""), *rows, *blank]}
    return Case(sheets=sheets, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("points with letters and leading zeros")
def _names(seed):
    names, stems = cruise(seed, empty=0)
    new = {name: f"A-0{name}" for name in names}
    stems = [Stem(**{**vars(stem), "point": new[stem.point]}) for stem in stems]
    rows = [[stem.point, LETTERS[stem.species], stem.dbh_in] for stem in stems]
    sheets = {"c": [("Plot ID", "Sp", "DBH (in)"), *rows]}
    return Case(sheets=sheets, said=PRISM, looks=[Look(points=list(new.values()), stems=stems)])


@sheet("species in rows of their own above the diameters")
def _under_species(seed):
    names, stems = cruise(seed, points=5, empty=0, species=(802, 316))
    rows = []
    for code in (802, 316):
        rows.append([NAMES[code], ""])
        rows += [[stem.point, stem.dbh_in] for stem in stems if stem.species == code]
    return Case(sheets={"c": [("Plot", "DBH (in)"), *rows]}, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)], guarded=True)


@sheet("two tables beside each other")
def _beside(seed):
    names, stems = cruise(seed, points=6, empty=0)
    left, right = numbered([s for s in stems if int(s.point) < 4]), numbered([s for s in stems if int(s.point) >= 4])
    blank = ["", "", "", ""]
    longest = max(len(left), len(right))
    rows = [[*(left[n] if n < len(left) else blank), "", *(right[n] if n < len(right) else blank)] for n in range(longest)]
    head = ("Pt", "Tree", "Sp", "DBH (in)", "", "Pt", "Tree", "Sp", "DBH (in)")
    return Case(sheets={"c": [head, *rows]}, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)], guarded=True)


@sheet("a plot size by its radius in the heading")
def _radius(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[stem.point, NAMES[stem.species], stem.dbh_in] for stem in stems]
    said = Said(settings={**PLACE, "plot_area_ac": "radius 37.24 ft"})
    # pi r2 / 43,560 ft2, the definition of an acre.
    look = Look(points=names, stems=stems, size=Size(plot_area_ac=3.141592653589793 * 37.24**2 / 43560))
    return Case(sheets={"c": [("Plot (37.24 ft radius)", "Species", "DBH (in)"), *rows]}, said=said, looks=[look])


@sheet("a plot size as a fraction")
def _fraction(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[stem.point, NAMES[stem.species], stem.dbh_in] for stem in stems]
    said = Said(settings={**PLACE, "plot_area_ac": "1/5"})
    look = Look(points=names, stems=stems, size=Size(plot_area_ac=0.2))
    return Case(sheets={"c": [("Plot", "Species", "DBH (in)"), *rows]}, how=ODS, said=said, looks=[look])


@sheet("headings of another tongue, told one by one")
def _tongue(seed):
    names, stems = cruise(seed, empty=0)
    rows = [[stem.point, NAMES[stem.species], round(stem.dbh_in * 2.54, 2), "-"] for stem in stems]
    said = Said(settings=PRISM.settings, columns={"Punkt": "point", "Baumart": "species", "BHD": "dbh_in"}, units={"dbh_in": "cm"})
    sheets = {"Aufnahme": [("Punkt", "Baumart", "BHD", "Notiz"), *rows]}
    how = Written("csv", delimiter=";", encoding="cp1252")
    return Case(sheets=sheets, how=how, said=said, looks=[Look(points=names, stems=stems)], guarded=True)


@sheet("points that held nothing, by an empty row")
def _empty_points(seed):
    names, stems = cruise(seed, points=12, empty=3)
    rows = with_empty(names, stems, numbered(stems))
    rows = [[row[0], row[1], "" if row[2] == "none" else row[2], row[3]] for row in rows]
    sheets = {"c": [("Pt", "Tree", "Sp", "DBH (in)"), *rows]}
    return Case(sheets=sheets, said=PRISM, looks=[Look(points=names, stems=stems)])
