"""Papers under the press: one person, and all together, leave the desk threads for others."""

from __future__ import annotations

import re
from contextlib import ExitStack

import pytest

from conftest import ROOT
from overwood.faces.pages import papers
from overwood.ground.errors import Misuse


def test_one_person_prints_a_few_papers_at_once_and_another_still_may():
    press = papers._Press()
    with ExitStack() as printing:
        for _ in range(papers.MOST_OF_ONE):
            printing.enter_context(press.turn("ann"))
        with pytest.raises(Misuse, match="being printed"), press.turn("ann"):
            pass
        with press.turn("bob"):
            pass
    with press.turn("ann"):
        pass


def test_all_together_print_no_more_than_leaves_threads_for_others():
    from overwood.faces.served import serving

    press = papers._Press()
    with ExitStack() as printing:
        for number in range(papers.MOST_AT_ONCE):
            printing.enter_context(press.turn(f"name{number}"))
        with pytest.raises(Misuse, match="being printed"), press.turn("another"):
            pass
    assert papers.MOST_AT_ONCE < serving.THREADS


def test_a_paper_that_fails_gives_its_place_back():
    press = papers._Press()
    for _ in range(papers.MOST_OF_ONE + 1):
        with pytest.raises(ValueError, match="no ink"), press.turn("ann"):
            raise ValueError("no ink")


def test_every_paper_that_a_page_links_to_can_be_printed():
    templates = (ROOT / "src" / "overwood" / "faces" / "pages" / "templates").glob("*.html")
    linked = {name for page in templates for name in re.findall(r"in_address \}\}/([a-z-]+)\.pdf", page.read_text(encoding="utf-8"))}
    assert {"brief", "walk", "injection"} <= linked
    assert linked <= set(papers.PAPERS)
