"""Columns say of every case what the gates, the maturity and the branch of the course say of one."""

from __future__ import annotations

import numpy as np
import pytest

import synthetic
from overwood.judgement import gates as g
from overwood.judgement.course import draws, standings
from overwood.judgement.course.branch import Case, branch_of, margin_of, standing_of
from overwood.judgement.evidence import all_figures
from overwood.judgement.gates import maturity as m
from overwood.judgement.rules import load
from overwood.science import decisions, verdicts

RULES = load()


def case_of(seed, rules):
    known = synthetic.stand_file(seed).as_of(synthetic.ON)
    figures = all_figures(known, rules, synthetic.ON)
    gates = g.all_gates(known, figures, rules, synthetic.ON)
    return Case(known, figures, gates, m.judge(known, figures, rules), rules, synthetic.ON)


def other_limits(seed):
    """The rules with every limit somewhere in its range."""
    rng, ranges = np.random.default_rng(seed), {name: rule.span for name, rule in RULES.entries.items() if rule.high is not None}
    whole = ("firm_draws", "overwood_low_dbh_in", "canopy_looked_from_in", "interval_level")
    return RULES.with_values(
        {name: float(rng.triangular(*span)) for name, span in ranges.items() if span[0] < span[2] and name not in whole}
    )


@pytest.mark.parametrize("part", range(3))
def test_columns_answer_every_gate_as_the_gates_do(part):
    met = set()
    for seed in range(20 * part, 20 * part + 20):
        rules = RULES if part == 0 else other_limits(seed)
        case = case_of(seed, rules)
        found = standings.standings_of(draws.cases_of(case), standings.Limits(rules))
        said = [g.ANSWERS[int(np.ravel(codes)[0])] for codes in (found.cruise, found.midstory, found.crop, found.oak)]
        assert said == [case.answer(name) for name in ("cruise fresh", "midstory shades", "crop good", "oak enough")], seed
        assert standings.MATURITIES[int(np.ravel(found.maturity)[0])] == case.maturity.verdict, seed
        assert np.ravel(found.branch)[0] == branch_of(standing_of(case)), seed
        met.add(found.branch[0])
    assert len(met) > 3


def test_a_margin_too_thin_for_a_cut_is_the_same_in_columns():
    thin = []
    for seed in range(30):
        case = case_of(seed, RULES)
        margin = margin_of(case.file, case.figures, RULES)
        if margin is None:
            continue
        tallies, limits = draws.tallies_of(margin), standings.Limits(RULES)
        found = standings.too_few_plots(tallies, limits, standings.oak_sides(tallies, limits))
        assert bool(found[0]) == margin.is_too_thin(RULES), seed
        thin.append(margin.is_too_thin(RULES))
    assert {True, False} == set(thin)


def test_whole_columns_of_counts_get_the_sides_and_ends_of_one_count():
    rng, n = np.random.default_rng(4), 400
    plots = rng.integers(1, 80, n).astype(float)
    hits, z = np.floor(rng.random(n) * (plots + 1)), rng.uniform(0.5, 2.5, n)
    stems, k = hits * rng.integers(1, 9, n), 0.6
    shares, counts = verdicts.share_ends(hits, plots, z, 0.25), verdicts.count_ends(stems, plots, z, k)
    assert hits.min() == 0 and (hits == plots).any()
    for one in range(n):
        share = decisions.share_ends(hits[one], plots[one], z[one], 0.25)
        count = decisions.count_ends(stems[one], plots[one], z[one], k)
        assert [end[one] for end in shares] == pytest.approx(share, rel=1e-13, abs=1e-15)
        assert [end[one] for end in counts] == pytest.approx(count, rel=1e-13, abs=1e-15)
        low, high, mean = counts[0][one] * 735, counts[1][one] * 735, stems[one] / plots[one] * 735
        assert verdicts.sides(low, high, 400) == decisions.side(low, high, 400)
        assert verdicts.density_sides(mean, low, high, 400, 300) == decisions.density_side(mean, low, high, 400, 300)
        clumped = decisions.is_clumped(hits[one] / plots[one], 400, 1 / 735, 0.75)
        assert verdicts.are_clumped(hits[one] / plots[one], 400, 1 / 735, 0.75) == clumped


def test_every_pair_of_sides_gives_the_oak_the_same_side():
    for by_plots in (-1, 0, 1):
        for by_density in (-1, 0, 1):
            for follows in (True, False):
                for clumped in (True, False):
                    column = verdicts.oak_sides(np.array([by_plots]), np.array([by_density]), follows, np.array([clumped]))
                    assert column[0] == decisions.oak_side(by_plots, by_density, follows, clumped)
