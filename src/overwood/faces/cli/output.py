"""How answers are printed: tables for people, JSON for machines, from one place."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Iterable, Sequence
from typing import Any

import click

from overwood.ground import units
from overwood.ground.figure import Figure


def as_json(value: Any) -> None:
    """One JSON object; days as text, numbers JSON cannot carry as null."""
    click.echo(json.dumps(plain(value), ensure_ascii=False, indent=1, default=str, allow_nan=False))


def plain(value: Any) -> Any:
    """A value with the numbers JSON cannot carry as None."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [plain(entry) for entry in value]
    return value


def table(headings: Sequence[str], rows: Iterable[Sequence[str]], *, title: str = "", numeric: Sequence[int] = ()) -> None:
    """A table as wide as the terminal; wide text wraps."""
    from rich import box
    from rich.console import Console
    from rich.table import Table

    made = Table(title=title or None, box=box.SIMPLE_HEAD, title_justify="left", title_style="bold", pad_edge=False)
    for place, heading in enumerate(headings):
        made.add_column(heading, justify="right" if place in numeric else "left", overflow="fold")
    for row in rows:
        made.add_row(*[cell.replace("[", r"\[") for cell in row])
    width = None if sys.stdout.isatty() else 150
    Console(width=width, highlight=False).print(made)


def heading(text: str) -> None:
    click.echo(click.style(text, bold=True))


def bullets(title: str, lines: Iterable[str]) -> None:
    """A titled list; nothing where it is empty."""
    lines = list(lines)
    if not lines:
        return
    heading(title)
    for line in lines:
        click.echo(click.wrap_text(line, width=110, initial_indent="  - ", subsequent_indent="    "))


def number(value: float, unit: str = "") -> str:
    """A number with no more digits than it deserves."""
    if math.isnan(value):
        return "-"
    size = abs(value)
    if unit in ("stems/ac", "trees/ac", "acorns/ac", "stems/ha", "plots", "rows", "stumps/ac") or size >= 1000:
        return f"{value:,.0f}"
    if size >= 100:
        return f"{value:.0f}"
    return f"{value:.2f}" if size < 10 else f"{value:.1f}"


def of_ten(chance: float) -> str:
    """A chance as people say it."""
    if 0 < chance < 0.05:
        return "under 1 of 10"
    return f"{10 * chance:.0f} of 10"


def shown(figure: Figure, *, metric: bool = False) -> tuple[str, str, str]:
    """Value, interval and unit of a figure in words."""
    if not figure.measured:
        return "not measured", "", figure.note
    if not isinstance(figure.value, int | float) or isinstance(figure.value, bool):
        return str(figure.value), "", ""
    scale, unit = (100.0, "%") if figure.unit == "share" else (1.0, figure.unit)

    def turn(value: float) -> str:
        changed, new = units.to_metric(value * scale, unit) if metric else (value * scale, unit)
        return number(changed, new)

    shown_unit = units.to_metric(1.0, unit)[1] if metric else unit
    span = f"{turn(figure.low)} to {turn(figure.high)}" if figure.low is not None and figure.high is not None else ""
    return turn(figure.number), span, shown_unit
