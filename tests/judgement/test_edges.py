"""Every gate and every clause of maturity at its threshold, a hair under it and a hair over it."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from conftest import DEMO_DAY
from overwood.ground.figure import Figure
from overwood.ground.records import AcornTree, Fuel, Operation, Point, Ring, Visit
from overwood.judgement import gates
from overwood.judgement.evidence import all_figures
from overwood.judgement.fire import gates as fire_gates
from overwood.judgement.gates import maturity
from overwood.judgement.reason import Reason
from overwood.judgement.rules import defaults
from records import cruise

RULES = defaults()
OAKS = [(str(n % 5 + 1), 802 if n % 2 else 833, 12.0 + n / 4, {"crown_class": "codominant"}) for n in range(40)]
WHITE_OAK_ROTATION = RULES.number("rotation_white_oak_yr")


@pytest.fixture(scope="module")
def file():
    return cruise(OAKS)


@pytest.fixture(scope="module")
def base(file):
    return all_figures(file, RULES, DEMO_DAY)


def exactly(name, value, **more):
    return {name: Figure(name=name, value=value, **more)}


# ---- gates that read one figure


@pytest.mark.parametrize(
    ("gate", "figure", "limit"),
    [
        (gates.competitors_under, "competitor_led_share", "competitor_led_share"),
        (gates.browse_low, "browse_share", "browse_share"),
    ],
)
@pytest.mark.parametrize(
    ("ends", "answer"), [((-0.02, -0.01), "yes"), ((-0.01, 0.0), "unsure"), ((-0.01, 0.01), "unsure"), ((0.01, 0.02), "no")]
)
def test_a_share_that_should_be_low_opens_the_gate_by_its_whole_interval(base, gate, figure, limit, ends, answer):
    at = RULES.number(limit)
    low, high = (at + end for end in ends)
    found = gate(base | exactly(figure, (low + high) / 2, low=low, high=high), RULES)

    assert found.answer == answer


@pytest.mark.parametrize(("height_ft", "answer"), [(11.99, "yes"), (12.0, "no"), (12.01, "no")])
def test_reproduction_is_low_enough_under_the_limit_only(base, height_ft, answer):
    assert gates.low_enough(base | exactly("tallest_oak_ft", height_ft), RULES).answer == answer


@pytest.mark.parametrize(("share", "answer", "code"), [(0.49, "no", "collars_below"), (0.51, "yes", "collars_above")])
def test_most_tall_oaks_must_have_stout_collars_before_a_burn(base, share, answer, code):
    figures = base | exactly("burnable_collar_share", share, low=share - 0.005, high=share + 0.005)
    found = gates._burn_by_collars(figures, RULES)

    assert (found.answer, found.code) == (answer, code)


@pytest.mark.parametrize(
    ("tall_ac", "one_ac", "small_ac", "answer", "code"),
    [
        (0.0, 0.0, 0.0, "yes", "no_oaks"),
        (0.0, 0.0, 5.0, "no", "small_oaks"),
        (0.0, 5.0, None, "no", "small_oaks"),
        (0.0, 0.0, None, "not looked at", "small_oaks_not_counted"),
        (5.0, 5.0, 5.0, "not looked at", "no_collars"),
        (None, 5.0, 5.0, "not looked at", "no_collars"),
    ],
)
def test_a_burn_without_collars_turns_on_the_oaks_it_would_meet(base, tall_ac, one_ac, small_ac, answer, code):
    counts = {"oak_stems_3ft_ac": tall_ac, "oak_stems_1ft_ac": one_ac, "oak_stems_under_1ft_ac": small_ac, "burnable_collar_share": None}
    figures = base | {name: Figure(name=name, value=value, unit="stems/ac") for name, value in counts.items()}
    gate = gates._burn_by_collars(figures, RULES)

    assert (gate.answer, gate.code) == (answer, code)
    if tall_ac == 0.0:
        assert f"{one_ac:.0f} stems/ac of 1 ft or taller" in gate.why
        assert ("those under 1 ft not counted" in gate.why) is (small_ac is None)


@pytest.mark.parametrize(("ends", "asks"), [((0.1, 0.2), False), ((0.8, 0.9), False), ((0.3, 0.7), True)])
def test_more_collars_are_asked_for_only_where_they_do_not_settle_the_burn(base, ends, asks):
    figures = base | exactly("burnable_collar_share", sum(ends) / 2, low=ends[0], high=ends[1])

    assert bool(gates._burn_by_collars(figures, RULES).settle) is asks


# ---- the midstory: either measure open opens it, both shut shut it


@pytest.mark.parametrize(
    ("stems_ac", "ba_ft2_ac", "answer"),
    [
        ((110, 120), (11, 12), "yes"),
        ((110, 120), (8, 9), "yes"),
        ((80, 90), (11, 12), "yes"),
        ((80, 90), (8, 9), "no"),
        ((90, 110), (8, 9), "unsure"),
        ((80, 90), (9, 11), "unsure"),
        ((90, 110), (11, 12), "yes"),
    ],
)
def test_the_midstory_shades_by_stems_or_by_basal_area(base, stems_ac, ba_ft2_ac, answer):
    ringed = cruise(OAKS, rings=(Ring(visit="c", layer="overstory", design="prism", baf_ft2_ac=10.0),
                                 Ring(visit="c", layer="midstory", design="fixed", plot_area_ac=0.02, low_dbh_in=1, high_dbh_in=5)))  # fmt: skip
    figures = base
    for name, (low, high) in (("midstory_stems_ac", stems_ac), ("midstory_ba_ft2_ac", ba_ft2_ac)):
        figures = figures | exactly(name, (low + high) / 2, low=low, high=high)

    assert gates.midstory_shades(ringed, figures, RULES, DEMO_DAY).answer == answer


@pytest.mark.parametrize(("stems_ac", "asks"), [((110, 120), False), ((80, 90), False), ((90, 110), True)])
def test_more_points_are_asked_for_only_where_the_midstory_is_not_settled(base, stems_ac, asks):
    ringed = cruise(OAKS, rings=(Ring(visit="c", layer="overstory", design="prism", baf_ft2_ac=10.0),
                                 Ring(visit="c", layer="midstory", design="fixed", plot_area_ac=0.02, low_dbh_in=1, high_dbh_in=5)))  # fmt: skip
    low, high = stems_ac
    figures = base | exactly("midstory_stems_ac", (low + high) / 2, low=low, high=high) | exactly("midstory_ba_ft2_ac", 8, low=8, high=9)

    assert gates.midstory_shades(ringed, figures, RULES, DEMO_DAY).settle == (Reason("more_points") if asks else None)


def test_the_years_to_the_limit_are_the_feet_left_over_the_pace_at_its_ends(base):
    pace, limit = RULES["growth_released_ft_yr"], RULES.number("latest_release_height_ft")
    values = gates.low_enough(base | exactly("tallest_oak_ft", limit - 3), RULES).values

    assert (values["years_low"], values["years_high"]) == (pytest.approx(3 / pace.high), pytest.approx(3 / pace.low))
    assert values["years_low"] < values["years_high"]


# ---- records that grow old: the day of the limit, and the day after


@pytest.mark.parametrize(("days", "answer"), [(3652, "yes"), (3654, "too old")])
def test_a_cruise_serves_for_its_years(file, base, days, answer):
    on = file.visits[0].visited_on + dt.timedelta(days=days)

    assert gates.cruise_fresh(file, base, RULES, on).answer == answer


@pytest.mark.parametrize(("days", "answer"), [(401, "yes"), (402, "too old")])
def test_a_count_serves_for_a_year_and_a_tenth(file, base, days, answer):
    counted = dataclasses.replace(
        file,
        visits=(*file.visits, Visit(visit="r", stand="A", kind="reproduction", visited_on=dt.date(2025, 8, 1))),
        rings=(*file.rings, Ring(visit="r", layer="reproduction", design="fixed", plot_area_ac=1 / 735)),
        points=(*file.points, *(Point(visit="r", point=str(n)) for n in range(40))),
    )
    figures = base | {"oak_verdict": Figure(name="oak_verdict", value="adequate", method="by plots")}

    assert gates.oak_enough(counted, figures, RULES, dt.date(2025, 8, 1) + dt.timedelta(days=days)).answer == answer


# ---- too few trees do not decide the crop


@pytest.mark.parametrize(("looked_at", "answer"), [(25, "yes"), (24, "unsure")])
def test_a_check_of_too_few_trees_decides_no_crop(file, looked_at, answer):
    look = Visit(visit="a", stand="A", kind="acorn", visited_on=dt.date(2025, 9, 10))
    trees = tuple(AcornTree(id=f"a{n}", visit="a", tree=str(n), species=802, bearing=True) for n in range(looked_at))
    seen = dataclasses.replace(file, visits=(*file.visits, look), acorn_trees=trees)

    assert gates.crop_good(seen, all_figures(seen, RULES, DEMO_DAY), RULES, DEMO_DAY).answer == answer


@pytest.mark.parametrize(("over", "code"), [(-1e-6, "growing"), (0.0, "growing_valuable"), (1e-6, "growing_valuable")])
def test_stems_are_valuable_from_the_limit_of_board_feet(file, monkeypatch, over, code):
    monkeypatch.setattr(fire_gates, "_boards_ac", lambda *_: RULES.number("burn_valuable_bf_ac") + over)
    found = fire_gates.dormant(file, RULES, dt.date(2026, 7, 15))

    assert (found.code, found.answer) == (code, "unsure" if code == "growing" else "no")


@pytest.mark.parametrize(("over", "burns"), [(-0.001, True), (0.0, False), (0.001, False)])
def test_a_crop_at_its_limit_keeps_fire_out(file, base, over, burns):
    limit = RULES.number("crop_bearing_share")
    found = gates.burn_safe(file, base | exactly("crop_bearing_share", limit + over, n=30, low=0.1, high=0.9), RULES, DEMO_DAY)

    assert (found.code != "acorns_on_litter") is burns


@pytest.mark.parametrize(("days", "code"), [(0, False), (1, True)])
def test_a_midstory_injected_after_its_tally_is_counted_again(days, code):
    ringed = cruise(OAKS, rings=(Ring(visit="c", layer="overstory", design="prism", baf_ft2_ac=10.0),
                                 Ring(visit="c", layer="midstory", design="fixed", plot_area_ac=0.02, low_dbh_in=1, high_dbh_in=5)))  # fmt: skip
    day = ringed.visits[0].visited_on + dt.timedelta(days=days)
    treated = dataclasses.replace(ringed, operations=(Operation(operation="i", stand="A", kind="injection", state="done", started_on=day),))
    figures = all_figures(treated, RULES, DEMO_DAY)

    assert (gates.midstory_shades(treated, figures, RULES, DEMO_DAY).code == "injected_since") is code


@pytest.mark.parametrize(("answer", "good"), [("yes", True), ("no", False), ("unsure", None)])
def test_an_answer_is_good_or_bad_as_its_question_wants_it(answer, good):
    for asked in gates.GATES.values():
        wanted = None if good is None else good == asked.yes_is_good
        assert gates.gate(asked, answer, "c", "w").good is wanted


def test_what_would_settle_a_gate_is_a_look_where_it_is_not_known_and_work_where_it_is_no():
    asked = {answer: gates._settle(answer, "measure", "act") for answer in ("yes", "no", *gates.UNKNOWN)}

    codes = {answer: reason and reason.code for answer, reason in asked.items()}
    assert codes == {"yes": None, "no": "act"} | dict.fromkeys(gates.UNKNOWN, "measure")


@pytest.mark.parametrize("note", ["", "two trees hurt"])
def test_the_note_of_a_crop_stands_behind_its_words(file, base, note):
    share = exactly("crop_bearing_share", 0.7, n=30, low=0.5, high=0.8, note=note)
    why = gates.crop_good(file, base | share, RULES, DEMO_DAY).why

    assert why.endswith(f"; {note}") if note else ";" not in why


# ---- maturity, clause by clause


def judged(file, base, weights=None, **figures):
    changed = base
    for name, value in figures.items():
        changed = changed | exactly(name, value)
    return maturity.judge(file, changed, RULES, {802: 1.0} if weights is None else weights)


BALANCED = {"large_share": 0.2, "middle_share": 0.5, "overwood_stocking_pct": 70.0, "overwood_ba_ft2_ac": 80.0, "c_line_ba_ft2_ac": 40.0}
MATURE = BALANCED | {"age_yr": 81.0, "large_share": 0.5, "middle_share": 0.35}


@pytest.mark.parametrize(
    ("changed", "verdict"),
    [
        ({}, "regenerate"),
        ({"age_yr": 80.0}, "wait"),
        ({"large_share": 0.499}, "wait"),
        ({"middle_share": 0.351}, "wait"),
    ],
    ids=["all three at their limits", "not over 80 years", "too few large trees", "too many of 14 to 20 in."],
)
def test_the_trades_rule_of_maturity_needs_all_three_clauses(file, base, changed, verdict):
    assert judged(file, base, **(MATURE | changed)).verdict == verdict


@pytest.mark.parametrize(("age_yr", "verdict"), [(WHITE_OAK_ROTATION, "regenerate"), (WHITE_OAK_ROTATION - 1, "wait")])
def test_a_stand_past_its_rotation_is_regenerated(file, base, age_yr, verdict):
    assert judged(file, base, **(BALANCED | {"age_yr": age_yr})).verdict == verdict


@pytest.mark.parametrize(("scarlet", "verdict"), [(0.3, "regenerate"), (0.299, "wait")])
def test_three_tenths_of_the_overwood_past_rotation_are_enough(file, base, scarlet, verdict):
    weights = {806: scarlet, 802: 1 - scarlet}

    assert judged(file, base, weights, **(BALANCED | {"age_yr": 75.0})).verdict == verdict


@pytest.mark.parametrize(("share", "verdict"), [(0.151, "regenerate"), (0.15, "wait")])
def test_decline_beyond_its_limit_regenerates(file, base, share, verdict):
    assert judged(file, base, **(BALANCED | {"age_yr": 60.0, "declining_share": share})).verdict == verdict


@pytest.mark.parametrize(("ba_ft2_ac", "verdict"), [(39.9, "regenerate"), (40.0, "wait"), (21.0, "regenerate")])
def test_a_stand_under_the_c_line_is_regenerated(file, base, ba_ft2_ac, verdict):
    assert judged(file, base, **(BALANCED | {"age_yr": 60.0, "overwood_ba_ft2_ac": ba_ft2_ac})).verdict == verdict


@pytest.mark.parametrize(
    ("stocking_pct", "age_yr", "verdict"),
    [
        (85.0, 60.0, "thin"),
        (84.9, 60.0, "wait"),
        (85.0, 30.0, "thin"),
        (85.0, 29.0, "wait"),
        (85.0, WHITE_OAK_ROTATION - 15, "thin"),
        (85.0, WHITE_OAK_ROTATION - 14, "wait"),
    ],
)
def test_a_thinning_pays_between_its_limits(file, base, stocking_pct, age_yr, verdict):
    assert judged(file, base, **(BALANCED | {"overwood_stocking_pct": stocking_pct, "age_yr": age_yr})).verdict == verdict


# ---- the gates of a burn


@pytest.mark.parametrize(("day", "answer"), [((2026, 3, 31), "yes"), ((2026, 4, 1), "no"), ((2026, 10, 31), "no"), ((2026, 11, 1), "yes")])
def test_a_burn_is_of_the_dormant_season_until_buds_open(day, answer):
    valuable = [(p, s, d, {"crown_class": "codominant", "grade": "2", "logs": 2.0}) for p, s, d, _ in OAKS]

    assert fire_gates.dormant(cruise(valuable), RULES, dt.date(*day)).answer == answer


def test_the_boards_of_an_acre_are_those_of_its_trees_over_the_points_they_were_tallied_at():
    graded = [(p, s, d, {"crown_class": "codominant", "grade": "2", "logs": 2.0}) for p, s, d, _ in OAKS]
    points = tuple(str(n + 1) for n in range(5))
    once, halved = (
        fire_gates.dormant(cruise(graded, points=at), RULES, dt.date(2026, 3, 1)).values["boards_ac"]
        for at in (points, (*points, *(str(n + 6) for n in range(5))))
    )

    assert once == pytest.approx(2 * halved) and once > 1_000


@pytest.mark.parametrize(("with_debris", "answer"), [(10, "yes"), (11, "unsure"), (20, "unsure")])
def test_debris_at_more_than_a_tenth_of_the_feet_is_doubted(file, with_debris, answer):
    look = Visit(visit="k", stand="A", kind="fuel", visited_on=dt.date(2025, 9, 1))
    row = Fuel(visit="k", point="1", leave_trees=100, leave_trees_with_debris=with_debris)

    assert fire_gates.foot_clear(dataclasses.replace(file, visits=(*file.visits, look), fuels=(row,)), RULES, DEMO_DAY).answer == answer


@pytest.mark.parametrize(
    ("started", "ended", "answer"),
    [
        (dt.date(2026, 3, 1), None, "unsure"),
        (dt.date(2026, 3, 2), None, "yes"),
        (dt.date(2026, 2, 1), dt.date(2026, 3, 1), "unsure"),
        (dt.date(2026, 2, 1), dt.date(2026, 3, 2), "yes"),
    ],
)
def test_a_cut_is_behind_a_burn_from_the_day_it_ended(file, started, ended, answer):
    cut = Operation(operation="o", stand="A", kind="seed cut", state="done", started_on=started, ended_on=ended)
    seen = dataclasses.replace(file, operations=(cut,))

    assert fire_gates.before_harvest(seen, dt.date(2026, 3, 1)).answer == answer


# ---- a count after the release: at its ages, and not a year beside


@pytest.mark.parametrize(("years", "due"), [(1, True), (4, False), (6, False), (7, True), (10, False)])
def test_a_released_stand_is_counted_at_its_ages(file, years, due):
    from overwood.judgement.course.due import _count_age

    cut = Operation(operation="o", stand="A", kind="removal cut", state="done", started_on=dt.date(2015, 1, 15))
    first, second = RULES["young_count_first_yr"].span, RULES["young_count_second_yr"].span
    on = dt.date(2015 + years, 1, 20)

    counted = any(low <= years + 1 + 5 / 365.25 <= high for low, high in ((first[0], first[2]), (second[0], second[2])))
    assert _count_age(dataclasses.replace(file, operations=(cut,)), RULES, on) == due == counted
