"""The foot of a tally sheet: slips of typing change it, and nothing is stored before it fits."""

from __future__ import annotations

import random

import pytest

from overwood.desk import foot_sums
from overwood.desk.tally_forms import FORMS

SLIPS = ("a line dropped", "a line doubled", "a digit swapped", "a plot left out")


def sheet(kind, chance):
    """Lines, plots and foot of a sheet as a careful person sums it, in tenths so that no rounding helps."""
    form = FORMS[kind]
    lines = []
    for _ in range(24):
        line = {"point": str(chance.randint(1, 20)), "species": "white oak", "stems": str(chance.randint(1, 40))}
        line |= {"dbh_in": f"{chance.randint(50, 300) / 10}", "height_ft": str(chance.randint(40, 110)), "browsed": "2"}
        lines.append({name: line.get(name, "") for name in form.columns})
    sums = {name: sum(round(10 * float(line[name] or 0)) for line in lines) / 10 for name in form.summed}
    return form, lines, 20, {"lines": "24", "plots": "20"} | {name: f"{total:g}" for name, total in sums.items()}


def slipped(kind, chance, form, lines, plots):
    typed = [dict(line) for line in lines]
    place = chance.randrange(len(typed))
    if kind == "a line dropped":
        del typed[place]
    elif kind == "a line doubled":
        typed.insert(place, dict(typed[place]))
    elif kind == "a plot left out":
        plots -= 1
    else:
        cells = [(line, name, at) for line in typed for name in form.summed for at in range(len(line[name]) - 1)]
        line, name, at = chance.choice([(w, n, i) for w, n, i in cells if w[n][i] != w[n][i + 1] and w[n][i : i + 2].isdigit()])
        text = line[name]
        line[name] = text[:at] + text[at + 1] + text[at] + text[at + 2 :]
    return typed, plots


@pytest.mark.parametrize("kind", ["cruise", "reproduction"])
@pytest.mark.parametrize("slip", SLIPS)
def test_a_hundred_planted_slips_of_a_hundred_are_seen(kind, slip):
    seen = 0
    for seed in range(100):
        chance = random.Random(f"{kind} {slip} {seed}")
        form, lines, plots, foot = sheet(kind, chance)
        assert foot_sums.problems(form, lines, plots, foot) == []
        seen += bool(foot_sums.problems(form, *slipped(slip, chance, form, lines, plots), foot))
    assert seen == 100


def test_a_blank_stem_cell_is_one_stem_as_the_contract_has_it():
    lines = [{"point": "1", "species": "802", "dbh_in": "14.2"}, {"point": "1", "species": "802", "dbh_in": "0.1", "stems": "3"}]
    foot = {"lines": "2", "plots": "1", "stems": "4", "dbh_in": "14.3"}
    assert foot_sums.problems(FORMS["cruise"], lines, 1, foot) == []


def test_half_a_foot_is_a_fault_and_a_blank_foot_is_none():
    lines = [{"point": "1", "species": "802", "dbh_in": "14.2", "stems": "1"}]
    missing = foot_sums.problems(FORMS["cruise"], lines, 1, {"lines": "1"})
    assert [one.column for one in missing] == ["plots", "dbh_in", "stems"]
    assert foot_sums.problems(FORMS["cruise"], lines, 1, {}) == []


def test_a_sum_that_is_no_number_says_so():
    wrong = foot_sums.problems(FORMS["light"], [{"point": "1", "light_pct": "ten"}], 0, {"lines": "one", "light_pct": "10"})
    assert [(one.column, one.found) for one in wrong] == [("lines", "one"), ("light_pct", "10")]
