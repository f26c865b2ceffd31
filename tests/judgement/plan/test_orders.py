"""What of a plan is ordered: what the advice says too, and no cut that it holds back for doubt."""

from __future__ import annotations

from conftest import DEMO_DAY
from overwood.desk import answers
from overwood.judgement.course import advise
from overwood.judgement.plan import orders
from overwood.judgement.rules import load

RULES = load()


def test_a_cut_in_doubt_is_held_and_a_firm_one_ordered(demo_book):
    file = answers.stand_file("S2")
    doubtful, firm = (advise(file, rules, DEMO_DAY) for rules in (RULES, RULES.with_values({"firm_least_share": 0.0})))
    operation = next(one for one, step in orders._STEP.items() if step == "seed_cut")

    assert doubtful.step == firm.step == "seed_cut" and doubtful.cut_in_doubt
    assert orders._state(operation, 1.0, doubtful) == orders.HELD
    assert orders._state(operation, 1.0, firm) == orders.ORDERED
