"""The text of a paper, page by page, as a reader of PDF other than the program's press finds it."""

from __future__ import annotations

from pathlib import Path

import pypdfium2


def pages(paper: bytes | Path) -> list[str]:
    """The words of each page, one space between them."""
    with pypdfium2.PdfDocument(paper) as document:
        return [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]


def whole(paper: bytes | Path) -> str:
    """The words of all pages."""
    return " ".join(pages(paper))
