"""The written prescription: its numbers are those of evidence, rulebook and kept answers, and it prints for every stand that was cruised."""

from __future__ import annotations

import pytest

import pdf_text
from conftest import DEMO_DAY, ROOT
from overwood.desk import answers, fire, kept, marking, prescription, session, timber
from overwood.faces.papers import prescription as paper
from overwood.faces.telling import plain
from overwood.ground.errors import NotFound
from overwood.judgement.gates import GATES
from overwood.judgement.rules import load

RULES = load()
PRICES = ROOT / "demo" / "prices.toml"


def made(name, prices=None):
    return prescription.prescription(name, answers.priced(answers.question(DEMO_DAY), prices))


@pytest.mark.parametrize("name", ["S1", "S2", "S4"])
def test_the_stand_and_stock_table_closes_with_the_evidence(demo_book, name):
    found, figures = made(name), answers.evidence(name, answers.question(DEMO_DAY))

    assert sum(row.ba_ft2_ac.number for row in found.stock.rows) == pytest.approx(figures["ba_ft2_ac"].number)
    assert sum(row.all_trees_ac.number for row in found.stock.rows) == pytest.approx(figures["trees_ac"].number)
    for row in found.stock.rows:
        assert sum(row.trees_ac) == pytest.approx(row.all_trees_ac.number)


def test_what_is_wanted_is_the_rulebooks_and_what_is_now_the_evidence(demo_book):
    found = made("S1")
    for row in found.wanted:
        assert row.rule in RULES.entries
        assert row.now == found.advice.figures[row.now.name]
    assert f"{RULES.number('several_hundred_ac'):g}" in next(row.wanted for row in found.wanted if row.rule == "several_hundred_ac")


def test_the_next_step_is_the_advice_and_later_ones_wait_for_their_gates(demo_book):
    found = made("S1")
    advice = answers.advice("S1", answers.question(DEMO_DAY))
    steps = [row.step for row in found.treatments]

    assert steps == ["inject", "deer", "count", "seed_cut", "release"]
    # Injected stems are checked in the summer before the cut, and the last cut waits for three autumn counts after it.
    assert "from winter 2026-27" in " ".join(map(str, advice.follow_on)) and found.treatments[3].season.startswith("1 Dec 2026")
    assert found.treatments[4].season.startswith("1 Nov 2029")
    assert [row.step for row in found.treatments if row.is_next] == [advice.step]
    assert found.treatments[0].season == str(advice.window)
    for row in found.treatments:
        assert row.cautions
        assert all(gate == next(one for one in advice.gates if one.name == gate.name) for gate in row.opens)
        assert all(gate.name in GATES for gate in row.opens)


def test_the_course_holds_nothing_that_the_advice_does_not_lead_to(demo_book):
    thinned, old, whole = made("S6"), made("S8", PRICES), made("S7")

    assert [row.step for row in thinned.treatments] == ["thin"] and [row.rule for row in thinned.wanted] == ["thin_residual_stocking_pct"]
    # A stand to be thinned to 62 % stocking (58 to 65) is not marked by the rule of a seed cut: 115 ft2/ac at 100 %, Gingrich 1967.
    assert "about 71 (67 to 75) ft2/ac" in " ".join(thinned.guide["Leave"])
    assert [row.step for row in old.treatments] == ["measure"] and not old.wanted and not old.watched and not old.guide
    assert [row.step for row in whole.treatments] == ["release", "count"]
    # Figures too old to advise on weigh nothing in money, and a cut that is next opens no further one.
    assert old.money is None
    assert "after the cut 400 oaks/ac" in whole.watched[0].opens


def test_what_deer_and_invasive_plants_ask_for_is_prescribed_where_their_gates_say_so(demo_book):
    """S3 is over its browse limit and has stiltgrass; S1 is in doubt about deer; S7 has neither."""
    found = {name: {row.step: row for row in made(name).treatments} for name in ("S1", "S3", "S7")}

    assert "fence the stand" in found["S3"]["deer"].specification[0] and "under 33%" in found["S3"]["deer"].accepted[0]
    assert found["S3"]["invasives"].opens[0].answer == found["S3"]["deer"].opens[0].answer == "no"
    assert "fence a few plots" in found["S1"]["deer"].specification[0] and "invasives" not in found["S1"]
    assert not {"deer", "invasives"} & set(found["S7"])
    assert not any(row.is_later for row in found["S3"].values() if row.step in ("deer", "invasives", "settle"))


GUIDE = {"How much stays", "Spacing", "Never cut", "Edges and kept ground", "Check"}


