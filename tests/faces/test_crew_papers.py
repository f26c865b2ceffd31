"""The papers of the crew in English, in Spanish and in both: nothing missing, nothing in the other language in silence, no overflow."""

from __future__ import annotations

import dataclasses
import functools
import tomllib

import pypdf
import pytest

from conftest import DEMO_DAY, ROOT
from overwood.desk import answers, fire, marking, walks
from overwood.desk.tally_forms import FORMS
from overwood.faces.papers import injection_order, language, marking_sheet, monitoring_sheet, residual_sheet, tally_sheet
from overwood.ground.errors import Misuse
from overwood.ground.records import TABLES
from overwood.judgement import crew_words
from overwood.judgement.course import steps

PAPERS = ROOT / "src" / "overwood" / "faces" / "papers"
CREW = ("injection_order", "marking_sheet", "cut_list", "monitoring_sheet", "residual_sheet", "settlement_sheet", "tally_sheet")


def word_files():
    yield "shared", language.table()
    yield "judgement", crew_words.table()
    yield from ((paper, language.table(paper)) for paper in CREW)


def test_every_word_of_every_paper_stands_in_both_languages_with_the_same_values():
    for name, words in word_files():
        assert set(words["en"]) == set(words["es"]), name
        for key, english in words["en"].items():
            spanish = words["es"][key]
            if isinstance(english, list):
                assert len(english) == len(spanish), f"{name} {key}"
            else:
                assert language.names_of(english) == language.names_of(spanish), f"{name} {key}"


def test_only_words_that_are_alike_in_both_languages_are_the_same():
    alike = {"no_bounds", "no_span", "area", "strip", "nothing", "lesson", "look"}
    for name, words in word_files():
        for key, english in words["en"].items():
            assert english != words["es"][key] or key in alike, f"{name} {key} is not translated"


def test_every_column_and_choice_of_a_tally_sheet_has_its_spanish():
    words = tomllib.loads((PAPERS / "tally_sheet" / "words.toml").read_text(encoding="utf-8"))

    assert set(words["kinds"]) == set(words["about"]) == set(FORMS)
    for form in FORMS.values():
        assert set(form.columns) <= set(words["columns"])
        for name in form.columns:
            for choice in TABLES[form.table].columns[name].choices:
                assert not any(map(str.isalpha, choice)) or choice in words["choices"], f"{name} {choice}"


def test_law_and_label_stand_in_english_beside_the_spanish():
    spanish = language.words("injection_order", "es")

    assert spanish.text("warning") == {language_: language.table("injection_order")[language_]["warning"] for language_ in ("en", "es")}
    assert spanish.caution("herbicide") == {"en": steps.caution("herbicide"), "es": steps.caution_in_spanish("herbicide")}
    assert spanish.caution("field") == steps.caution_in_spanish("field")
    for name in CREW:
        table = language.table(name)
        assert set(table.get("law", [])) <= {*table["en"], *crew_words.table()["en"]}, name


def test_a_sentence_that_has_no_code_is_refused_in_spanish_and_never_printed_in_english():
    with pytest.raises(Misuse, match="English only"):
        language.words("marking_sheet", "es").sentence("a sentence of nobody's")
    with pytest.raises(Misuse, match="not made in 'fr'"):
        language.words("marking_sheet", "fr")
    with pytest.raises(KeyError):
        language.words("marking_sheet", "es").text("a word that is not there")


def texts_of(content):
    """Every string of a paper's content."""
    if isinstance(content, dict):
        for entry in content.values():
            yield from texts_of(entry)
    elif isinstance(content, list):
        for entry in content:
            yield from texts_of(entry)
    elif isinstance(content, str) and not content.startswith("<svg"):
        yield content


@functools.cache
def english_sentences():
    """What a paper says in English and never in Spanish, without what is law."""
    law = {key for paper in CREW for key in language.table(paper).get("law", [])} | {"not_reviewed"}
    texts = [
        (key, text)
        for _, words in word_files()
        for key, entry in words["en"].items()
        for text in (entry if isinstance(entry, list) else [entry])
    ]
    return {text for key, text in texts if key not in law and "{" not in text and len(text) > 12}


@pytest.fixture
def quick(ask):
    """A question whose light is drawn twice: the papers are looked at here, not the light."""
    return dataclasses.replace(ask, rules=ask.rules.with_value("drawn_stand_draws", 2))


