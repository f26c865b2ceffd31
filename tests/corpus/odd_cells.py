"""Sheets whose cells hold more, or other, than one diameter in inches: lists, forks, fractions, girths, years, names beside codes."""

from __future__ import annotations

import dataclasses
import math

from corpus.case import PLACE, PRISM, Case, Said, sheet
from corpus.consultant import HEAD, numbered
from corpus.sheets import XLSX
from corpus.truth import LATIN, LETTERS, NAMES, Look, Stem, cruise


def _said(**more):
    return Said(settings={**PRISM.settings, **more})


@sheet("all diameters of a species at a point in one cell")
def _lists(seed):
    names, stems = cruise(seed, empty=0)
    sizes: dict[tuple[str, int], list[float]] = {}
    for stem in stems:
        sizes.setdefault((stem.point, stem.species), []).append(stem.dbh_in)
    rows = [(point, LETTERS[code], ", ".join(map(str, some)) if len(some) > 1 else some[0]) for (point, code), some in sizes.items()]
    return Case(sheets={"c": [("Point", "Sp", "DBHs (in)"), *rows]}, how=XLSX, said=dataclasses.replace(PRISM, columns={"DBHs (in)": "dbh_in"}),
                looks=[Look(points=names, stems=stems)])  # fmt: skip


@sheet("a second column of diameters for forked trees")
def _forks(seed):
    names, stems = cruise(seed, empty=0)
    forks = [dataclasses.replace(stem, dbh_in=round(stem.dbh_in * 0.7, 1)) for stem in stems[::4]]
    second = {id(stem): fork.dbh_in for stem, fork in zip(stems[::4], forks, strict=True)}
    rows = numbered(stems, lambda stem: (second.get(id(stem), ""),))
    return Case(sheets={"c": [("Plot", "Tree", "Sp", "DBH (in)", "DBH 2 (in)"), *rows]}, said=PRISM,
                looks=[Look(points=names, stems=[*stems, *forks])])  # fmt: skip


@sheet("two inventories told apart by a column of years")
def _years(seed):
    names, stems = cruise(seed, empty=0)
    old = [(2015, *row[:3], round(row[3] - 1.5, 1)) for row in numbered(stems)]
    new = [(2025, *row) for row in numbered(stems)]
    head = ("Year", "Plot", "Tree", "Sp", "DBH (in)")
    return Case(sheets={"c": [head, *old, *new]}, asked=("year",), said=_said(year="2025"), looks=[Look(points=names, stems=stems)])


@sheet("a note among the rows that names another factor")
def _factor_changes(seed):
    _, stems = cruise(seed, empty=0)
    rows = numbered(stems)
    return Case(sheets={"c": [HEAD, *rows[:9], ["BAF 20 from here", "", "", ""], *rows[9:]]}, said=PRISM, stopped=True)


@sheet("girths in centimeters")
def _girths(seed):
    names, stems = cruise(seed, empty=0)
    rows = [(stem.point, LETTERS[stem.species], round(stem.dbh_in * 2.54 * math.pi, 1)) for stem in stems]
    return Case(sheets={"c": [("Plot", "Sp", "Girth (cm)"), *rows]}, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("halves and quarters of an inch as fractions")
def _fractions(seed):
    names, drawn = cruise(seed, empty=0)
    stems = [dataclasses.replace(stem, dbh_in=math.floor(stem.dbh_in) + (0.5 if number % 2 else 0.75)) for number, stem in enumerate(drawn)]
    rows = [(s.point, LETTERS[s.species], f"{math.floor(s.dbh_in)} {'1/2' if s.dbh_in % 1 == 0.5 else '3/4'}") for s in stems]
    return Case(sheets={"c": [("Plot", "Sp", "DBH (in)"), *rows]}, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("the code and the name of a species in one cell")
def _code_and_name(seed):
    names, stems = cruise(seed, empty=0)

    def word(number: int, stem: Stem) -> str:
        latin = LATIN.get(stem.species, "")
        return f"{stem.species} - {NAMES[stem.species]}" if number % 2 or not latin else f"{NAMES[stem.species].title()} ({latin})"

    rows = [(stem.point, word(number, stem), stem.dbh_in) for number, stem in enumerate(stems)]
    return Case(sheets={"c": [("Plot", "Species", "DBH (in)"), *rows]}, how=XLSX, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("scientific names with the genus as a letter")
def _initials(seed):
    names, stems = cruise(seed, empty=0, species=tuple(LATIN))
    rows = [(stem.point, LATIN[stem.species][0] + ". " + LATIN[stem.species].split()[1], stem.dbh_in) for stem in stems]
    return Case(sheets={"c": [("Plot", "Species", "DBH (in)"), *rows]}, said=PRISM, looks=[Look(points=names, stems=stems)])


@sheet("a weight on each line that nobody explained")
def _weights(seed):
    _, stems = cruise(seed, empty=0)
    rows = [(stem.point, LETTERS[stem.species], stem.dbh_in, 1 + number % 2) for number, stem in enumerate(stems)]
    said = Said(settings={**PLACE, "plot_area_ac": "0.1"})
    return Case(sheets={"c": [("Plot", "Sp", "DBH (in)", "Weight"), *rows]}, said=said, stopped=True)
