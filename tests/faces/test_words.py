"""Words of the pages: a text becomes a sentence, and a name it begins with keeps its letters."""

from __future__ import annotations

import re

import pytest

from conftest import ROOT
from overwood.faces.pages.words import sentence
from overwood.ground import doubt, tables


@pytest.mark.parametrize(
    "text,said",
    [
        ("codes.csv still has open questions", "codes.csv still has open questions."),
        ("oak_share is not measured", "oak_share is not measured."),
        ("no stand is judged yet.", "No stand is judged yet."),
        ("self-thinning goes on", "Self-thinning goes on."),
        ("k1: no cruise", "k1: no cruise."),
        ("", ""),
    ],
)
def test_a_text_becomes_a_sentence_and_a_name_keeps_its_letters(text, said):
    assert sentence(text) == said


def test_no_doubt_speaks_of_draws_as_programmers_do():
    texts = [row["text"] for row in tables.rows(doubt.TABLE)]
    assert texts and not any("draws" in text.split() for text in texts)


def test_a_size_without_an_upper_limit_is_said_as_the_trade_says_it():
    """'3 ft or taller', '10 in. or larger': an oak of 3 ft and taller would be two oaks."""
    kinds = ("*.py", "*.toml", "*.csv", "*.html", "words.js")
    files = [path for kind in kinds for path in (ROOT / "src" / "overwood").rglob(kind)]
    other = re.compile(r"\band (?:taller|larger)\b|(?:\bft|\bin\.|\bin|'g'\)\}|dbh|\{low\}|\}\}) and more\b")
    lines = [(path.name, line.strip()) for path in files for line in path.read_text(encoding="utf-8").splitlines()]
    assert len(lines) > 10_000
    assert [one for one in lines if other.search(one[1])] == []
