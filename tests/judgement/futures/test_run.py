"""Futures of stands: starts from the count, courses as data, doubt parted from luck, and the same answer twice."""

from __future__ import annotations

import dataclasses
import functools
from collections import Counter

import numpy as np
import pytest

import plain_gate
from conftest import DEMO_DAY, ROOT
from overwood.desk import answers, futures
from overwood.ground.errors import BadRule, NotFound
from overwood.ground.species import by_code
from overwood.judgement import gates, prices
from overwood.judgement.course.outlook import outlook_of
from overwood.judgement.evidence import acorns, all_figures
from overwood.judgement.evidence.reproduction import count_of, low_height_ft
from overwood.judgement.futures import cash, causes, courses, draws, run, start
from overwood.judgement.money import choices
from overwood.judgement.rules import load
from overwood.science import regeneration as science
from overwood.science import reproduction
from plain_trees import PlainTrees

# The futures compile once on a fresh machine.
pytestmark = pytest.mark.slow

RULES = load()
PLANTED = """[[course]]
name = "inject, plant oak, two cuts"
inject = true
residual_ft2_ac = "site"
planted_ac = 200
crop_wait_yr = 6
count_from_yr = 3
release_wait_yr = 10
release_anyway = true
crop_trees = 100
"""


@pytest.fixture(autouse=True)
def _few_rows(monkeypatch):
    # What drives an answer is tested in test_causes; here it would take most of the time.
    monkeypatch.setattr(causes, "_FEWEST", 8)
    monkeypatch.setattr(causes, "_MOST", 8)


@functools.cache
def made(name="S1", **more):
    """Futures of a demo stand; a run that was asked for before is not run again."""
    options = {"count": 150, "sets": 40, "seed": 1} | more
    return futures.futures(name, answers.question(DEMO_DAY), **options)[0]


def of(found, name):
    return next(outcome for outcome in found.outcomes if outcome.course.name == name)


def test_the_demo_stand_gets_every_built_in_course_in_the_order_of_sense(demo_book):
    found = made()

    assert [outcome.course.name for outcome in found.outcomes] == [course.name for course in courses.load()]
    assert of(found, "do nothing").years_to_release is None
    shelter, injected, fenced = (
        of(found, name).dominant_oaks_ac[1] for name in ("two cuts", "inject, two cuts", "inject, fence, two cuts")
    )
    assert shelter < injected < fenced
    for outcome in found.outcomes:
        assert 0 <= outcome.oak_stand_chance <= outcome.oak_part_chance <= 1
        assert outcome.oak_stand_span[0] <= outcome.oak_stand_chance + 0.05
        assert 0 <= outcome.oak_stand_error < 0.1
        assert sum(outcome.leaders_share.values()) == pytest.approx(1, abs=0.02)
        assert 0 <= outcome.not_known_share <= 1
    assert found.rules_version == RULES.version
    # Command, page, paper and the advice's outlook call one course the best.
    assert found.best.course.name == found.against_best[0].better == outlook_of(found, 1, DEMO_DAY).course
    assert found.by_oak[0] is found.best and sorted(map(id, found.by_oak)) == sorted(map(id, found.outcomes))


def test_a_course_is_not_named_by_a_step_that_is_not_done(demo_book):
    file = answers.stand_file("S2").as_of(DEMO_DAY)
    begun = start.start_of(file, all_figures(file, load(), DEMO_DAY), load())
    here, told = courses.of_stand(courses.load(), begun, 1.0)
    names = [course.name for course in here]
    assert begun.stand["midstory"] == 0 and told[0].code == "midstory_gone"
    assert "one cut" in names and "fence, two cuts" in names and len(set(names)) == len(names)
    assert not [name for name in names if "inject" in name]
    shaded = dataclasses.replace(begun, stand={**begun.stand, "midstory": 1.0})
    assert "inject, one cut" in [course.name for course in courses.of_stand(courses.load(), shaded, 1.0)[0]]


def test_what_never_came_has_an_error_too():
    never, once = np.zeros(200, dtype=bool), np.arange(200) == 7
    sets = np.arange(200) // 2
    ran = run._Ran(np.zeros((1, 200, 2)), np.zeros((200, 1)), sets, sets, sets)

    none, every, one = run._chance_errors((never, ~never, once), ran)
    assert 0 < none == every < one < 0.01


