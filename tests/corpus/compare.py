"""What the book holds after a sheet came in, against what was seen in the woods."""

from __future__ import annotations

import collections
import datetime as dt

import pytest

from corpus.case import Case
from corpus.truth import Look

PLACES = 0.051


def differences(case: Case) -> list[str]:
    """Everything in which the open book differs from the truth of a case, in words."""
    wrong: list[str] = []
    for look in case.looks:
        wrong += _look(case, look)
    wrong += _acres(case) + _bearing(case) + _unknown(case)
    return wrong


def visits() -> set[str]:
    """Names of the visits of the open book."""
    from overwood.memory.book import store

    return {visit.visit for visit in store.records("visits")}


def nothing_came_in() -> bool:
    """Whether the open book holds only the visit it began with."""
    return visits() == {"K4-25"}


def _look(case: Case, look: Look) -> list[str]:
    from overwood.memory.book import store

    visits = [visit for visit in store.records("visits", stand=look.stand) if visit.kind == look.kind]
    wanted = sum(one.stand == look.stand and one.kind == look.kind for one in case.looks)
    if len(visits) != wanted:
        return [f"{look.stand}: {len(visits)} visits of kind {look.kind}, not {wanted}: {[v.visit for v in visits]}"]
    visit = min(visits, key=lambda one: abs(one.visited_on - look.on))
    held = {name: store.records(name, visit=visit.visit) for name in ("points", "trees", "seedlings")}
    wrong = [] if visit.visited_on == look.on else [f"day {visit.visited_on}, not {look.on}"]
    wrong += _points(look, held["points"])
    wrong += _same("stems", look.counts, _counts(held["trees"]))
    wrong += _same("young stems", look.young_counts, _young_counts(look, held["seedlings"]))
    wrong += _marks(look, held["trees"])
    if look.stems and case.figures:
        wrong += _figures(look)
    return wrong + (_ring(look, visit.visit) if look.young else [])


def _points(look: Look, points) -> list[str]:
    names, fenced = {point.point for point in points}, {point.point for point in points if point.fenced}
    wrong = [] if names == set(look.points) else [f"points {sorted(names)}, not {sorted(look.points)}"]
    return wrong + ([] if fenced == look.fenced else [f"fenced {sorted(fenced)}, not {sorted(look.fenced)}"])


def _counts(trees) -> collections.Counter:
    found: collections.Counter = collections.Counter()
    for tree in trees:
        found[tree.point, tree.species, round(tree.dbh_in, 1), tree.status == "dead"] += tree.stems
    return found


def _young_counts(look: Look, seedlings) -> collections.Counter:
    found: collections.Counter = collections.Counter()
    by_height = any(one.height_ft is not None for one in look.young)
    for one in seedlings:
        found[one.point, one.species, round(one.height_ft or -1, 1) if by_height else one.height_class] += one.stems
    return found


def _same(what: str, true: collections.Counter, held: collections.Counter) -> list[str]:
    if true == held:
        return []
    lost, extra = list((true - held).items())[:4], list((held - true).items())[:4]
    return [f"{what}: {sum(held.values())}, not {sum(true.values())}; lost {lost}; extra {extra}"]


def _marks(look: Look, trees) -> list[str]:
    """Crown classes and heights, as many of each as were seen."""
    wrong = []
    crowns = collections.Counter(stem.crown for stem in look.stems)
    if set(crowns) != {""} and crowns != collections.Counter(tree.crown_class for tree in trees):
        wrong.append(f"crown classes {collections.Counter(tree.crown_class for tree in trees)}, not {crowns}")
    culls = sum(stem.cull for stem in look.stems)
    if culls and culls != sum(tree.quality == "cull" for tree in trees):
        wrong.append(f"{sum(tree.quality == 'cull' for tree in trees)} culls, not {culls}")
    ratios = {tree.crown_ratio_pct for tree in trees}
    if look.crown_ratio_pct is not None and not ratios <= {look.crown_ratio_pct, None}:
        wrong.append(f"crown ratios {ratios}, not {look.crown_ratio_pct}")
    tall = sorted(stem.height_ft for stem in look.stems if stem.height_ft is not None)
    held = sorted(tree.height_ft for tree in trees if tree.height_ft is not None)
    if tall and held != pytest.approx(tall, abs=PLACES):
        wrong.append(f"heights {held[:3]}..., not {tall[:3]}...")
    return wrong


def _figures(look: Look) -> list[str]:
    """Basal area and trees an acre as the program tells them, against plain arithmetic.

    Diameters rewritten in centimeters to two places move basal area by less than 1 in 1,000.
    """
    from overwood.desk import answers

    told = answers.evidence(look.stand, answers.question(look.on + dt.timedelta(days=30)))
    true = {"ba_ft2_ac": look.ba_ft2_ac, "trees_ac": look.trees_ac}
    return [
        f"{name} {told[name].value}, not {value:.2f}" for name, value in true.items() if told[name].value != pytest.approx(value, rel=2e-3)
    ]


def _ring(look: Look, visit: str) -> list[str]:
    from overwood.memory.book import store

    areas = [ring.plot_area_ac for ring in store.records("rings", visit=visit) if ring.layer == "reproduction"]
    return [] if areas == [pytest.approx(look.size.plot_area_ac, rel=1e-3)] else [f"plot areas {areas}, not {look.size.plot_area_ac}"]


def _acres(case: Case) -> list[str]:
    from overwood.memory.book import store

    held = {stand.stand: stand.area_ac for stand in store.records("stands") if stand.stand.startswith("N")}
    return [] if held == pytest.approx(dict(case.acres), abs=0.01) else [f"acres {held}, not {dict(case.acres)}"]


def _bearing(case: Case) -> list[str]:
    from overwood.memory.book import store

    if not case.bearing:
        return []
    held = {tree.tree: tree.bearing for tree in store.records("acorn_trees")}
    return [] if held == dict(case.bearing) else [f"bearing {held}, not {dict(case.bearing)}"]


def _unknown(case: Case) -> list[str]:
    from overwood.memory.book import store

    held = {row.species_written for name in ("trees", "seedlings") for row in store.records(name, species=999)} - {""}
    return [] if held == set(case.unknown) else [f"unknown species {sorted(held)}, not {sorted(case.unknown)}"]
