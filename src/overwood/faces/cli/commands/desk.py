"""overwood desk: the desk of one person, opened in the browser by one word."""

from __future__ import annotations

import datetime as dt
import secrets
from pathlib import Path

import click

from overwood.faces.cli.commands import serve
from overwood.faces.cli.options import Day, book_option, prices_option, rules_option

_PORT = 8000


@click.command("desk")
@click.option(
    "--port", type=click.IntRange(0, 65535), help=f"Port; {_PORT}, or a free one where that is taken, if left out."
)
@click.option("--on", type=Day(), help="Answer as of this day; today if left out.")
@click.option("--no-browser", is_flag=True, help="Only print the address.")
@book_option
@rules_option
@prices_option
def command(
    port: int | None, on: dt.date | None, no_browser: bool, book: Path | None, overlay: Path | None,
    prices: Path | None,
) -> None:  # fmt: skip
    """Start the desk on this machine and open it in the browser.

    The book is made where there is none. Stop with Ctrl-C, or close the window of the console. For several people, or
    for more choices, see `overwood serve --help`.
    """
    from overwood.desk import session
    from overwood.faces.served import serving

    settings = serving.Told(
        book=str(book or ""),
        on=str(on or ""),
        rules=str(overlay or ""),
        prices=str(prices or ""),
        token=secrets.token_urlsafe(24),
    )
    session.open_book(book, create=True, web=serving.web_settings(settings))
    session.check_sound()
    session.close()
    serve.alone(_own_port(port), settings, browse=not no_browser)


def _own_port(port: int | None) -> int:
    """The port that was asked for, else the usual one, else a free one."""
    from overwood.faces.served.serving import HOST

    if port is not None:
        return serve.free_port(HOST, port)
    try:
        return serve.free_port(HOST, _PORT)
    except click.UsageError:
        return serve.free_port(HOST, 0)
