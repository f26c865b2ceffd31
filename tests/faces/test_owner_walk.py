"""The owner's walk: every word of every branch is plain, counts equal the figures, two sides in all cases, no script on the page."""

from __future__ import annotations

import re

import pytest

import pdf_text
import synthetic
from conftest import DEMO_DAY
from overwood.desk import answers, owner_walk
from overwood.faces.papers import owner_brief, press
from overwood.faces.papers import owner_walk as paper
from overwood.ground.errors import Misuse
from overwood.judgement import course, evidence, waiting
from overwood.judgement.course import steps
from overwood.judgement.course.stage import stage
from overwood.judgement.course.steps import all_steps
from overwood.judgement.evidence import rivals
from overwood.judgement.rules import load
from reading import grade, of_brief

RULES = load()
NAMES = ["woods", "waits", "light", "shade", "acorns", "fire", "stay", "money", "sure", "do"]
LONGEST = max((step.title for step in all_steps().values()), key=len)
BRANCHES = [(name, branch) for name, entry in paper.words().items() for branch in entry if branch != "title"]


@pytest.fixture(scope="module")
def made_up():
    """The cards of 200 made-up stands."""
    ask = answers.question(synthetic.ON)
    files = [synthetic.stand_file(seed) for seed in range(200)]
    return [
        (file, advice, owner_walk.cards(advice, stage(file), ask))
        for file in files
        for advice in [course.advise(file, RULES, synthetic.ON)]
    ]


@pytest.mark.parametrize(("name", "branch"), BRANCHES)
@pytest.mark.parametrize("step", sorted({step.title for step in all_steps().values()}, key=len)[:: len(all_steps()) - 1])
def test_every_branch_is_plain_and_of_the_length_of_a_card(name, branch, step):
    for tenths in (0, 1, 10):
        text = paper.text(owner_walk.Card(name, branch, tenths, None, (), (), ()), step)
        words = re.findall(r"[A-Za-z']+|\d+", text)

        assert 25 <= len(words) <= 60, (len(words), text)
        assert grade([text]) <= 6, text
        assert len(re.findall(r"\b\d+ (?:or less |or so )?(?:of|hold|get|are|parts|small|oaks)", text)) <= 3


@pytest.mark.slow
def test_every_branch_that_a_stand_can_take_has_words_and_its_counts_are_its_figures(made_up):
    for _, advice, cards in made_up:
        assert [card.name for card in cards] == NAMES
        for card in cards:
            assert paper.text(card, all_steps()[advice.step].title)
            assert paper.picture(card).startswith("<svg")
            if card.tenths is None:
                continue
            text = paper.text(card, LONGEST)
            assert 0 <= card.tenths <= 10
            if re.search(r"\{(k|about|About)\}", paper.words()[card.name][card.branch]):
                assert f"{card.tenths} " in text or (card.tenths == 0 and "fewer than 1" in text)
        tenths = {card.name: card.tenths for card in cards}
        for name, figure, scale in (("woods", "oak_share", 10), ("acorns", "crop_bearing_share", 10), ("money", "large_share", 10)):
            if tenths[name] is not None:
                assert abs(tenths[name] - scale * advice.figures[figure].number) <= 0.5
                off = next(card.off_by for card in cards if card.name == name)
                if off is not None:
                    assert max(abs(scale * end - tenths[name]) for end in advice.figures[figure].ends) <= off + 0.5


@pytest.mark.slow
def test_no_card_contradicts_the_advice(made_up):
    low, high = RULES.number("light_low_pct"), RULES.number("light_high_pct")
    for _, advice, cards in made_up:
        told = {card.name: card for card in cards}
        gates = {gate.name: gate.answer for gate in advice.gates}
        waits = told["waits"].branch
        if advice.step in ("thin", "wait"):
            # No card asks for what only a cut for new oaks needs.
            assert waits in ("young", "unmeasured") and told["shade"].branch != "yes" and told["stay"].branch != "cut"
            assert told["do"].branch in ("thin", "wait", "cut_unsure")
            continue
        assert (waits == "many") == (gates["oak enough"] == "yes" and told["waits"].tenths is not None)
        assert waits not in ("some", "none") or gates["oak enough"] == "no"
        light = advice.figures["floor_light_pct"]
        if light.measured:
            assert (told["light"].branch == "part") == (low <= light.number <= high)
        for card in cards:
            known = card.branch not in ("unmeasured", "unknown")
            assert known != ("not known" in paper.picture_says(card))


def _brief(file, advice):
    """The brief of a stand that stands in no book."""
    basis, aside = evidence.basis(file), evidence.set_aside(file)
    return answers.Brief(file, advice, [], {}, {}, RULES, "1", waiting.words(None, RULES), rivals.words(file, RULES), basis, aside)


@pytest.mark.slow
def test_the_brief_of_every_made_up_stand_reads_at_grade_eight_or_below(made_up):
    for file, advice, _ in made_up:
        assert of_brief(owner_brief._two_pages(_brief(file, advice))) <= 8, file.stand.stand