def test_the_error_of_even_draws_is_what_their_seed_does():
    # Even draws take out of a mean what each input does by itself (Stein 1987): of this outcome that is all but the noise.
    def found(seed):
        rng = np.random.default_rng(seed)
        shares = draws.even_shares(100, 3, rng)
        told = 3 * shares[:, 0] + shares[:, 1] ** 2 + rng.normal(0, 0.5, 100)
        return told.mean(), draws.not_told(told[:, None], shares).std(ddof=1) / 10, told.std(ddof=1) / 10

    means, said, plain = np.array([found(seed) for seed in range(400)]).T
    assert said.mean() == pytest.approx(means.std(ddof=1), rel=0.1)
    assert plain.mean() > 1.8 * means.std(ddof=1)


def test_cuts_that_are_made_are_in_no_name_and_no_second_row(demo_book):
    for name in ("S3", "S4", "S5"):
        file = answers.stand_file(name).as_of(DEMO_DAY)
        begun = start.start_of(file, all_figures(file, load(), DEMO_DAY), load())
        here, told = courses.of_stand(courses.load(), begun, RULES.number("future_no_cut_above_times"))
        names = [course.name for course in here]
        # S3 stands at 58 ft2/ac: one course would open it to 50 first, as S4 and S5 are.
        assert ("two cuts" in names) == (name == "S3")
        assert any(one.endswith("last cut") for one in names)
        assert not [one for one in names if "three cuts" in one or "one cut" in one]
        assert len({tuple(course.row) for course in here}) == len(set(names)) == len(names)
        # A name of the file leads to one course alone.
        known = [*names, *(listed for course in here for listed in course.listed)]
        assert len(known) == len(set(known)) and "two cuts" in known
        assert "'inject, one cut' is left out: the first of two cuts is made here" in map(str, told)
        # A note names what stands in the table.
        assert {note.values["other"] for note in told if note.code == "same_course"} <= set(names)


def test_who_waits_for_the_compiler_is_told(demo_book, monkeypatch, tmp_path):
    made()
    assert futures.compiles_first() == ""
    begun = []
    monkeypatch.setattr("overwood.desk.warm.ahead", lambda: begun.append("beside it"))
    monkeypatch.setattr("overwood.science.compiling.folder", lambda room: str(tmp_path))
    assert "compiling once" in futures.compiles_first() and begun


def test_dominants_are_told_by_species(demo_book):
    found = made()
    for outcome in found.outcomes:
        by_species = outcome.dominants_by_species_ac
        assert {"white oak", "northern red oak", "planted oaks"} <= set(by_species)
        assert all(value >= 0 for value in by_species.values())
    shelter = of(found, "inject, two cuts").dominants_by_species_ac
    assert shelter["white oak"] > 0 and shelter["planted oaks"] == 0
    assert of(found, "inject, plant oak, two cuts").dominants_by_species_ac["planted oaks"] > 0


@pytest.mark.slow
def test_the_same_seed_gives_the_same_answer_and_blocks_change_nothing(demo_book, monkeypatch):
    run_anew = made.__wrapped__
    one, other = (run_anew(count=48, sets=24, seed=seed) for seed in (1, 2))
    monkeypatch.setattr(run, "_BLOCK", 16)
    blocks = run_anew(count=48, sets=24)

    assert one == blocks
    assert one != other


def test_a_stopped_run_sums_up_what_was_done(demo_book, monkeypatch):
    monkeypatch.setattr(run, "_BLOCK", 80)
    found = made.__wrapped__(count=200, progress=lambda done: done < 160)

    assert found.futures == 160
    assert len(found.outcomes) == len(courses.load())


def test_futures_are_added_until_the_seed_moves_no_chance_by_a_point_more_than_asked(demo_book, monkeypatch):
    monkeypatch.setattr(futures, "LEAST", 100)
    monkeypatch.setattr(futures, "POINT", 0.03)
    found = made.__wrapped__(count=None, sets=100)

    assert found.futures > 100
    assert found.seed_error <= 0.03
    assert found.seed_error >= max(max(one.oak_stand_error, one.oak_part_error) for one in found.outcomes)


