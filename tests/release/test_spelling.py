"""What a person reads is spelled as in American English."""

from __future__ import annotations

import ast
import re

import pytest

from conftest import ROOT

SOURCE = ROOT / "src" / "overwood"
# Stems of words that differ; what stands in front or behind them may be anything.
BRITISH = re.compile(
    r"labour|neighbour|behaviour|colour|favour|\bgrey|centre(?!d?_)|centred|metre|licence|"
    r"(?:recogn|organ|summar|optim|minim|maxim)is(?:e|ed|es|ing)\b|labelled|modelled|cancelled|programme\b|smoulder|plough|catalogue\b",
    re.IGNORECASE,
)
# Names of rules, keys of answers and names of people's own files are no prose; sheets are read in whatever spelling they come.
NAMES = re.compile(r"\b\w+\.\w+|`[^`\n]*`|\b\w+_\w+\b|\[\w+\]|aria-labelledby|optimised_")
PROSE = sorted(
    path
    for path in (
        *(ROOT / "docs").glob("*.md"),
        ROOT / "README.md",
        ROOT / "CHANGELOG.md",
        ROOT / "CONTRIBUTING.md",
        *(SOURCE / "faces").rglob("*.html"),
        *(SOURCE / "faces").rglob("*.toml"),
        *(SOURCE / "faces").rglob("*.csv"),
        *(SOURCE / "judgement").rglob("*.toml"),
        *(SOURCE / "ground").rglob("*.csv"),
    )
    # Titles of publications are spelled as they were printed; names of species are read in any spelling.
    if path.name not in ("species.csv", "sources.csv", "sources.md", "experiments.md")
)
CODE = sorted(path for room in ("faces", "desk", "judgement", "ground") for path in (SOURCE / room).rglob("*.py"))


def british(text):
    return sorted({found[0] for found in BRITISH.finditer(NAMES.sub(" ", text))})


@pytest.mark.parametrize("path", PROSE, ids=lambda path: path.name)
def test_pages_and_words_are_spelled_the_american_way(path):
    assert british(path.read_text(encoding="utf-8")) == []


def texts_of(path):
    """Texts of a module that are neither docstrings nor names."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    told = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    texts = (node for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told)
    return " \n".join(text.value for text in texts if " " in text.value)


@pytest.mark.slow
def test_what_the_program_says_is_spelled_the_american_way():
    assert {path.relative_to(SOURCE).as_posix(): found for path in CODE if (found := british(texts_of(path)))} == {}


def test_a_british_word_is_seen():
    assert british("the neighbours' labour, in metres") == ["labour", "metre", "neighbour"]
    assert british("`moth_favoured_share` and moth_favoured_share") == []
