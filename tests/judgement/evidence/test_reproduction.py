"""Evidence of the floor, from tallies made by hand."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from overwood.ground.figure import Figure, unmeasured
from overwood.ground.records import Point, Ring, Seedling, Stand, StandFile, Visit
from overwood.judgement.evidence import counting, reproduction
from overwood.judgement.rules import load

ON = dt.date(2025, 10, 15)
RULES = load()
NO_SPROUTS = unmeasured("oak_sprouts_ac", "no cruise")


def standing(sprouts: Figure) -> dict[str, Figure]:
    """What the floor's figures read of the standing trees."""
    return {"oak_sprouts_ac": sprouts, "site_index_ft": Figure(name="site_index_ft", value=65.0, unit="ft")}


def count(lines, plots=40, area=1 / 735) -> StandFile:
    """A stand file with one count: lines as (plot, species, height class, stems, changes)."""
    return StandFile(
        stand=Stand(stand="A", property="P"),
        visits=(Visit(visit="r", stand="A", kind="reproduction", visited_on=dt.date(2025, 8, 20)),),
        rings=(Ring(visit="r", layer="reproduction", design="fixed", plot_area_ac=area),),
        points=tuple(Point(visit="r", point=str(p)) for p in range(plots)),
        seedlings=tuple(
            Seedling(id=f"s{n}", visit="r", point=str(p), line=str(n), species=s, height_class=h, stems=k, **(x[0] if x else {}))
            for n, (p, s, h, k, *x) in enumerate(lines)
        ),
    )


def figures(file, sprouts=NO_SPROUTS):
    return reproduction.figures(file, RULES, standing(sprouts))


def spread(plots, height="4.5-10", species=802, stems=1):
    return [(p, species, height, stems) for p in range(plots)]


def test_stems_per_acre_are_stems_times_plots_per_acre():
    found = figures(count([(0, 802, "3-4.5", 2), (1, 833, "4.5-10", 1), (2, 802, "1-3", 5)]))

    assert found["oak_stems_3ft_ac"].value == pytest.approx(3 / 40 * 735)
    assert found["oak_stems_1ft_ac"].value == pytest.approx(8 / 40 * 735)
    assert found["oak_stems_4_5ft_ac"].value == pytest.approx(1 / 40 * 735)
    assert found["oak_stocked_1ft_share"].value == 3 / 40


def test_a_stem_of_exactly_three_feet_counts_as_three_feet():
    found = figures(count([(0, 802, "3-4.5", 1, {"height_ft": 3.0}), (1, 802, "1-3", 1, {"height_ft": 2.9})]))

    assert found["oak_stocked_3ft_share"].value == 1 / 40


def test_well_spread_tall_oaks_are_adequate():
    assert figures(count(spread(30)))["oak_verdict"].value == "adequate"


def test_no_tall_oaks_are_inadequate():
    assert figures(count(spread(40, "1-3")))["oak_verdict"].value == "inadequate"


def test_a_share_across_the_need_is_unsure_and_says_how_many_plots():
    found = figures(count(spread(20)))

    assert found["oak_verdict"].value == "unsure"
    assert found["plots_to_settle"].number > 40


def test_many_oaks_in_a_few_clumps_do_not_pass_by_their_number():
    found = figures(count([(p, 802, "3-4.5", 12) for p in range(6)]))

    assert found["oak_stems_3ft_ac"].number > 1000
    assert found["spread_ratio"].number < 0.75
    assert "too few plots" in found["spread_ratio"].note
    assert found["oak_verdict"].value != "adequate"
    assert "too few plots" in found["oak_verdict"].method


def test_stump_sprouts_lower_the_need():
    sprouts = Figure(name="oak_sprouts_ac", value=100.0, unit="stumps/ac", low=60.0, high=140.0, level=0.9, n=10)

    found = figures(count(spread(20)), sprouts)

    assert found["needed_stocked_share"].value == pytest.approx(333 / 735)
    assert found["needed_stocked_share"].low < 333 / 735 < found["needed_stocked_share"].high


def test_plots_of_another_size_do_not_serve_the_stocked_plot_rule():
    found = figures(count(spread(30), area=0.001))

    assert "not 1/735 acre" in found["oak_verdict"].method
    assert not found["dominants_at_20_ac"].measured


def test_a_competitor_a_quarter_taller_overtops_the_oak():
    lines = [
        (0, 802, "3-4.5", 1, {"height_ft": 4.0}),
        (0, 621, "4.5-10", 1, {"height_ft": 5.1}),
        (1, 802, "3-4.5", 1, {"height_ft": 4.0}),
        (1, 316, "3-4.5", 1, {"height_ft": 4.4}),
    ]

    assert figures(count(lines))["overtopped_share"].value == pytest.approx(1 / 2)


def test_what_the_observer_noted_overrules_the_heights():
    lines = [
        (0, 802, "4.5-10", 1, {"height_ft": 6.0, "place": "overtopped"}),
        (1, 802, "4.5-10", 1, {"height_ft": 5.0, "place": "free"}),
        (1, 621, "10+", 1),
    ]

    found = figures(count(lines))

    assert found["overtopped_share"].value == pytest.approx(1 / 2)
    assert found["free_oaks_ac"].value == pytest.approx(1 / 40 * 735)


def test_browse_and_collars_are_shares_of_stems():
    lines = [
        (0, 802, "3-4.5", 1, {"height_ft": 4.0, "basal_diameter_in": 0.9, "browsed": 1}),
        (1, 802, "3-4.5", 1, {"height_ft": 3.2, "basal_diameter_in": 0.5, "browsed": 0}),
    ]

    found = figures(count(lines))

    assert found["browse_share"].value == 0.5
    assert found["burnable_collar_share"].value == 0.5
    assert found["tallest_oak_ft"].value == 4.0