def test_the_error_printed_is_that_of_every_chance_printed():
    # One course never makes oak and is released in half of the futures: the error of the chance of release is 0.5 / (100 - 1) ** 0.5.
    results = np.zeros((1, 100, len(science.RESULTS) + 1))
    results[0, :50, 0] = -1
    sets = np.arange(100)
    ran = run._Ran(results, np.zeros((100, 1)), sets, sets, sets)

    assert run.seed_error(ran, RULES) == pytest.approx(0.5 / 99**0.5)


def test_rounds_end_under_a_point_however_many_that_takes(demo_book, monkeypatch):
    rounds = iter([0.05] * 11 + [0.009])
    monkeypatch.setattr(futures, "LEAST", 20)
    monkeypatch.setattr(run, "seed_error", lambda ran, rules: next(rounds, 0.009))
    assert made.__wrapped__(count=None, sets=20).futures == 12 * 20


def test_the_printed_error_is_what_the_seed_does(demo_book, tmp_path):
    planted = tmp_path / "c.toml"
    planted.write_text(PLANTED, encoding="utf-8")
    seeds = [made(seed=seed, count=200, courses=planted).outcomes[0] for seed in range(6)]
    moved = np.std([one.oak_stand_chance for one in seeds], ddof=1)
    said = np.mean([one.oak_stand_error for one in seeds])

    # Draws spread evenly over the ranges move less than independent ones would.
    assert 0.3 * said < moved < 1.5 * said


def test_no_two_courses_come_to_the_same(demo_book):
    for name in ("S2", "S4"):
        found = made(name)
        rows = {(one.dominant_oaks_ac, one.years_to_release, one.oak_part_chance, one.released_chance) for one in found.outcomes}
        assert len(rows) == len(found.outcomes)
        assert any(note.code in ("same_course", "same_outcome") for note in found.notes)


def test_with_parameters_known_the_spread_is_luck(demo_book):
    ask = answers.question(DEMO_DAY)
    file = answers.stand_file("S1").as_of(DEMO_DAY)
    known = {
        name: dataclasses.replace(ask.rules[name], low=ask.rules.number(name), high=ask.rules.number(name))
        for name in draws.SOURCES.values()
    }
    fixed = dataclasses.replace(ask.rules, entries={**ask.rules.entries, **known})
    chosen = (next(course for course in courses.load() if course.name == "inject, two cuts"),)
    figures = all_figures(file, ask.rules, DEMO_DAY)

    sure = run.run(file, figures, fixed, chosen, futures=1_000, sets=40, seed=1).outcomes[0]
    unsure = run.run(file, figures, ask.rules, chosen, futures=1_000, sets=40, seed=1).outcomes[0]

    assert sure.not_known_share < 0.05 < unsure.not_known_share
    # With nothing unknown the span of the chance is no wider than the chance's own error.
    assert sure.oak_part_chance - 0.05 < sure.oak_stand_chance or sure.oak_stand_span[1] - sure.oak_stand_span[0] < 0.05
    assert [name for name, _ in sure.drivers] == ["luck"]
    assert all(share <= 1 for _, share in unsure.drivers)


def test_luck_within_a_draw_is_taken_out_of_the_span():
    rng, sets, each = np.random.default_rng(6), 500, 20
    which = np.repeat(np.arange(sets), each)
    low, high = run.span_of_chance(rng.random(sets * each) < 0.15, which)
    assert high - low < 0.06
    chances = np.repeat(rng.beta(2, 8, sets), each)
    low, high = run.span_of_chance(rng.random(sets * each) < chances, which)
    assert (low, high) == pytest.approx(tuple(np.percentile(chances, [10, 90])), abs=0.03)


def test_doubt_is_parted_from_luck_as_in_a_made_up_case():
    # Analysis of variance: sets differ by sd 3, luck within them by sd 4, so 9 of 25 parts of the variance are not knowing.
    rng, sets, each = np.random.default_rng(5), 400, 40
    which = np.repeat(np.arange(sets), each)
    values = np.repeat(rng.normal(0, 3, sets), each) + rng.normal(0, 4, sets * each)

    assert run._between(values, which) == pytest.approx(9 / 25, abs=0.03)
    assert run._between(rng.normal(0, 4, sets * each), which) < 0.01


@pytest.mark.parametrize("name", draws.varied(RULES))
def test_the_value_is_the_mean_of_what_is_drawn_and_the_range_its_bounds(name):
    low, value, high = RULES[draws.SOURCES[name]].span
    drawn = draws.quantiles(low, value, high, (np.arange(4_000) + 0.5) / 4_000, 4.0)

    assert low <= drawn.min() and drawn.max() <= high
    assert drawn.mean() == pytest.approx(value, abs=0.002 * (high - low))
    assert drawn.std() > 0.04 * (high - low)


