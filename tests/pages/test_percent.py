"""A percent is written in one way, 62%, on every page and paper: the sign joined to its number, as American print has it."""

from __future__ import annotations

import re

from conftest import ROOT
from overwood.ground import measures

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