def papers_of(stand, ask, tongue):
    """Content of every paper of the crew that a stand of the demo can have."""
    file, found = answers.stand_file(stand).as_of(ask.on), {}
    if stand == "S1":
        found["injection"] = injection_order.content(*fire.injection(stand, ask), ask.on, tongue)
    if stand == "S3":
        lights = marking.states_told(stand, ask, marking.wants(ask))
        rule = marking.rule_sheet(stand, ask, marking.wants(ask), lights)
        found["rule"] = marking_sheet.rule_content(rule, lights, ask.on, marking.snags(stand, ask), tongue)
    found["monitoring"] = monitoring_sheet.content(file, answers.evidence(stand, ask), ask.on, tongue)
    found["residual"] = residual_sheet.content(marking.after_cut(stand, ask, marking.wants(ask)), ask.on, tongue)
    for kind in FORMS:
        found[kind] = tally_sheet.content(walks.plan(stand, kind, ask, walks.design(ask.rules)), kind, ask.on, tongue)
    return found


@pytest.mark.parametrize("stand", [f"S{n}" for n in range(1, 9)])
def test_a_paper_in_spanish_says_nothing_in_english_but_what_is_law(demo_book, quick, stand):
    for paper, content in papers_of(stand, quick, "es").items():
        english = english_sentences() & set(texts_of(content))
        assert not english, f"{paper}: {english}"
        assert "todavía no está revisado" in content["notice"]["es"], paper


def pages_of(path):
    pages = pypdf.PdfReader(path).pages
    return [" ".join(page.extract_text().split()) for page in pages]


def right_edge(path):
    """The farthest right that a text begins on any page, in points."""
    far = [0.0]
    for page in pypdf.PdfReader(path).pages:
        page.extract_text(visitor_text=lambda text, cm, tm, font, size: far.append(tm[4]) if text.strip() else None)
    return max(far)


# Pages of each paper of the demo in English, in Spanish, and in both.
PAGES = {
    "injection": (3, 3, 4), "rule": (1, 1, 2), "monitoring": (2, 2, 2), "residual": (2, 2, 2), "reproduction": (2, 2, 2),
}  # fmt: skip


def test_every_sheet_says_that_nobody_reviewed_its_spanish_and_keeps_to_its_pages(demo_book, quick, tmp_path):
    order, wanted, plan = (
        fire.injection("S1", quick),
        marking.wants(quick),
        walks.plan("S3", "reproduction", quick, walks.design(quick.rules)),
    )
    lights = marking.states_told("S3", quick, wanted)
    rule = marking.rule_sheet("S3", quick, wanted, lights)
    marked = marking.mark("S2", quick, wanted, seed=1, moves=1, years=5)
    counts = answers.stand_file("S3"), answers.evidence("S3", quick)

    for at, tongue in enumerate(language.LANGUAGES):
        injection_order.write(*order, DEMO_DAY, tmp_path / "injection", tongue)
        marking_sheet.write(marked, DEMO_DAY, tmp_path / "marking", tongue)
        marking_sheet.write_rule(rule, lights, DEMO_DAY, tmp_path / "rule", "", tongue)
        monitoring_sheet.write(*counts, DEMO_DAY, tmp_path / "monitoring", tongue)
        residual_sheet.write(marking.after_cut("S3", quick, wanted), DEMO_DAY, tmp_path / "residual", tongue)
        tally_sheet.write(plan, "reproduction", DEMO_DAY, tmp_path / "reproduction", tongue)
        for paper, pages in PAGES.items():
            texts = pages_of(tmp_path / paper)
            assert len(texts) == pages[at], f"{paper} {tongue}"
            assert all(("not yet reviewed" in text) == (tongue != "en") for text in texts), paper
            assert right_edge(tmp_path / paper) < 612 - 40, paper
        sheets = pages_of(tmp_path / "marking")
        assert 7 <= len(sheets) <= 9
        assert all(("not yet reviewed" in text) == (tongue != "en") for text in sheets)
        assert right_edge(tmp_path / "marking") < 612 - 40


def test_both_languages_carry_the_same_numbers(demo_book, quick):
    order = injection_order.content(*fire.injection("S1", quick), quick.on, "both")

    def digits(text):
        return sorted("".join(letter if letter.isdigit() or letter == "." else " " for letter in text).replace(". ", " ").split())

    for text in (*order["work"], *order["never"], *order["exceptions"], *order["accepted"]):
        if isinstance(text, dict):
            assert digits(text["en"].rstrip(".")) == digits(text["es"].rstrip(".")), text


def test_a_day_is_said_in_each_language():
    assert language.day(DEMO_DAY, "en") == "15 October 2025"
    assert language.day(DEMO_DAY, "es") == "15 de octubre de 2025"
    assert (
        crew_words.sentence("snags", month=DEMO_DAY, low="2", high="6")
        .in_language("es")
        .startswith("Los tallos inyectados en octubre de 2025 quedan")
    )
