"""How answers are printed: tables for people, JSON for machines, from one place."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Sequence
from typing import Any

import click

from overwood.desk.telling import plain
from overwood.faces.telling.figures import number, of_ten, shown
from overwood.ground import measures

__all__ = ["as_json", "bullets", "heading", "number", "of_ten", "plain", "shown", "span", "table"]

# Letters a line of a table that goes into a file or another program.
_WIDE = 150


def as_json(answer: Any) -> None:
    """One JSON object: the answer's dataclass as it is told everywhere."""
    click.echo(json.dumps(plain(answer), ensure_ascii=False, indent=1, allow_nan=False))


def table(
    headings: Sequence[str], rows: Iterable[Sequence[str]], *, title: str = "", numeric: Sequence[int] = ()
) -> None:
    """A table as wide as the terminal, or as COLUMNS says where it goes elsewhere; wide text wraps. Units marked in its
    headings and title, as in 'stems/{ac}', are those in force."""
    from rich import box
    from rich.console import Console
    from rich.table import Table

    made = Table(
        title=measures.prose(title) or None,
        box=box.SIMPLE_HEAD,
        title_justify="left",
        title_style="bold",
        pad_edge=False,
    )
    for place, heading in enumerate(headings):
        made.add_column(measures.prose(heading), justify="right" if place in numeric else "left", overflow="fold")
    for row in rows:
        made.add_row(*[cell.replace("[", r"\[") for cell in row])
    width = None if sys.stdout.isatty() or os.environ.get("COLUMNS") else _WIDE
    Console(width=width, highlight=False).print(made)


def span(three: Sequence[float], places: int = 0, unit: str = "", sign: str = "") -> str:
    """Likely (low to high), of three values low, likely, high in this US unit."""
    low, likely, high = (measures.digits(value, unit, f"{sign},.{places}f") for value in three)
    return f"{likely} ({low} to {high})"


def heading(text: str) -> None:
    click.echo(click.style(text, bold=True))


def bullets(title: str, lines: Iterable[object]) -> None:
    """A titled list; nothing where it is empty."""
    lines = list(lines)
    if not lines:
        return
    heading(title)
    for line in lines:
        click.echo(click.wrap_text(str(line), width=110, initial_indent="  - ", subsequent_indent="    "))
