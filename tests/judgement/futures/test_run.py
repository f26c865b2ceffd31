"""Futures of stands: starts from the count, courses as data, doubt parted from luck, and the same answer twice."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from conftest import DEMO_DAY, ROOT
from overwood.desk import answers, futures
from overwood.ground.errors import BadRule, NotFound
from overwood.ground.species import by_code
from overwood.judgement import prices
from overwood.judgement.evidence import all_figures
from overwood.judgement.evidence.reproduction import count_of, low_height_ft
from overwood.judgement.futures import courses, run, start
from overwood.judgement.rules import load
from overwood.science import regeneration as science
from overwood.science import reproduction

# The futures compile for half a minute on a fresh machine.
pytestmark = pytest.mark.slow

RULES = load()


def made(name="S1", **more):
    options = {"count": 400, "sets": 40, "seed": 1} | more
    return futures.futures(name, answers.question(DEMO_DAY), **options)[0]


def of(found, name):
    return next(outcome for outcome in found.outcomes if outcome.course.name == name)


def test_the_demo_stand_gets_every_built_in_course_in_the_order_of_sense(demo_book):
    found = made()

    assert len(found.outcomes) == 12
    assert of(found, "do nothing").years_to_release is None
    cut, shelter, injected = (of(found, name).dominant_oaks_ac[1] for name in ("cut all now", "two cuts", "inject, two cuts"))
    assert cut < shelter < injected
    for outcome in found.outcomes:
        assert 0 <= outcome.oak_stand_chance <= outcome.oak_part_chance <= 1
        assert outcome.oak_stand_span[0] <= outcome.oak_stand_chance + 0.05
        assert 0 <= outcome.not_known_share <= 1
    assert found.rules_version == RULES.version


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
    one, same, other = made(), made(), made(seed=2)
    monkeypatch.setattr(run, "_BLOCK", 96)
    blocks = made()

    assert one == same == blocks
    assert one != other


def test_a_stopped_run_sums_up_what_was_done(demo_book, monkeypatch):
    monkeypatch.setattr(run, "_BLOCK", 80)
    found = made(progress=lambda done: done < 160)

    assert found.futures == 160
    assert len(found.outcomes) == 12


def test_with_parameters_known_the_spread_is_luck(demo_book):
    ask = answers.question(DEMO_DAY)
    file = answers.stand_file("S1").as_of(DEMO_DAY)
    known = {
        name: dataclasses.replace(ask.rules[name], low=ask.rules.number(name), high=ask.rules.number(name)) for name in run.SOURCES.values()
    }
    fixed = dataclasses.replace(ask.rules, entries={**ask.rules.entries, **known})
    chosen = (next(course for course in courses.load() if course.name == "inject, two cuts"),)
    figures = all_figures(file, ask.rules, DEMO_DAY)

    sure = run.run(file, figures, fixed, chosen, futures=2_000, sets=40, seed=1).outcomes[0]
    unsure = run.run(file, figures, ask.rules, chosen, futures=2_000, sets=40, seed=1).outcomes[0]

    assert sure.not_known_share < 0.05 < unsure.not_known_share
    assert sure.drivers == ()
    assert all(share <= 1 for _, share in unsure.drivers)


def test_doubt_is_parted_from_luck_as_in_a_made_up_case():
    # Analysis of variance: sets differ by sd 3, luck within them by sd 4, so 9 of 25 parts of the variance are not knowing.
    rng, sets, each = np.random.default_rng(5), 400, 40
    which = np.repeat(np.arange(sets), each)
    values = np.repeat(rng.normal(0, 3, sets), each) + rng.normal(0, 4, sets * each)

    assert run._between(values, which) == pytest.approx(9 / 25, abs=0.03)
    assert run._between(rng.normal(0, 4, sets * each), which) < 0.01


def test_parameters_stay_in_their_ranges():
    bare = start.Start("v", None, (), None, {}, 0.8, True, ())
    drawn = start.draw_parameters(RULES, bare, 500, np.random.default_rng(1))

    for name, entry in start.SOURCES.items():
        rule, scale, place = RULES[entry], 0.8 if name == "crop_mean_ac" else 1.0, run.science.PARAMETERS.index(name)
        assert drawn[:, place].min() >= scale * rule.low - 1e-12, name
        assert drawn[:, place].max() <= scale * rule.high + 1e-12, name
        assert drawn[:, place].std() > 0, name


def test_the_start_is_the_count(demo_book):
    file = answers.stand_file("S3").as_of(DEMO_DAY)
    begun = start.start_of(file, all_figures(file, RULES, DEMO_DAY), RULES)
    visit = file.latest("reproduction")

    assert begun.plots == sum(point.visit == visit.visit and not point.fenced for point in file.points)
    assert (np.diff(begun.counted.oak, axis=1) <= 0).all()
    assert (begun.counted.root >= begun.counted.oak).all()
    assert begun.stand["plot_ac"] == pytest.approx(1 / 735, rel=0.05)
    assert begun.counted.oak.max() >= 4.5


@pytest.mark.parametrize("name", ["S1", "S2", "S3", "S4", "S5"])
def test_the_simulated_forester_asks_the_gates_of_the_advice(demo_book, name):
    # Shown every plot of the stand's own count, the compiled gate says what the advice says of it.
    file = answers.stand_file(name).as_of(DEMO_DAY)
    figures = all_figures(file, RULES, DEMO_DAY)
    if not figures["oak_verdict"].measured:
        pytest.skip(f"{name} has no count")
    begun = start.start_of(file, figures, RULES)
    gate = start.gate_row(RULES)
    gate["sampled_share"] = 1.1
    # The advice takes a height class at its lower limit, the simulation at its middle: the forester of this test sees lower limits.
    count = count_of(file, file.latest("reproduction"))
    low = np.zeros_like(begun.counted.oak)
    for at, point in enumerate(count.points):
        heights = [low_height_ft(x) for x in count.lines if x.point == point.point and by_code(x.species).is_oak for _ in range(x.stems)]
        tallest = sorted(heights, reverse=True)[: low.shape[1]]
        low[at, : len(tallest)] = tallest
    floor = science.Floor(low, low, begun.counted.kind, np.zeros((len(begun.species), 3)), low[:, 0], low[:, 0], low[:, 0])
    sprouts = figures["oak_sprouts_ac"].number if figures["oak_sprouts_ac"].measured else 0.0

    side, _ = science.oak_gate(floor, count.plot_ac, sprouts, gate[0])

    assert reproduction.SIDES[side] == figures["oak_verdict"].value


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
    with pytest.raises(NotFound, match="cannot be read"):
        courses.load(tmp_path / "none.toml")


def test_the_present_value_is_that_of_the_dated_sums():
    # Two futures by hand: injected in year 0, cut in year 2 from 110 to 55 ft2/ac, released in year 5; and never released.
    course = next(course for course in courses.load() if course.name == "inject, two cuts")
    course = dataclasses.replace(course, numbers={**course.numbers, "residual_ft2_ac": 55.0})
    money = run.Money(2000.0, {"injection": 100.0, "burn": 80.0, "marking": 30.0}, 1.5, 0.02, 0.04)
    rows = np.array([[5, 0, 0, 0, 0, 1, 2, 0], [-1, 0, 0, 0, 0, 0, 2, 0]], dtype=float)

    first, second = run.npv(course, rows, 110.0, money)

    sale = (1000 * 1.02**2 - 30) / 1.04**2
    assert second == pytest.approx(-100 + sale)
    assert first == pytest.approx(-100 - 80 / 1.04**2 + sale + 1000 * 1.02**5 / 1.04**5)


def test_money_is_shown_with_prices_and_waiting_earns_what_growth_falls_short(demo_book):
    found = futures.futures("S1", answers.question(DEMO_DAY), count=60, sets=20, seed=1, prices=prices.load(ROOT / "demo" / "prices.toml"))[
        0
    ]

    now, later = (of(found, name).npv_usd_ac[1] for name in ("cut all now", "wait ten years, then cut"))
    assert later / now == pytest.approx((1.02 / 1.04) ** 10, rel=1e-6)
    assert of(found, "do nothing").npv_usd_ac == (0, 0, 0)
