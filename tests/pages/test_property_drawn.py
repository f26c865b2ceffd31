"""The property page draws only what changed, and shows what changed at once."""

from __future__ import annotations

import html
import re

from overwood.faces.pages import asking, judging


def _page(owner, query=""):
    judging.whole(asking.question())
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", owner.get(f"/{query}").content.decode())).split())


def test_a_rule_changed_shows_on_a_page_that_was_drawn_before(owner, monkeypatch, demo_book):
    monkeypatch.setattr(asking.DESK, "own_rules", demo_book.with_name("book.rules.toml"))
    before, again = _page(owner), _page(owner)
    assert before == again and "S6 Pole Ground" in before and "Mark a thinning to 62 % stocking" in before

    drawn = {name: asking.DESK.drawn.get(name) for name in ("row S6", "map")}
    owner.post("/rules/", {"name": "thin_residual_stocking_pct", "value": "60", "note": "lighter here"})
    changed = _page(owner)
    assert "Mark a thinning to 60 % stocking" in changed and "thinning to 62 %" not in changed
    assert all(asking.DESK.drawn.get(name) != one for name, one in drawn.items())