def test_drawn_sets_keep_the_means_and_take_the_canopys_oak_share():
    sets = draws.draw_parameters(RULES, 0.8, 1_000, np.random.default_rng(1))
    for name, entry in draws.SOURCES.items():
        low, value, high = RULES[entry].span
        scale = 0.8 if name == "crop_mean_ac" else 1.0
        assert sets[:, science.PARAMETERS.index(name)].mean() == pytest.approx(scale * value, abs=0.005 * (high - low) + 1e-9), name


def test_the_start_is_the_count(demo_book):
    file = answers.stand_file("S3").as_of(DEMO_DAY)
    begun = start.start_of(file, all_figures(file, RULES, DEMO_DAY), RULES)
    visit = file.latest("reproduction")
    count = count_of(file, visit)
    oaks = sum(line.stems for line in count.lines if by_code(line.species).is_oak)

    assert begun.plots == sum(point.visit == visit.visit and not point.fenced for point in file.points)
    assert begun.counted.stems[:, :, 0].sum() == oaks
    assert begun.per_plot == 1
    assert begun.counted.stems[:, :, 1].max() >= 4.5


def test_a_crop_that_was_looked_at_is_not_drawn_anew(demo_book):
    # The futures say of the last autumn's crop what the advice's gate says of it.
    asked = 0
    for name, whole in answers.all_files().items():
        file = whole.as_of(DEMO_DAY)
        visit = file.latest("reproduction")
        figures = all_figures(file, RULES, DEMO_DAY)
        share = figures["crop_bearing_share"]
        if visit is None or not share.measured or not share.n:
            continue
        autumns = start.crops_seen(file, RULES, visit.visited_on)
        seen = autumns[acorns.crop_year(DEMO_DAY) - visit.visited_on.year] if len(autumns) else np.zeros((2, 3))
        gate = gates.crop_good(file, figures, RULES, DEMO_DAY).answer
        if any(doubt.code == "out_of_season" for doubt in share.doubts):
            assert not seen.any()
            continue
        asked += 1
        bearing, looked, side = next(row for row in seen if row[1] == share.n and row[0] == pytest.approx(share.number * share.n))
        assert {1: gates.YES, 0: gates.UNSURE, -1: gates.NO}[side] == gate, (name, bearing, looked)
    assert asked > 2


@pytest.mark.parametrize("name", ["S1", "S2", "S3", "S4", "S5"])
def test_the_simulated_forester_asks_the_gates_of_the_advice(demo_book, name):
    # Shown every plot of the stand's own count, the compiled gate says what the advice says of it.
    file = answers.stand_file(name).as_of(DEMO_DAY)
    figures = all_figures(file, RULES, DEMO_DAY)
    if not figures["oak_verdict"].measured:
        pytest.skip(f"{name} has no count")
    begun = start.start_of(file, figures, RULES)
    gate = start.gate_row(RULES, seen_share=1.1)
    # The advice takes a height class at its lower limit, the simulation somewhere in it: the forester of this test sees lower limits.
    count = count_of(file, file.latest("reproduction"))
    stems = np.zeros((count.n, science.SLOTS, 6))
    for at, point in enumerate(count.points):
        heights = Counter()
        for line in count.lines:
            if line.point == point.point and by_code(line.species).is_oak:
                heights[low_height_ft(line)] += line.stems
        for slot, (height, number) in enumerate(sorted(heights.items(), reverse=True)[: science.SLOTS]):
            stems[at, slot, :2] = number, height
    floor = science.Floor(stems, np.zeros((count.n, 3)), np.zeros((len(begun.species) + 2, 3)))
    sprouts = figures["oak_sprouts_ac"].number if figures["oak_sprouts_ac"].measured else 0.0

    side, _ = science.oak_gate(floor, count.plot_ac, sprouts, gate[0], 1, 0)

    assert reproduction.SIDES[side] == figures["oak_verdict"].value


def test_the_compiled_gate_is_the_plain_gate_on_random_floors():
    sides = plain_gate.sides(400, seed=3)

    assert (sides[:, 0] == sides[:, 1]).all()
    # Open, shut and unsure all come up.
    assert set(sides[:, 0]) == {-1, 0, 1}


