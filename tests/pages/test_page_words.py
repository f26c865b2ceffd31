"""What a page says can be done on a page: no command of the command line reaches the browser."""

from __future__ import annotations

import ast
import re

from django.http import HttpResponse

from conftest import ROOT
from overwood.faces.pages.page_words import on_page, turned
from pages.test_browser import PAGES
from pages.test_percent import APART
from pages.test_stand import said

SOURCE = ROOT / "src" / "overwood"
# Rooms whose words a page may show; what only a command says (the book's own care, files for many stands) is left out.
ROOMS = ("desk", "judgement", "memory/exchange", "faces/pages", "ground")
ONLY_COMMANDS = (
    "desk/part_advice.py",
    "desk/part_cluster.py",
    "desk/archive.py",
    "desk/canopy.py",
    "desk/keeping.py",
    "memory/exchange/strays.py",
    "memory/exchange/codes.py",
)
COMMAND = re.compile(r"`overwood|(?<![\w-])--[a-z]{2,}|pip install")


def _texts():
    for room in ROOMS:
        for path in sorted((SOURCE / room).rglob("*.py")):
            if not path.as_posix().endswith(ONLY_COMMANDS):
                yield from ((path, node.lineno, node.value) for node in ast.walk(_without_docs(path)) if _is_text(node))


def _without_docs(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        if isinstance(body, list) and body and isinstance(body[0], ast.Expr) and _is_text(body[0].value):
            body.pop(0)
    return tree


def _is_text(node):
    return isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value


def test_every_remedy_that_names_a_command_has_words_for_a_page():
    named = [(path.relative_to(SOURCE).as_posix(), line, text) for path, line, text in _texts() if COMMAND.search(on_page(text))]
    assert named == []


def test_only_pages_are_turned_and_their_length_follows():
    page = turned(HttpResponse("<p>See `overwood conflicts`.</p>", headers={"Content-Length": "32"}))
    assert (page.content, page["Content-Length"]) == (b"<p>Open the page Conflicts.</p>", "31")
    part = turned(HttpResponse("<p>Install the extra part: pip install &quot;overwood[sheets]&quot;.</p>"))
    assert part.content == b"<p>Ask who runs this desk to install its part sheets.</p>"
    plain = HttpResponse("See `overwood conflicts`.", content_type="text/plain")
    assert turned(plain).content == b"See `overwood conflicts`."


def test_what_a_person_typed_is_not_turned_in_its_form():
    form = '<p>See `overwood conflicts`.</p><input value="See `overwood conflicts`."><textarea name="note">See `overwood conflicts`.</textarea>'
    assert turned(HttpResponse(form)).content.decode() == form.replace("<p>See `overwood conflicts`.", "<p>Open the page Conflicts.")


def test_no_page_of_the_demo_names_a_command_or_a_number_of_the_program(here):
    machine = re.compile(r"\b[a-z]+(?:_[a-z0-9]+){1,}\b")
    for path in (path for path in PAGES if not path.startswith(("/rules/", "/calc/", "/records/", "/import/", "/sources/"))):
        text = said(re.sub(r"<script.*?</script>", "", here.page(path), flags=re.S))
        assert not COMMAND.search(text), path
        assert not machine.findall(text), path


def test_no_page_of_the_demo_sets_a_percent_sign_apart(here):
    for path in PAGES:
        # A value and its unit in two cells of a table are two texts.
        text = said(re.sub(r"<script.*?</script>", "", here.page(path), flags=re.S).replace("</td>", " | "))
        assert not APART.findall(text), (path, re.search(rf".*{APART.pattern}.*", text)[0][:300])
