"""Options many commands share: the book, the day of the question, the office's overlay, json, metric."""

from __future__ import annotations

import contextlib
import datetime as dt
import functools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from overwood.ground import measures

_PATH = click.Path(path_type=Path)
# Options by which a command lays its answer in the book.
_KEEPS = ("keep", "filled")


class Day(click.ParamType):
    """A day as year-month-day."""

    name = "day"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> dt.date:
        if isinstance(value, dt.date):
            return value
        try:
            return dt.date.fromisoformat(str(value))
        except ValueError:
            self.fail(f"{value!r} is no day; write it as 2025-10-15", param, ctx)


class OutFile(click.ParamType):
    """A file to be written; its folder must be there before any work begins."""

    name = "path"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        path = Path(value)
        if path.is_dir():
            self.fail(f"{path} is a folder; name a file in it", param, ctx)
        if not path.parent.is_dir():
            self.fail(f"the folder {path.parent} is not there; make it, or name another", param, ctx)
        return path


book_option = click.option(
    "--book", type=_PATH, envvar="OVERWOOD_BOOK", help="File of the book; the user's own book if left out."
)
json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON object for machines.")
on_option = click.option("--on", type=Day(), default=dt.date.today, show_default="today", help="Answer as of this day.")
rules_option = click.option(
    "--rules",
    "overlay",
    type=_PATH,
    envvar="OVERWOOD_RULES",
    help="An office's overlay of the rules; the one kept with the book if left out.",
)
prices_option = click.option(
    "--prices",
    type=_PATH,
    envvar="OVERWOOD_PRICES",
    help="Your price list (TOML); the one kept with the book if left out.",
)
language_option = click.option(
    "--language",
    "tongue",
    type=click.Choice(["en", "es", "both"]),
    default="en",
    show_default=True,
    help="Language of the paper: English, Spanish (not yet reviewed), or both side by side.",
)


metric_option = click.option("--metric", is_flag=True, envvar="OVERWOOD_METRIC", help="Say values in metric units.")


def says(metric: bool, as_json: bool) -> contextlib.AbstractContextManager[None]:
    """The units a command says values in; JSON for machines keeps its own."""
    return measures.in_units(measures.METRIC if metric and not as_json else measures.US)


def asks(command: Callable[..., Any]) -> Callable[..., Any]:
    """A command that asks the book a question: opens it and hands over the question, under the rules, the prices and
    the law kept with the book where the command names no others. It says values in metric units where it is asked to;
    JSON for machines and what is typed as options keep their own units."""

    @metric_option
    @book_option
    @on_option
    @rules_option
    @json_option
    @functools.wraps(command)
    def wrapped(metric: bool, book: Path | None, on: dt.date, overlay: Path | None, **more: Any) -> Any:
        from overwood.desk import answers, session

        for name, beside in (("prices", session.prices_beside), ("law_file", session.law_beside)):
            if name in more:
                more[name] = more[name] or session.where_kept(beside(book))
        prices = more.get("prices") or session.where_kept(session.prices_beside(book))
        ask = answers.question(on, overlay or session.where_kept(session.rules_beside(book)), prices)
        session.open_book(book)
        if "stand" in more:
            more["stand"] = answers.stand_name(more["stand"])
        if metric and any(more.get(name) for name in _KEEPS):
            click.echo("What is kept in the book is made, and shown here, in US units.", err=True)
            metric = False
        with says(metric, more["as_json"]):
            return command(ask=ask, **more)

    return wrapped