@pytest.mark.parametrize(("stand", "words"), [("S8", "no reproduction count")])
def test_a_stand_that_cannot_be_simulated_is_told_why(demo_book, stand, words):
    with pytest.raises(NotFound, match=words):
        made(stand)


def written(tmp_path, text):
    (tmp_path / "c.toml").write_text(text, encoding="utf-8")
    return courses.load(tmp_path / "c.toml")


def test_a_course_of_ones_own_is_simulated(demo_book, tmp_path):
    (tmp_path / "c.toml").write_text('[[course]]\nname = "late"\ncut_year = 7\n', encoding="utf-8")
    found = made(courses=tmp_path / "c.toml")

    assert [outcome.course.name for outcome in found.outcomes] == ["late"]
    assert found.outcomes[0].years_to_release == (7, 7, 7)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "holds no course"),
        ("[[course]]\ncut_year = 1", "course 1 has no name"),
        ('[[course]]\nname = "a"\nburn = 1', "has 'burn'"),
        ('[[course]]\nname = "a"\nburns = 40', "burns is 40"),
        ('[[course]]\nname = "a"\nburns = "two"', "burns is 'two'"),
        ('[[course]]\nname = "a"\ncut_year = 1\nresidual_ft2_ac = 60', "both a seed cut and a cut_year"),
        ('[[course]]\nname = "a"\n[[course]]\nname = "a"', "two courses named 'a'"),
        ("[[course", "not readable TOML"),
    ],
)
def test_a_course_that_cannot_be_used_says_where(tmp_path, text, words):
    with pytest.raises(BadRule, match=words):
        written(tmp_path, text)
    with pytest.raises(BadRule, match="cannot be read"):
        courses.load(tmp_path / "none.toml")


def test_the_present_value_is_that_of_the_dated_sums():
    # Two futures by hand: injected in year 0, burned in year 1, cut in year 2 from 110 to 55 ft2/ac, released in year 5; and never released.
    course = next(course for course in courses.load() if course.name == "inject, two cuts")
    course = dataclasses.replace(course, numbers={**course.numbers, "residual_ft2_ac": 55.0})
    money = cash.Money(PlainTrees(2000.0, 0.02, 110.0), {"injection": 100.0, "burn": 80.0, "marking": 30.0}, 1.5, 0.04, 10.0)
    rows = np.zeros((2, len(science.RESULTS)))
    for row, came in zip(
        rows, ({"release_year": 5, "burns": 1, "burn_year": 1, "cut_year": 2}, {"release_year": -1, "cut_year": 2}), strict=True
    ):
        for key, value in came.items():
            row[science.RESULTS.index(key)] = value

    first, second = cash.present_value(course, rows, money)

    sale = (1000 * 1.02**2 - 30) / 1.04**2
    assert second == pytest.approx(-100 + sale)
    assert first == pytest.approx(-100 - 80 / 1.04 + sale + (1000 * 1.02**5 - 30) / 1.04**5)

    # A fee of a tenth is taken from both sales; each work's cost share comes a year after it.
    paid = dataclasses.replace(money, fee_share=0.1, paid_back_usd_ac={"injection": 40.0, "burn": 20.0})
    sale = (900 * 1.02**2 - 30) / 1.04**2
    expected = -100 + 40 / 1.04 - 80 / 1.04 + 20 / 1.04**2 + sale + (900 * 1.02**5 - 30) / 1.04**5
    assert cash.present_value(course, rows, paid)[0] == pytest.approx(expected)


def test_money_is_shown_with_prices_and_waiting_is_worth_what_the_choices_say(demo_book):
    listed = prices.load(ROOT / "demo" / "prices.toml")
    found, file = futures.futures("S1", answers.question(DEMO_DAY), count=60, sets=20, seed=1, prices=listed)

    now, later = (of(found, name).npv_usd_ac[1] for name in ("cut all now", "wait ten years, then cut"))
    rules = answers.question(DEMO_DAY).rules.with_values({"wait_tried_yr": 10.0})
    said = {one.name: one.worth for one in choices.compare(file, all_figures(file, rules, DEMO_DAY), rules, listed).choices}
    assert (now, later) == (pytest.approx(said["cut all now"]), pytest.approx(said["wait"]))
    assert of(found, "do nothing").npv_usd_ac == (0, 0, 0)
