"""Figures of age and site, from increment cores or as written for the stand."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np

from overwood.ground import measures
from overwood.ground.figure import Figure, Input, unmeasured
from overwood.ground.records import SiteTree, StandFile
from overwood.ground.species import by_code
from overwood.judgement.rules import Rules
from overwood.science import overstory as science
from overwood.science import survey


def _cores(file: StandFile) -> list[tuple[SiteTree, dt.date]]:
    days = {visit.visit: visit.visited_on for visit in file.visits}
    return [(tree, days[tree.visit]) for tree in file.site_trees if tree.visit in days]


def age(file: StandFile, on: dt.date, rules: Rules) -> Figure:
    """Age of the main canopy on a day, from cores or the year of origin."""
    cores = _cores(file)
    if cores:
        ages = [tree.age_yr + (on - day).days / 365.25 for tree, day in cores]
        method = "increment cores, grown to the day of the question"
        figure = _mean_of("age_yr", "yr", [tree for tree, _ in cores], ages, rules)
        return replace(figure, method=method, sources=("field",))
    if file.stand.birth_year:
        return Figure(
            name="age_yr",
            value=float(on.year - file.stand.birth_year),
            unit="yr",
            method="from the year of origin written for the stand",
            sources=("field",),
            inputs=(Input(name="birth_year", value=file.stand.birth_year, rows=(file.stand.id,)),),
        )
    return unmeasured("age_yr", "neither cores nor a year of origin", "yr")


def site_index(file: StandFile, rules: Rules) -> Figure:
    """Oak site index from cored trees with heights, or as written for the stand."""
    trees = [tree for tree, _ in _cores(file) if tree.height_ft and by_code(tree.species).is_oak]
    if trees:
        values = [float(science.site_index_ft(t.species, t.age_yr, t.height_ft or 0)) for t in trees]
        figure = _mean_of("site_index_ft", "ft", trees, values, rules)
        oldest = science.SITE_AGES_YR[1]
        old = (
            f"; trees older than {oldest:g} years lie outside the curves"
            if any(tree.age_yr > oldest for tree in trees)
            else ""
        )
        method = "height curve of each species inverted, base age 50"
        return replace(figure, method=method, sources=("carmean1989",), status="memory", note=figure.note + old)
    if file.stand.site_index_ft:
        return Figure(
            name="site_index_ft",
            value=file.stand.site_index_ft,
            unit="ft",
            method="as written for the stand",
            sources=("field",),
            inputs=(Input(name="site_index_ft", value=file.stand.site_index_ft, rows=(file.stand.id,)),),
        )
    return unmeasured("site_index_ft", "no site trees with heights and no site index written for the stand", "ft")


def _mean_of(name: str, unit: str, trees: list[SiteTree], values: list[float], rules: Rules) -> Figure:
    """The mean of cored trees with its error, which a single tree has not."""
    estimate = survey.sample_mean(values, level=rules.number("interval_level"))
    has_error = not np.isnan(estimate.se)
    return Figure(
        name=name,
        value=estimate.mean,
        unit=unit,
        low=estimate.low if has_error else None,
        high=estimate.high if has_error else None,
        level=rules.number("interval_level") if len(values) > 1 else None,
        n=len(values),
        inputs=(Input(name="cored trees", value=len(values), unit="rows", rows=tuple(tree.id for tree in trees)),),
        note=_by_species_words(trees, values),
    )


def _by_species_words(trees: list[SiteTree], values: list[float]) -> str:
    """The mean of each species in words: 'black oak 71 (5 trees), white oak 68 (2 trees)'."""
    groups: dict[str, list[float]] = {}
    for tree, value in zip(trees, values, strict=True):
        groups.setdefault(by_code(tree.species).common_name, []).append(value)
    return ", ".join(
        f"{name} {measures.digits(float(np.mean(indices)), 'ft')} ({len(indices)} trees)"
        for name, indices in sorted(groups.items())
    )


def index_ft(file: StandFile, rules: Rules) -> float | None:
    """Oak site index [ft at 50 years], or None where nobody knows it."""
    figure = site_index(file, rules)
    return figure.number if figure.measured else None
