"""The management plan: every stand of the property is bound or named, and no other property's."""

from __future__ import annotations

import dataclasses

import pytest

import pdf_text
from overwood.desk import management_plan, places, session
from overwood.desk import prescription as prescribing
from overwood.desk.kept import NamedAnswer
from overwood.faces.papers import management_plan as paper
from overwood.ground.errors import Misuse, NotFound
from tags import faults


def test_every_stand_is_bound_or_named_with_what_it_lacks(demo_book, ask, tmp_path, monkeypatch):
    # One real prescription is enough to see how they are bound; making one of each stand is long work.
    first = prescribing.prescription("S4", dataclasses.replace(ask, rules=ask.rules.with_value("drawn_stand_draws", 2)))

    def prescribed(name, _):
        if name == "S8":
            raise NotFound("S8 was never cruised.", remedy="Cruise it.")
        return NamedAnswer(dataclasses.replace(first, stand=name), None, f"Kept for {name} under its digest")

    monkeypatch.setattr(prescribing, "answer_of", prescribed)

    plan = management_plan.management_plan(ask)
    paper.write(plan, tmp_path / "plan.pdf")

    assert faults((tmp_path / "plan.pdf").read_bytes()) == []
    pages = pdf_text.pages(tmp_path / "plan.pdf")
    assert {one.answer.stand for one in plan.prescriptions} | set(plan.without) == {stand.stand for stand in session.stands()}
    assert "S8: S8 was never cruised. Cruise it." in pages[0]
    for number in range(1, 8):
        assert any(page.startswith(f"Prescription, stand S{number} ") for page in pages)
        assert any(f"Kept for S{number} under its digest" in page for page in pages)
    assert "160 acres" in pages[0] and "What is due" in pages[0]
    assert [row.window for row in plan.calendar] == sorted(row.window for row in plan.calendar)


def test_of_several_properties_one_must_be_named_and_a_stopped_plan_writes_nothing(demo_book, ask, monkeypatch):
    with pytest.raises(NotFound, match="no stand of 'nowhere'"):
        management_plan.management_plan(ask, "nowhere")
    with monkeypatch.context() as patch:
        patch.setattr(prescribing, "answer_of", lambda name, _: None)
        with pytest.raises(Misuse, match="stopped"):
            management_plan.management_plan(ask, progress=lambda _: False)
    known = dict(places.lands())
    monkeypatch.setattr(places, "lands", lambda: {**known, "another": next(iter(known.values()))})
    with pytest.raises(Misuse, match="2 properties"):
        management_plan.management_plan(ask)
