"""overwood serve: the desk in the browser, on this machine alone or for an office."""

from __future__ import annotations

import datetime as dt
import secrets
import socket
from pathlib import Path
from typing import TYPE_CHECKING

import click

from overwood.faces.cli.options import Day, book_option, prices_option, rules_option

if TYPE_CHECKING:
    from overwood.faces.served.serving import Told

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
_EVERYWHERE = ("0.0.0.0", "::")


@click.command("serve")
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8000, show_default=True, help="Port; 0 takes a free one."
)
@click.option("--on", type=Day(), help="Answer as of this day; today if left out.")
@click.option("--tour", is_flag=True, help="Show the tour: a dozen minutes through the desk, best on the demo's book.")
@click.option(
    "--background",
    "backgrounds",
    type=_FILE,
    multiple=True,
    help="Own map behind the stands: GeoTIFF or PMTiles; may be repeated.",
)
@click.option(
    "--metric",
    is_flag=True,
    envvar="OVERWOOD_METRIC",
    help="Say values in metric units; each reader may switch at the foot of a page.",
)
@click.option("--office", is_flag=True, help="For several people: accounts with roles, https, audit log.")
@click.option(
    "--listen", default="0.0.0.0", show_default=True, help="With --office: address of this machine to listen on."
)
@click.option(
    "--host",
    "hosts",
    multiple=True,
    help="With --office: a name people open it by; may be repeated. This machine's name if left out.",
)
@click.option(
    "--cert", type=_FILE, help="With --office: certificate chain (PEM); one of the office's own is made if left out."
)
@click.option("--key", type=_FILE, help="With --office: private key of the certificate (PEM).")
@book_option
@rules_option
@prices_option
def command(
    port: int, on: dt.date | None, tour: bool, metric: bool, backgrounds: tuple[Path, ...], office: bool, listen: str,
    hosts: tuple[str, ...],
    cert: Path | None, key: Path | None, book: Path | None, overlay: Path | None, prices: Path | None,
) -> None:  # fmt: skip
    """Open the desk in the browser.

    Alone, it listens on this machine only, and the address it prints works once. With --office it listens to the
    network by https, and people log in; the database is the book, or the one that DATABASE_URL names.
    """
    from overwood.desk import answers, session, timber
    from overwood.desk import backgrounds as behind
    from overwood.faces.served import serving

    if not office and (hosts or cert or key or listen != "0.0.0.0"):
        raise click.UsageError("--listen, --host, --cert and --key belong to --office.")
    if (cert is None) != (key is None):
        raise click.UsageError("--cert and --key go together.")
    settings = serving.Told(
        book=str(book or ""), on=str(on or ""), rules=str(overlay or ""), prices=str(prices or ""), tour=tour,
        metric=metric,
        backgrounds=tuple(str(path.resolve()) for path in backgrounds), token=secrets.token_urlsafe(24),
        hosts=_names(hosts, listen) if office else (), office_folder=str(session.office_folder(book)) if office else "",
    )  # fmt: skip
    # Opened here so that a fault is said before the address; a server that forks takes the settings over, one that
    # spawns makes them anew.
    session.open_book(book, create=True, web=serving.web_settings(settings))
    session.check_sound()
    answers.question(on or dt.date.today(), overlay)
    timber.price_list(prices)
    for path in backgrounds:
        behind.look(path)
    port = free_port(listen if office else serving.HOST, port)
    if not office:
        session.close()
        alone(port, settings)
        return
    certificate = (cert, key) if cert and key else _own_certificate(settings)
    _said(settings, port)
    session.close()
    serving.serve(port, settings, listen, certificate)


def alone(port: int, told: Told, *, browse: bool = False) -> None:
    """Serve this machine alone: say the address, open it in the browser where asked, and serve until stopped."""
    from overwood.faces.served import serving

    page = f"http://{serving.HOST}:{port}/launch/{told.token}/"
    click.echo(f"The desk is open: {page}")
    click.echo("The address works once, in one browser. Stop with Ctrl-C.")
    serving.serve(port, told, first_page=page if browse else "")


def _names(hosts: tuple[str, ...], listen: str) -> tuple[str, ...]:
    """Names the desk answers to: those given, or this machine's; and always this machine itself."""
    own = hosts or (socket.gethostname(),)
    address = () if listen in _EVERYWHERE else (listen,)
    return tuple(dict.fromkeys(name.lower() for name in (*own, *address, "localhost", "127.0.0.1")))


def _own_certificate(told: Told) -> tuple[Path, Path]:
    from overwood.faces.served import certificate

    return certificate.own(Path(told.office_folder), told.hosts, dt.datetime.now(dt.UTC))


def _said(told: Told, port: int) -> None:
    from overwood.desk import office

    base = f"https://{told.hosts[0]}:{port}"
    if office.accounts():
        click.echo(f"The desk is open: {base}/")
    else:
        click.echo(f"The desk is open: {base}/first/{told.token}/")
        click.echo("There is no account yet: this address makes the first, an admin's, once.")
    click.echo("Stop with Ctrl-C.")


def free_port(address: str, port: int) -> int:
    """The port, or a free one for 0.

    Raises
    ------
    click.UsageError
        when another program listens there, or the address is not this machine's.
    """
    with socket.socket(socket.AF_INET6 if ":" in address else socket.AF_INET) as tried:
        tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            tried.bind((address, port))
        except OSError as fault:
            raise click.UsageError(
                f"{address} port {port} cannot be listened on: {fault.strerror}. Name another, or port 0 "
                "for a free one."
            ) from None
        return int(tried.getsockname()[1])