def test_the_guide_for_the_markers_says_all_that_a_crew_asks(demo_book):
    rule, mapped, removal = made("S1").guide, made("S2").guide, made("S4").guide

    assert GUIDE | {"Leave, in this order", "Take, in this order"} == set(rule)
    # The map is of 5 of the 34 acres: the rule serves the rest.
    assert GUIDE | {"Tree by tree", "Leave off the map, in this order", "Take off the map, in this order"} == set(mapped)
    assert set(removal) == {"Leave", "Take", "Never cut", "Edges and kept ground", "Check"}
    low, high = RULES.number("seed_cut_residual_low_ft2_ac"), RULES.number("seed_cut_residual_high_ft2_ac")
    assert all(f"{low:g} to {high:g} ft2/ac" in " ".join(rule[part]) for part in ("How much stays", "Check"))
    # The two hickories of the roost would fall by the rule alone, which takes other species than oak.
    assert "two shaggy hickories" in " ".join(rule["Never cut"]) and "common practice" in rule["Never cut"][0]


def test_a_marking_says_where_the_advice_is_another_step(demo_book):
    ask = answers.question(DEMO_DAY)
    assert "another one" in marking.warnings("S6", ask)[0]
    # S2 is to be cut, but not firmly: its brief says to settle the doubt first, and so does its marking.
    told = marking.warnings("S2", ask)
    assert "settle the doubt" in told[0] and not any("another one" in text for text in told)
    assert "another one" in fire.injection_warnings("S6", ask)[0] and fire.injection_warnings("S1", ask) == ()


def test_an_opened_stand_is_not_cut_open_again(demo_book):
    assert "seed_cut" not in [row.step for row in made("S4").treatments]


def test_the_guide_is_the_rule_of_the_marking_and_the_money_that_of_the_choices(demo_book):
    ask = answers.priced(answers.question(DEMO_DAY), PRICES)
    found = prescription.prescription("S1", ask)
    wants = marking.wants(ask)

    assert found.guide["Leave, in this order"] == marking.rule_sheet("S1", ask, wants, marking.states_told("S1", ask, wants)).leave
    beside = timber.compare("S1", ask, timber.price_list(PRICES))
    assert [(one.name, one.total_npv) for one in found.money.choices] == [(one.name, one.total_npv) for one in beside.choices]
    assert made("S1").money is None
    # A figure lies within its own span: the paper adds no land to one and not to the other.
    for name, value, ends in paper.content(found, DEMO_DAY)["money"]:
        low, high = (float(end.replace(",", "")) for end in ends.split(" to "))
        assert low <= float(value.replace(",", "")) <= high, name


def test_every_stand_that_was_cruised_prints(demo_book, run, tmp_path):
    for name in ("S2", "S5"):
        target = tmp_path / f"{name}.pdf"
        status, out, err = run("prescription", name, "--book", demo_book, "--on", DEMO_DAY.isoformat(), "--to", target)
        assert (status, err) == (0, "")
        assert "draft until it is signed" in out
        assert target.read_bytes().startswith(b"%PDF")


def test_the_paper_says_what_was_not_run_and_what_nobody_looked_up(demo_book):
    told = paper.content(made("S1"), DEMO_DAY)
    assert "were not run" in told["courses_note"]
    assert "No price list" in told["money_note"]
    assert any("cultural site look-up" in text for text in told["not_looked_up"])
    assert {row["wanted"] for treatment in told["treatments"] for row in treatment["opens"]} == {"yes", "no"}


def test_a_stand_nobody_cruised_gets_none(sqlite_book):
    from overwood.desk import entering

    tables = {"properties": [{"property": "P"}], "stands": [{"stand": "N", "property": "P"}]}
    entering.enter(tables, today=DEMO_DAY, name="typed")
    with pytest.raises(NotFound, match="never cruised"):
        made("N")


def _said(path):
    return pdf_text.whole(path)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "kind"),
    [
        (("brief", "S1", "--to"), "advice"),
        (("injection", "S1", "--order"), "injection"),
        (("mark", "S4", "--sheet"), "rule"),
        (("choices", "S1", "--prices", PRICES, "--page"), "choices"),
        (("prescription", "S1", "--to"), "prescription"),
    ],
)
def test_papers_of_the_command_name_the_kept_answer_they_print(run, demo_book, tmp_path, words, kind):
    target = tmp_path / "paper.pdf"
    assert run(*words, target, "--book", demo_book, "--on", DEMO_DAY.isoformat())[0] == 0

    (answer,) = kept.all_of(words[1], kind)
    assert kept.digest_of(answer.result) == answer.digest
    assert answer.words.rstrip(".") in _said(target)


def test_a_book_that_may_only_be_read_keeps_nothing_and_the_paper_says_so(run, demo_book, monkeypatch, tmp_path):
    order = fire.injection("S1", answers.question(DEMO_DAY))[0]
    monkeypatch.setattr(session, "is_read_only", lambda: True)
    assert run("injection", "S1", "--order", tmp_path / "o.pdf", "--book", demo_book, "--on", DEMO_DAY.isoformat())[0] == 0

    assert kept.all_of("S1", "injection") == []
    assert f"Not kept (injection), digest {kept.digest_of(plain(order))}" in _said(tmp_path / "o.pdf")
