"""Generated pages are fresh; every command, formula and figure is in the docs."""

from __future__ import annotations

import importlib.util
import re

import pytest

from conftest import ROOT
from overwood.desk import answers
from overwood.faces.cli.main import COMMANDS

DOCS = ROOT / "docs"


def _generator():
    spec = importlib.util.spec_from_file_location("generate", DOCS / "generate.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


GENERATOR = _generator()


@pytest.mark.parametrize("name", GENERATOR.PAGES)
def test_a_generated_page_is_fresh(name):
    assert (DOCS / name).read_text(encoding="utf-8") == GENERATOR.PAGES[name](), "run `make docs`"


@pytest.mark.slow
@pytest.mark.parametrize("name", GENERATOR.DEMO_PAGES)
def test_a_page_generated_from_the_demo_is_fresh(demo_book, ask, name):
    assert (DOCS / name).read_text(encoding="utf-8") == GENERATOR.DEMO_PAGES[name](ask), "run `make docs`"


def test_every_command_is_in_the_docs():
    page = (DOCS / "commands.md").read_text(encoding="utf-8")
    assert all(f"## {name}\n" in page for name in COMMANDS)


def test_the_readme_names_commands_that_exist():
    text = (ROOT / "README.md").read_text(encoding="utf-8") + (DOCS / "guide.md").read_text(encoding="utf-8")
    for name in re.findall(r"overwood ([a-z]+(?:-[a-z]+)?)\b", text):
        assert name in COMMANDS, name


def test_every_decision_is_listed_and_there():
    listed = set(re.findall(r"^- (\d{4})", (DOCS / "decisions.md").read_text(encoding="utf-8"), flags=re.MULTILINE))
    assert {file.name[:4] for file in (DOCS / "decisions").glob("*.md")} == listed


def test_every_navigation_entry_is_a_file():
    for name in re.findall(r": (\w+\.md)$", (ROOT / "mkdocs.yml").read_text(encoding="utf-8"), flags=re.MULTILINE):
        assert (DOCS / name).exists(), name


def test_the_figures_named_in_the_docs_exist(demo_book, ask):
    figures = answers.evidence("S3", ask)
    rules = ask.rules.entries
    for name in re.findall(r"`([a-z]+_[a-z0-9_]+)`", (DOCS / "figures.md").read_text(encoding="utf-8")):
        known = name in figures or name in rules or name in ("a_line", "b_line", "edge_count", "stems")
        assert known, name


def test_every_paper_has_its_picture_on_the_page_of_papers():
    folders = {path.parent.name for path in (ROOT / "src" / "overwood" / "faces" / "papers").glob("*/__init__.py")}
    shown = set(re.findall(r"\(pictures/paper-(\w+)\.png\)", (DOCS / "papers.md").read_text(encoding="utf-8")))
    # Papers that share a folder with another; a region's maps are a page for a browser, no paper.
    assert (
        folders - {"region_maps"} | {"stations", "marking_rule", "points_map", "labels"}
        == shown
        == {path.stem.removeprefix("paper-") for path in (DOCS / "pictures").glob("paper-*.png")}
    )
