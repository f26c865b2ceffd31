"""overwood serve: the desk in the browser, on this machine alone."""

from __future__ import annotations

import datetime as dt
import secrets
import socket
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli.options import Day, book_option, prices_option, rules_option


@click.command("serve")
@click.option("--port", type=click.IntRange(0, 65535), default=8000, show_default=True, help="Port on this machine; 0 takes a free one.")
@click.option("--on", type=Day(), help="Answer as of this day; today if left out.")
@click.option("--tour", is_flag=True, help="Show the tour: a dozen minutes through the desk, best on the demo's book.")
@book_option
@rules_option
@prices_option
def command(port: int, on: dt.date | None, tour: bool, book: Path | None, overlay: Path | None, prices: Path | None) -> None:
    """Open the desk in the browser. It listens on this machine only; the address it prints works once."""
    from overwood.desk import answers, session, timber
    from overwood.faces.pages import serving

    # Opened here so that a fault is said before the address; a server that forks takes the settings over, one that spawns makes them anew.
    session.open_book(book, create=True, web=serving.web_settings(secrets.token_urlsafe(48)))
    answers.question(on or dt.date.today(), overlay)
    timber.price_list(prices)
    session.close()
    port = _free(port)
    token = secrets.token_urlsafe(24)
    told: dict[str, Any] = {"book": book, "on": on, "rules": overlay, "prices": prices, "tour": "yes" if tour else ""}
    click.echo(f"The desk is open: http://{serving.HOST}:{port}/launch/{token}/")
    click.echo("The address works once, in one browser. Stop with Ctrl-C.")
    serving.serve(port, {name: str(value) if value else "" for name, value in told.items()} | {"token": token})


def _free(port: int) -> int:
    """The port, or a free one for 0.

    Raises
    ------
    click.UsageError
        when another program listens there.
    """
    with socket.socket() as tried:
        tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            tried.bind(("127.0.0.1", port))
        except OSError:
            raise click.UsageError(f"Port {port} is taken. Name another with --port, or 0 for a free one.") from None
        return int(tried.getsockname()[1])
