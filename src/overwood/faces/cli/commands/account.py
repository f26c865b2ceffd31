"""overwood account: accounts of an office from the machine the desk runs on, for when no admin can log in."""

from __future__ import annotations

from pathlib import Path

import click

from overwood.desk import office
from overwood.desk.office import ROLES
from overwood.faces.cli.options import book_option


@click.command("account")
@click.argument("name", required=False)
@click.option("--role", type=click.Choice(list(ROLES)), help="Role of a new account, or the new role of one.")
@click.option("--close/--open", "closed", default=None, help="Close the account, or open it again.")
@click.option("--password", "new_password", is_flag=True, help="Ask for a new password of an account.")
@click.option("--check-log", is_flag=True, help="Say whether the audit log follows from its first line to its last.")
@book_option
def command(
    name: str | None, role: str | None, closed: bool | None, new_password: bool, check_log: bool, book: Path | None
) -> None:  # fmt: skip
    """List the accounts of an office; with a name add one, or change its role or password.

    A new account needs --role. The password is asked for, never written on the command line.
    """
    from overwood.desk import office, session
    from overwood.faces.served import serving

    settings = serving.Told(hosts=("localhost",), office_folder=str(session.office_folder(book)))
    session.open_book(book, web=serving.web_settings(settings))
    if check_log:
        _check_log()
        return
    if name is None:
        _list()
        return
    here = {row["name"] for row in office.accounts()}
    if name not in here:
        if role is None:
            raise click.UsageError(f"There is no account {name!r}; give --role to add it.")
        office.add(name, role, _asked())
        click.echo(f"{name} is added as {role}.")
        return
    if role is None and closed is None and not new_password:
        raise click.UsageError(f"{name} is there; say what to change: --role, --close, --open or --password.")
    if role is not None:
        office.set_role(name, role)
    if closed is not None:
        office.set_open(name, not closed)
    if new_password:
        office.set_password(name, _asked())
    _list()


def _asked() -> str:
    password: str = click.prompt("Password, ten characters or more", hide_input=True, confirmation_prompt=True)
    return password


def _check_log() -> None:
    state = office.log_state()
    if state.fault:
        click.echo(f"{state.fault} Compare a backup.")
        raise SystemExit(1)
    click.echo(f"{state.lines} lines, each sealed with the one before. Seal of the last: {state.last_mark or 'none'}")


def _list() -> None:
    rows = office.accounts()
    for row in rows:
        click.echo(f"{row['name']:<24} {row['role']:<9} {'' if row['active'] else 'closed'}".rstrip())
    if not rows:
        click.echo("There are no accounts. Add the first: overwood account NAME --role admin")
