"""The tokens are the one source of colors: pages, papers, charts and the kit hold none of their own."""

from __future__ import annotations

import re

from conftest import ROOT
from overwood.faces import woods
from overwood.faces.papers import press

FACES = ROOT / "src" / "overwood" / "faces"
# White paper and black ink are no colors; codes for a camera are black on white.
_PLAIN = {"ffffff", "FFFFFF", "000000"}
_WRITTEN = [
    *(path for ending in ("py", "typ") for path in sorted((FACES / "papers").rglob(f"*.{ending}"))),
    FACES / "woods" / "app" / "kit.css",
    FACES / "pages" / "static" / "overwood.css",
    FACES / "pages" / "static" / "marking.js",
]


def test_no_paper_chart_or_sheet_of_the_kit_has_a_color_of_its_own():
    own = {
        str(path.relative_to(FACES)): found
        for path in _WRITTEN
        if (found := set(re.findall(r"#([0-9a-fA-F]{6})\b", path.read_text(encoding="utf-8"))) - _PLAIN)
    }
    assert own == {}


def test_a_token_that_changes_changes_papers_charts_and_the_kit(monkeypatch):
    tokens = woods.TOKENS.read_text(encoding="utf-8")
    assert f"--oak: {press.LOOK['oak']};" in tokens and "--go: #0d4a2b" in tokens

    monkeypatch.setitem(press.LOOK, "pencil", "#123456")
    chart = press.svg({"data": {"values": [{"x": 1}]}, "mark": "point", "encoding": {"x": {"field": "x", "type": "quantitative"}}})
    assert "#123456" in chart
    sheet = woods.files()["kit.css"].decode()
    assert "@TOKENS@" not in sheet and "--go: #0d4a2b" in sheet and "--oak" not in sheet
    assert 'class="woods"' in woods.files()["index.html"].decode()


def test_every_token_a_template_names_is_there():
    named = {
        name
        for path in (FACES / "papers").rglob("*.typ")
        for name in re.findall(r"(?<![.\w])look\.([\w-]+)", path.read_text(encoding="utf-8"))
    }
    assert {"oak", "need", "oak-soft"} <= named <= set(press.LOOK)
