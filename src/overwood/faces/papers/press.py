"""Sets a document: data as JSON, a Typst template, charts as SVG; the same bytes for the same data."""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import lru_cache
from pathlib import Path
from typing import Any

_HERE = Path(__file__).resolve().parent
FONT = "Source Sans 3"
# Charts that a process holds as drawn: those of a few stands.
_MOST_DRAWN = 64
# Colors of every face, by name; papers take those for light.
_TOKENS = (
    (_HERE.parent / "pages/static/tokens.css").read_text(encoding="utf-8").partition(":root {")[2].partition("}")[0]
)
LOOK = dict(re.findall(r"--([\w-]+): (#\w+);", _TOKENS))


_OWN_WORDS: ContextVar[str] = ContextVar("own_words", default="")


@contextmanager
def own_words(text: str) -> Iterator[None]:
    """Papers written within carry these words of the person who signs, below their title."""
    token = _OWN_WORDS.set(text.strip())
    try:
        yield
    finally:
        _OWN_WORDS.reset(token)


def words_of_the_signer() -> str:
    """The signer's words that a paper written now carries."""
    return _OWN_WORDS.get()


_ANSWER: ContextVar[str] = ContextVar("answer", default="")


@contextmanager
def printed_from(answer: str) -> Iterator[None]:
    """Papers written within say at their foot which kept answer they print."""
    token = _ANSWER.set(answer)
    try:
        yield
    finally:
        _ANSWER.reset(token)


_BEFORE: ContextVar[Callable[[], None]] = ContextVar("before setting", default=lambda: None)


@contextmanager
def before_setting(told: Callable[[], None]) -> Iterator[None]:
    """What is told within before pages are set, after their data are there; it may raise to stop it."""
    token = _BEFORE.set(told)
    try:
        yield
    finally:
        _BEFORE.reset(token)


def set_pdf(template: str, data: dict[str, Any], target: Path) -> None:
    """Write a PDF from a template of this package."""
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(_compiled(template, data, "pdf"))


def set_png(template: str, data: dict[str, Any], target: Path, *, ppi: float = 110, page: int = 1) -> None:
    """Write one page as a picture, the first where none is named."""
    target.parent.mkdir(parents=True, exist_ok=True)
    pages = _compiled(template, data, "png", ppi=ppi)
    target.write_bytes(pages[page - 1] if isinstance(pages, list) else pages)


def pdf_with(template: str, data: dict[str, Any], attached: dict[str, bytes]) -> bytes:
    """A PDF whose template attaches files, each found under ``/attached/`` by its path."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        for source in (_HERE / "sheet.typ", _HERE / template):
            _lay(root / source.relative_to(_HERE), source.read_bytes())
        for path, content in attached.items():
            _lay(root / "attached" / path, content)
        return bytes(_compiled(template, data, "pdf", root=root))


def _lay(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)


def _compiled(template: str, data: dict[str, Any], kind: Any, root: Path = _HERE, **more: Any) -> Any:
    import typst

    _BEFORE.get()()
    foot = f"{data.get('footer', '')} {_ANSWER.get()}".strip()
    return typst.compile(
        str(root / template),
        root=str(root),
        font_paths=[str(_HERE / "fonts")],
        ignore_system_fonts=True,
        sys_inputs={
            "data": json.dumps({**data, "own_words": _OWN_WORDS.get(), "footer": foot}),
            "look": json.dumps(LOOK),
        },
        format=kind,
        # For one who hears it read: the press refuses a figure without words for it, or headings that leap.
        pdf_standards="ua-1" if kind == "pdf" else None,
        **more,
    )


def svg(spec: dict[str, Any]) -> str:
    """A Vega-Lite chart, its data inline, as SVG."""
    plain = {
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
        "config": {
            "font": FONT,
            "view": {"stroke": None},
            "axis": {
                "labelColor": LOOK["pencil"],
                "titleColor": LOOK["pencil"],
                "titleFontWeight": "normal",
                "gridColor": LOOK["grid"],
            },
            "legend": {"orient": "top", "title": None},
        },
        **spec,
    }
    return _drawn(json.dumps(plain))


@lru_cache(_MOST_DRAWN)
def _drawn(spec: str) -> str:
    """The same chart stands on a page, on its papers and in both languages."""
    import vl_convert

    vl_convert.register_font_directory(str(_HERE / "fonts"))
    return str(vl_convert.vegalite_to_svg(spec))
