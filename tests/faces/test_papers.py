"""The papers: their words, their cautions, the same bytes for the same data, and user text that stays text."""

from __future__ import annotations

import dataclasses
import io

import pypdf
import pytest

from overwood.desk import answers
from overwood.faces.papers import charts, owner_brief, press, stand_table
from overwood.judgement.course.steps import all_steps


def text_of(path) -> str:
    pages = pypdf.PdfReader(io.BytesIO(path.read_bytes())).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


@pytest.mark.parametrize("stand", [f"S{n}" for n in range(1, 9)])
def test_a_brief_leads_with_the_decision_and_ends_with_cautions(demo_book, ask, tmp_path, stand):
    brief = answers.brief(stand, ask)

    owner_brief.write(brief, tmp_path / "b.pdf")

    text = text_of(tmp_path / "b.pdf")
    assert brief.advice.title.split(":")[0].split("(")[0].strip() in text
    assert "An oak forest again for whoever comes next" in text
    for caution in brief.advice.cautions:
        assert caution.split(".")[0][:40] in text
    assert text.index("How sure") < text.index("Cautions")
    assert len(pypdf.PdfReader(tmp_path / "b.pdf").pages) <= 3


def test_a_brief_is_the_same_bytes_for_the_same_data(demo_book, ask, tmp_path):
    for name in ("one", "two"):
        owner_brief.write(answers.brief("S3", ask), tmp_path / f"{name}.pdf")

    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_a_brief_carries_its_fonts(demo_book, ask, tmp_path):
    owner_brief.write(answers.brief("S3", ask), tmp_path / "b.pdf")
    page = pypdf.PdfReader(tmp_path / "b.pdf").pages[0]

    fonts = [font.get_object()["/BaseFont"] for font in page["/Resources"]["/Font"].values()]
    assert fonts
    assert all("Atkinson" in name for name in fonts)


def test_what_a_user_wrote_is_printed_and_never_run(demo_book, ask, tmp_path):
    brief = answers.brief("S3", ask)
    owner = dataclasses.replace(brief.file.property, objective='#read("/etc/passwd") $x$ *bold* <tag>')
    file = dataclasses.replace(brief.file, property=owner)

    owner_brief.write(dataclasses.replace(brief, file=file), tmp_path / "b.pdf")

    assert '#read("/etc/passwd") $x$ *bold* <tag>' in text_of(tmp_path / "b.pdf")


def test_every_step_has_the_owners_words():
    words = owner_brief._words()

    assert set(words) == set(all_steps())
    assert all(entry["lead"] and entry["nothing"] for entry in words.values())


def test_the_stand_table_holds_every_stand(demo_book, ask, tmp_path):
    found = answers.property_advice(ask)

    stand_table.write(found, tmp_path / "t.pdf")

    text = text_of(tmp_path / "t.pdf")
    assert all(advice.name in text for advice in found)


def test_pictures_are_png(demo_book, ask, tmp_path):
    owner_brief.picture(answers.brief("S3", ask), tmp_path / "b.png")
    stand_table.picture(answers.property_advice(ask), tmp_path / "t.png")

    assert (tmp_path / "b.png").read_bytes().startswith(b"\x89PNG")
    assert (tmp_path / "t.png").read_bytes().startswith(b"\x89PNG")


def test_charts_carry_their_data_and_draw_offline(demo_book, ask):
    brief = answers.brief("S3", ask)
    for spec in (charts.diameters(brief.classes), charts.floor(brief.floor)):
        assert "url" not in str(spec)
        assert press.svg(spec).startswith("<svg")
        assert press.svg(spec) == press.svg(spec)


def test_the_palette_is_six_digit_colours():
    assert all(len(colour) == 7 and int(colour[1:], 16) >= 0 for colour in press.COLOURS.values())