@pytest.mark.slow
def test_what_was_not_looked_at_makes_no_count(made_up):
    blank = [(advice, cards) for file, advice, cards in made_up if not any(visit.kind == "cruise" for visit in file.visits)]
    assert blank
    for _, cards in blank:
        told = {card.name: (card.branch, card.tenths) for card in cards}
        assert told["woods"] == ("unmeasured", None)
        assert told["shade"] == ("unknown", None)
        assert told["money"] == ("unmeasured", None)


@pytest.mark.slow
@pytest.mark.parametrize("name", [f"S{number}" for number in range(1, 9)])
def test_the_leaflet_has_two_sides(demo_book, tmp_path, name):
    found = owner_walk.owner_walk(name, answers.question(DEMO_DAY))
    paper.write(found, DEMO_DAY, tmp_path / "walk.pdf")
    pages = pdf_text.pages(tmp_path / "walk.pdf")

    assert len(pages) == 2
    said = " ".join(pages)
    assert all(paper.words()[card]["title"] in said for card in NAMES)
    assert "Mind:" in said


def test_a_leaflet_of_the_longest_words_with_every_caution_has_two_sides(tmp_path):
    every = tuple(steps.caution(name) for name in steps._plain()["caution"])
    cards = [
        owner_walk.Card(
            name, max((b for b in paper.words()[name] if b != "title"), key=lambda b: len(paper.words()[name][b])), 10, 2, (), (), every
        )
        for name in NAMES
    ]
    walk = owner_walk.OwnerWalk("S1", "Long Bench of the Upper Meadow", LONGEST, tuple(cards), {})

    with press.own_words("Words of the one who signs. " * 53):
        paper.write(walk, DEMO_DAY, tmp_path / "walk.pdf")
    pages = pdf_text.pages(tmp_path / "walk.pdf")

    assert len(pages) == 2
    assert "of the Upper Meadow" in pages[0] and every[-1][-30:] in pages[1]


@pytest.mark.slow
def test_the_page_needs_no_script_and_shows_the_chain_of_each_count(demo_book):
    from django.core import signing
    from django.test import Client, override_settings

    from overwood.faces.pages import asking, guard
    from overwood.faces.served.serving import Told, web_settings

    with override_settings(**web_settings(Told()) | {"ALLOWED_HOSTS": ["testserver"]}):
        asking.begin(Told(book=str(demo_book), on=DEMO_DAY.isoformat()))
        client = Client()
        client.cookies[guard.COOKIE] = signing.dumps("owner", salt=guard.COOKIE)
        page = client.get("/owner-walk/S1/").content.decode()

    main = page[page.index("<main") :]
    assert "<script" not in main
    assert main.count("<h2>") == 10
    assert "/stand/S1/why/oak_share/" in main
    assert "The label of the product on site is the law" in main


def test_every_question_of_a_field_day_is_plain_and_without_a_number():
    assert list(paper.questions()) == NAMES
    for entry in paper.questions().values():
        texts = [*entry["ask"], entry["do"]]
        assert len(entry["ask"]) == 2 and grade(texts) <= 6
        assert not any(letter.isdigit() for text in texts for letter in text)


def test_stations_are_the_chosen_cards_in_their_order_and_their_codes_hold_the_words(demo_book, tmp_path):
    import numpy as np
    import zxingcpp
    from PIL import Image

    walk = owner_walk.owner_walk("S1", answers.question(DEMO_DAY))
    found = paper.chosen(walk, ["stay", "light"])
    paper.write_stations(found, DEMO_DAY, tmp_path / "s.pdf")
    press.set_png("owner_walk/stations.typ", paper.station_content(found, DEMO_DAY), tmp_path / "s.png", ppi=150)

    pages = pdf_text.pages(tmp_path / "s.pdf")
    assert [page.startswith(start) for page, start in zip(pages, ("1. Which trees stay", "2. Light on the floor"), strict=True)] == [
        True
    ] * 2
    assert all("Talk about it" in page for page in pages) and "felled by trained people" in pages[0]
    code = zxingcpp.read_barcodes(np.array(Image.open(tmp_path / "s.png").convert("L")))
    assert [one.text for one in code] == [f"1. Which trees stay\n{paper.text(found.cards[0], found.step)}"]
    assert paper.chosen(walk, []).cards == walk.cards
    for wrong in (["stay", "stay"], ["rain"]):
        with pytest.raises(Misuse, match="no card of the walk"):
            paper.chosen(walk, wrong)


def test_all_ten_stations_have_a_page_each_on_every_stand(demo_book, tmp_path):
    for name in ("S1", "S5", "S8"):
        paper.write_stations(
            owner_walk.owner_walk(name, answers.question(DEMO_DAY)), DEMO_DAY, tmp_path / "s.pdf", "https://woods.example/w"
        )
        assert len(pdf_text.pages(tmp_path / "s.pdf")) == 10
