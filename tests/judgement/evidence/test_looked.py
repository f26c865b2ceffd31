"""What was not looked at is not none: figures and gates ask the rings, and a zero that was looked for has an upper bound."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math

import pytest

from overwood.ground.errors import NotFound
from overwood.ground.records import Operation, Point, Ring, Seedling, Sighting, Stand, StandFile, Stem, StemMap, Tree, Visit
from overwood.judgement import gates, injection
from overwood.judgement.course import advise
from overwood.judgement.evidence import all_figures
from overwood.judgement.monitoring import changes as monitoring
from overwood.judgement.rules import load
from records import cruise

ON = dt.date(2025, 10, 15)
RULES = load()
PRISM = Ring(visit="c", layer="overstory", design="prism", baf_ft2_ac=10.0, low_dbh_in=4.5)
NEST = Ring(visit="c", layer="midstory", design="fixed", plot_area_ac=0.02, low_dbh_in=1.0, high_dbh_in=4.5)
OAKS = [(str(point), 802, 18.0) for point in range(1, 6)]
MIDSTORY = ("midstory_stems_ac", "midstory_ba_ft2_ac", "injection_stems_ac", "sapling_stems_ac")


def with_count(file: StandFile, lines=(), plots=40, **ring) -> StandFile:
    """The file with a count of 1/735-acre plots: lines as (plot, species, class, stems)."""
    visit = Visit(visit="r", stand="A", kind="reproduction", visited_on=dt.date(2025, 8, 20))
    ring = Ring(visit="r", layer="reproduction", design="fixed", plot_area_ac=1 / 735, **ring)
    return dataclasses.replace(
        file,
        visits=(*file.visits, visit),
        rings=(*file.rings, ring),
        points=(*file.points, *(Point(visit="r", point=str(p)) for p in range(plots))),
        seedlings=tuple(
            Seedling(id=f"s{n}", visit="r", point=str(p), line=str(n), species=s, height_class=h, stems=k)
            for n, (p, s, h, k) in enumerate(lines)
        ),
    )


def gate(file: StandFile, name: str, on: dt.date = ON) -> gates.Gate:
    return next(one for one in advise(file, RULES, on).gates if one.name == name)


@pytest.mark.parametrize("rings", [(PRISM,), (dataclasses.replace(PRISM, low_dbh_in=None),)])
def test_a_cruise_of_the_larger_trees_says_nothing_of_the_midstory(rings):
    file = cruise(OAKS, rings=rings)
    figures = all_figures(file, RULES, ON)

    assert {name: figures[name].value for name in MIDSTORY} == dict.fromkeys(MIDSTORY)
    assert "not looked at" in figures["midstory_stems_ac"].note
    shades = gate(file, "midstory shades")
    assert shades.answer == "not looked at"
    assert "1/50-acre ring" in str(shades.settle)


def test_a_ring_without_a_least_dbh_is_known_by_its_smallest_tree():
    bare = dataclasses.replace(PRISM, low_dbh_in=None)
    note = all_figures(cruise([*OAKS, ("1", 316, 7.3)], rings=(bare,)), RULES, ON)["midstory_stems_ac"].note

    assert "the smallest tree tallied has 7.3 in." in note
    assert all_figures(cruise([*OAKS, ("1", 316, 1.4)], rings=(bare,)), RULES, ON)["midstory_stems_ac"].measured


def test_a_midstory_ring_that_found_none_has_an_upper_bound_by_its_area():
    figures = all_figures(cruise(OAKS, rings=(PRISM, NEST)), RULES, ON)

    # Five points: none seen at 90 %, two-sided, leaves up to 3.0 stems (Garwood 1936) of the size that stands for most an acre:
    # one of 4.5 in. by the prism, 10 / (0.005454154 x 4.5^2) an acre.
    most = 10 / (0.005454154 * 4.5**2)
    assert (figures["midstory_stems_ac"].value, figures["midstory_stems_ac"].low) == (0, 0)
    assert figures["midstory_stems_ac"].high == pytest.approx(-math.log(0.05) * most / 5, rel=1e-6)
    assert figures["midstory_ba_ft2_ac"].high == pytest.approx(-math.log(0.05) * 10 / 5, rel=1e-6)


def test_an_overstory_ring_starts_where_the_small_ring_ends():
    rings = (dataclasses.replace(PRISM, low_dbh_in=None), NEST)
    figures = all_figures(cruise([*OAKS, ("1", 316, 3.0)], rings=rings), RULES, ON)

    assert figures["midstory_stems_ac"].value == pytest.approx(1 / 0.02 / 5)


def test_a_cruise_of_oaks_alone_has_no_oak_share():
    figures = all_figures(cruise(OAKS, rings=(dataclasses.replace(PRISM, looked_for="oaks"),)), RULES, ON)

    assert not figures["oak_share"].measured
    assert "other trees" in figures["ba_ft2_ac"].note


@pytest.mark.parametrize("plots", [3, 5, 40])
def test_a_zero_count_has_the_bound_of_its_area_and_agrees_with_the_share(plots):
    figures = all_figures(with_count(cruise(OAKS), plots=plots), RULES, ON)
    stems, share = figures["oak_stems_3ft_ac"], figures["oak_stocked_3ft_share"]

    # Garwood 1936: -ln(0.1) over the area looked at; Clopper and Pearson 1934: 1 - 0.1^(1/n); one-sided at 90 %, as the verdict is.
    assert (stems.value, stems.low) == (0, 0)
    assert stems.high == pytest.approx(-math.log(0.1) * 735 / plots, rel=1e-3)
    assert share.high == pytest.approx(1 - 0.1 ** (1 / plots))
    assert 1 - math.exp(-stems.high / 735) == pytest.approx(share.high, rel=1e-3)


def test_a_count_from_three_feet_up_says_nothing_of_smaller_oaks():
    figures = all_figures(with_count(cruise(OAKS), [(1, 802, "3-4.5", 1)], low_height_ft=3.0), RULES, ON)

    assert not figures["oak_stems_1ft_ac"].measured
    assert not figures["oak_stems_under_1ft_ac"].measured
    assert figures["oak_stems_3ft_ac"].measured


def test_a_count_of_oaks_alone_says_nothing_of_competitors():
    figures = all_figures(with_count(cruise(OAKS), [(1, 802, "3-4.5", 1)], looked_for="oaks"), RULES, ON)

    assert not figures["competitor_stems_3ft_ac"].measured
    assert not figures["overtopped_share"].measured


def test_nobody_looked_for_invasive_plants_until_a_visit_says_so():
    file = cruise(OAKS)
    assert gate(file, "free of invasives").answer == "not looked at"

    looked = dataclasses.replace(PRISM, looked_for="oaks; other trees; invasives")
    assert gate(cruise(OAKS, rings=(looked,)), "free of invasives").answer == "yes"
    assert gate(cruise(OAKS, rings=(looked,)), "free of invasives", dt.date(2034, 1, 1)).answer == "too old"


def test_an_invasive_species_in_any_tally_was_seen():
    file = with_count(cruise(OAKS), [(plot, 341, "1-3", 3) for plot in range(40)])
    found = gate(file, "free of invasives")

    assert found.answer == "no"
    assert "ailanthus, tallied on 40 plots" in found.why
    sighting = Sighting(sighting="s", stand="A", seen_on=ON, kind="invasive plant", subject="stiltgrass")
    assert gate(dataclasses.replace(file, sightings=(sighting,)), "free of invasives").why.startswith("stiltgrass")


def test_a_count_without_tall_oaks_answers_the_question_of_a_burn():
    small = [(plot, 802, "<0.5", 2) for plot in range(40)]
    found = gate(with_count(cruise(OAKS), small), "burn safe")

    assert found.answer == "no"
    assert "under 1 ft" in found.why and "1,470" not in found.why
    assert "1470 (" in found.why
    none = gate(with_count(cruise(OAKS), low_height_ft=0.0), "burn safe")
    assert none.answer == "yes"
    assert gate(with_count(cruise(OAKS)), "burn safe").answer == "not looked at"


def test_a_full_stem_map_is_a_cruise_without_sampling_error():
    side = math.sqrt(20 * 43560)
    visit = Visit(visit="m", stand="A", kind="stem map", visited_on=dt.date(2025, 5, 1))
    stems = tuple(
        Stem(id=f"m{n}", visit="m", stem=str(n), species=802 if n % 2 else 316, dbh_in=18.0 if n % 2 else 1.4, east_ft=10.0, north_ft=10.0)
        for n in range(1, 401)
    )
    file = StandFile(
        stand=Stand(stand="A", property="P", area_ac=20.0, birth_year=1925),
        visits=(visit,),
        stem_maps=(StemMap(visit="m", width_ft=side, height_ft=side, edge="open"),),
        stems=stems,
    )
    figures = all_figures(file, RULES, ON)

    assert figures["trees_ac"].value == pytest.approx(20)
    assert figures["midstory_stems_ac"].ends == pytest.approx((10, 10))
    assert "no sampling error" in figures["ba_ft2_ac"].method
    assert gate(file, "cruise fresh").answer == "yes"


def test_a_map_of_a_corner_does_not_replace_a_cruise_of_the_stand():
    corner = StemMap(visit="m", width_ft=200.0, height_ft=200.0, edge="open")
    mapped = Visit(visit="m", stand="A", kind="stem map", visited_on=dt.date(2025, 9, 1))
    file = cruise(OAKS, stem_maps=(corner,), stems=(Stem(visit="m", stem="1", species=802, dbh_in=10.0, east_ft=1.0, north_ft=1.0),))
    file = dataclasses.replace(file, stand=dataclasses.replace(file.stand, area_ac=20.0), visits=(*file.visits, mapped))

    assert file.latest("cruise").visit == "c"
    alone = dataclasses.replace(file, visits=(mapped,))
    assert "covers 0.918 of 20 acres" in all_figures(alone, RULES, ON)["ba_ft2_ac"].note


def test_one_point_decides_no_gate():
    figure = all_figures(cruise([("1", 802, 18.0)], points=("1",)), RULES, ON)["ba_ft2_ac"]

    assert gates.against(figure, 5.0) == "unsure"


def short_cruise(file: StandFile, trees: int = 1) -> StandFile:
    """The file with a newer cruise of one point."""
    visit = Visit(visit="d", stand="A", kind="cruise", visited_on=dt.date(2025, 9, 1))
    ring = dataclasses.replace(PRISM, visit="d")
    more = tuple(Tree(id=f"d{n}", visit="d", point="1", tree=str(n), species=316, dbh_in=12.0) for n in range(trees))
    return dataclasses.replace(
        file, visits=(*file.visits, visit), rings=(*file.rings, ring), points=(*file.points, Point(visit="d", point="1")),
        trees=(*file.trees, *more),
    )  # fmt: skip


def test_one_point_does_not_replace_a_whole_cruise():
    file = cruise([(str(p), 802, 18.0) for p in range(25)], points=tuple(map(str, range(25))), rings=(PRISM,))

    before, after = all_figures(file, RULES, ON)["oak_share"], all_figures(short_cruise(file), RULES, ON)["oak_share"]

    assert after.value == before.value == 1


def test_a_short_cruise_after_a_cut_replaces_the_one_before_it():
    file = short_cruise(cruise([(str(p), 802, 18.0) for p in range(25)], points=tuple(map(str, range(25))), rings=(PRISM,)))
    cut = Operation(operation="x", stand="A", kind="seed cut", state="done", started_on=dt.date(2025, 7, 1))

    assert dataclasses.replace(file, operations=(cut,)).latest("cruise").visit == "d"


def test_a_stand_with_a_preparatory_cut_and_a_count_passes_its_file_check():
    cut = Operation(operation="x", stand="A", kind="preparatory cut", state="done", started_on=dt.date(2024, 1, 1))
    file = dataclasses.replace(with_count(cruise(OAKS)), operations=(cut,))

    items = {item.item: item for item in monitoring.completeness(file, RULES, ON)}

    assert items["count after the cut"].found == "1 count"


def test_an_injection_order_is_not_made_from_a_cruise_that_missed_the_small_stems():
    file = cruise([*OAKS, ("1", 316, 6.0)], rings=(PRISM,))

    with pytest.raises(NotFound, match=r"stems of 1.5 to 4.5 in. dbh were not looked at"):
        injection.order(file, RULES, ON)
    assert injection.order(cruise([*OAKS, ("1", 316, 6.0)], rings=(PRISM, NEST)), RULES, ON).stems_ac.number > 0
