"""A percent is written in one way, 62%, on every page and paper: the sign joined to its number, as American print has it."""

from __future__ import annotations

import io
import re

import pypdf
import pytest

from conftest import ROOT
from overwood.ground import measures
from pages.test_browser import PAGES
from pages.test_stand import said

SOURCE = ROOT / "src" / "overwood"
# A number, or the end of a value put in, then a sign that stands apart; "{% if %}" and "a % b" of code are none.
APART = re.compile(r"[0-9}][\s\u00a0\u202f]+%(?![a-zA-Z(}\d]|\s*[a-z_0-9(\[]+\s*[=)%}\]<;])")


def test_a_percent_sign_joins_its_number_and_a_unit_does_not():
    said_so = [measures.amount(62, "%"), measures.amount(13.5, "% of full sun", ".1f"), measures.amount(115, "ft2/ac")]
    assert said_so == ["62%", "13.5% of full sun", "115 ft2/ac"]
    assert measures.with_unit("24", "%", " (14 to 38)") == "24% (14 to 38)"
    assert measures.with_unit("404", "stems/ac", " (246 to 562)") == "404 (246 to 562) stems/ac"


def test_no_words_of_the_program_set_a_percent_sign_apart():
    kinds = ("*.py", "*.toml", "*.csv", "*.html", "*.js", "*.typ")
    files = [path for kind in kinds for path in SOURCE.rglob(kind) if path.name != "map.js"]
    lines = ((path.name, line) for path in files for line in path.read_text(encoding="utf-8").splitlines() if "%" in line)
    apart = [(name, line) for name, line in lines if APART.search(line)]
    assert apart == []


@pytest.mark.slow
def test_no_page_of_the_demo_sets_a_percent_sign_apart(served):
    for path in PAGES:
        # A value and its unit in two cells of a table are two texts.
        text = said(re.sub(r"<script.*?</script>", "", served.page(path), flags=re.S).replace("</td>", " | "))
        assert not APART.findall(text), (path, re.search(rf".*{APART.pattern}.*", text)[0][:300])


@pytest.mark.slow
@pytest.mark.parametrize("stand", ["S1", "S2", "S7"])
def test_no_paper_of_the_demo_sets_a_percent_sign_apart(served, stand):
    if stand == "S2":
        # The papers of a marking print the one that lies on the table.
        assert served.send("/light/S2/keep/", {"title": "first"}, form="/light/S2/")[0] in (200, 302)
    links = sorted(set(re.findall(rf'href="(/papers/{stand}/[^"]+\.pdf[^"]*)"', served.page(f"/papers/{stand}/"))))
    printed = 0
    for link in links:
        status, headers, body = served.ask(link.replace("&amp;", "&"))
        if status != 200:
            # A gate that says no refuses the burn plan.
            assert link == f"/papers/{stand}/plan.pdf", (link, status, said(body.decode())[-900:])
            continue
        assert headers["Content-Type"] == "application/pdf"
        printed += 1
        # A value and its unit in two cells of a table are two lines.
        text = " | ".join(line for page in pypdf.PdfReader(io.BytesIO(body)).pages for line in page.extract_text().splitlines())
        # What prints a blank to be filled in, "RH: ___ %", holds no number.
        assert not APART.findall(text), (link, re.findall(rf".{{0,40}}{APART.pattern}.{{0,20}}", text))
    assert printed >= 20