def test_the_expected_dominants_take_one_tree_a_plot_and_logging_loss():
    collar = {"height_ft": 5.0, "basal_diameter_in": 0.75}
    two_on_one = figures(count([(0, 802, "4.5-10", 1, collar), (0, 802, "4.5-10", 1, collar)]))["expected_dominants_ac"]
    one = figures(count([(0, 802, "4.5-10", 1, collar)]))["expected_dominants_ac"]

    assert two_on_one.number == pytest.approx(one.number)
    # A stem of 4.5 ft, 0.75 in. at the collar, is a dominant one time in two after felling (0.51, from memory of Sander,
    # Johnson and Watt 1976, GTR NC-23: 433 such stems an acre leave 221 dominants); 1 of the 40 plots of 1/735 acre holds one.
    assert one.number == pytest.approx(0.51 / 40 * 735, rel=0.01)
    assert one.status == "assumption"
    # Stems of the lowest class that is measured, from half a foot, have their chance too.
    small = figures(count([(0, 802, "0.5-1", 1, {"basal_diameter_in": 0.25})]))["expected_dominants_ac"]
    assert small.measured and 0 < small.number < one.number


def test_stump_sprouts_add_their_share_to_the_expected_dominants():
    collar = {"height_ft": 5.0, "basal_diameter_in": 0.75}
    file, sprouts = count([(0, 802, "4.5-10", 1, collar)]), Figure(name="oak_sprouts_ac", value=30.0, unit="stems/ac")

    without, beside = (figures(file, some)["expected_dominants_ac"].number for some in (NO_SPROUTS, sprouts))

    # 433 stocked plots leave 221 dominants (from memory of Sander, Johnson and Watt 1976, GTR NC-23); a stump counts as one.
    assert beside - without == pytest.approx(30 * 221 / 433, rel=0.005)


def test_an_oak_of_a_foot_is_no_longer_under_a_foot():
    lines = [(n, 802, "1-3", 1, {"height_ft": height}) for n, height in enumerate((1.0, 1.1))] + [(2, 802, "0.5-1", 3)]

    assert figures(count(lines))["oak_stems_under_1ft_ac"].value == pytest.approx(3 / 40 * 735)


def test_few_plots_are_said_to_be_few():
    assert "at least 30" in figures(count(spread(5), plots=12))["oak_stocked_4_5ft_share"].note


def test_a_count_without_its_plot_size_is_not_guessed():
    file = count(spread(5))
    bare = StandFile(**{**{f: getattr(file, f) for f in file.__dataclass_fields__}, "rings": ()})

    assert "how large its plots were" in figures(bare)["oak_verdict"].note


def test_the_floor_by_class_adds_up():
    file = count([(0, 802, "1-3", 4), (1, 316, "1-3", 2), (2, 621, "3-4.5", 3), (3, 541, "1-3", 1)])

    classes = reproduction.by_class(file, RULES)

    assert set(classes) == {"oak", "red maple", "yellow-poplar", "other"}
    assert classes["red maple"]["1-3"].number == pytest.approx(2 / 40 * 735)


def test_plots_of_several_sizes_give_all_stems_over_all_ground_and_do_not_serve_the_stocked_plot_rule():
    # 20 plots of 1/735 ac with an oak each and 20 of 1/100 ac with three: 80 stems on 20/735 + 20/100 = 0.2272 ac are 352/ac.
    file = count([*((p, 802, "3-4.5", 1) for p in range(20)), *((p, 802, "3-4.5", 3) for p in range(20, 40))])
    points = tuple(replace(point, plot_area_ac=0.01 if int(point.point) >= 20 else None) for point in file.points)
    found = figures(replace(file, points=points))

    assert found["oak_stems_3ft_ac"].value == pytest.approx(80 / (20 / 735 + 20 / 100))
    assert found["oak_stems_3ft_ac"].low < 80 / (20 / 735 + 0.2) < found["oak_stems_3ft_ac"].high
    assert "plots of 2 sizes (1/100 to 1/735 acre)" in found["oak_stems_3ft_ac"].note
    assert "not 1/735 acre" in found["oak_verdict"].method


def test_a_size_of_an_overstory_point_is_none_of_the_plot_of_young_stems_there():
    file = count([(p, 802, "3-4.5", 1) for p in range(20)])
    both = replace(
        file,
        points=tuple(replace(point, plot_area_ac=0.2) for point in file.points),
        rings=(*file.rings, Ring(visit=file.rings[0].visit, layer="overstory", design="fixed", plot_area_ac=0.2)),
    )

    assert figures(both)["oak_stems_3ft_ac"].value == figures(file)["oak_stems_3ft_ac"].value


def test_figures_of_3_ft_stay_of_3_ft_where_an_office_calls_more_waist_high():
    file = count([(0, 316, "3-4.5", 4), (1, 802, "3-4.5", 2)])
    taller = reproduction.figures(file, RULES.with_value("waist_high_ft", 4.5), standing(NO_SPROUTS))

    assert taller["competitor_stems_3ft_ac"].value == figures(file)["competitor_stems_3ft_ac"].value > 0
    assert "4.5 ft or taller" in taller["burnable_collar_share"].note


def test_the_size_named_for_the_next_count_is_one_that_plots_have():
    file = count([(0, 802, "3-4.5", 1)])
    points = tuple(replace(point, plot_area_ac=0.01 if int(point.point) >= 25 else None) for point in file.points)

    assert counting.plot_ac(replace(file, points=points), file.visits[0]) == pytest.approx(1 / 735)
