"""overwood import: records in, with every fault named and foreign headings confirmed."""

from __future__ import annotations

import dataclasses
import datetime as dt
import sys
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import book_option, json_option

_SHOWN = 20


def _pairs(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> dict[str, str]:
    found = {}
    for value in values:
        name, sign, answer = value.partition("=")
        if not sign or not name:
            raise click.BadParameter(f"{value!r} is not NAME=VALUE", ctx=ctx, param=param)
        found[name.strip()] = answer.strip()
    return found


@click.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--yes", "accept", is_flag=True, help="Take the proposed mapping of foreign headings without asking.")
@click.option(
    "--set",
    "settings",
    multiple=True,
    callback=_pairs,
    metavar="NAME=VALUE",
    help="Answer a question of the mapping, such as baf_ft2_ac=10.",
)
@click.option(
    "--code", "codes", multiple=True, callback=_pairs, metavar="WRITTEN=CODE", help="Say what a species code means, such as RO=833."
)
@click.option("--map", "columns", multiple=True, callback=_pairs, metavar="HEADING=COLUMN", help="Say what a heading is; - leaves it out.")
@click.option(
    "--unit", "units", multiple=True, callback=_pairs, metavar="COLUMN=UNIT", help="Say which unit a column is in, such as dbh_in=cm."
)
@click.option("--save-as", default="", metavar="NAME", help="Name under which the mapping is kept.")
@click.option("--faults", type=click.Path(path_type=Path), help="Write every fault to this csv file.")
@book_option
@json_option
def command(
    file: Path,
    accept: bool,
    settings: dict[str, str],
    codes: dict[str, str],
    columns: dict[str, str],
    units: dict[str, str],
    save_as: str,
    faults: Path | None,
    book: Path | None,
    as_json: bool,
) -> None:
    """Bring records in from FILE: csv, xlsx, ods, xls, zip, a data package or a folder of sheets.

    A file written as `overwood template` shows comes straight in. For other headings, units and codes a mapping is
    proposed; once confirmed it is kept and known again. A file with faults changes nothing: it waits in quarantine.
    """
    from overwood.desk import importing, session

    session.open_book(book, create=True)
    answers = importing.Answers(accept=accept, settings=settings, codes=codes, columns=columns, units=units, save_as=save_as)
    today = dt.date.today()
    try:
        report = _with_bar(file, today, answers, quiet=as_json)
    except importing.NeedsMapping as question:
        report = _confirm(file, today, answers, question, as_json=as_json)
    if faults:
        write_faults(faults, report.problems)
    if as_json:
        output.as_json(dataclasses.asdict(report))
    else:
        show(report)
    sys.exit(1 if report.faults else 0)


def _with_bar(file: Path, today: dt.date, answers: Any, *, quiet: bool) -> Any:
    from overwood.desk import importing

    if quiet or not sys.stderr.isatty():
        return importing.bring_in(file, today=today, answers=answers)
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.completed:,.0f} rows"), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("reading", total=None)
        return importing.bring_in(
            file, today=today, answers=answers, progress=lambda table, rows: bar.update(task, advance=rows, description=table)
        )


def _confirm(file: Path, today: dt.date, answers: Any, question: Any, *, as_json: bool) -> Any:
    from overwood.desk import importing

    show_proposal(question.proposal)
    open_questions = any(not value for plan in question.proposal["sheets"] for value in plan.get("constants", {}).values())
    if as_json or not sys.stdin.isatty() or (open_questions and not answers.settings):
        raise click.UsageError(
            "Run the same command again with --yes and the answers, if this mapping is right; correct the headings if not."
        )
    if not click.confirm("Use this mapping, and keep it for the next such file?"):
        raise click.Abort
    return importing.bring_in(file, today=today, answers=dataclasses.replace(answers, accept=True))


def show_proposal(proposal: dict[str, Any]) -> None:
    """The proposed mapping, sheet by sheet, with its open questions."""
    for plan in proposal["sheets"]:
        if not plan["table"]:
            click.echo(f"Sheet {plan['sheet']!r} is left out: {plan['why_not']}.", err=True)
            continue
        rows = [(source["from"], column, source["unit"] or "") for column, source in plan["columns"].items()]
        output.table(
            ("heading in the file", "is taken as", "read in"),
            rows,
            title=f"Sheet {plan['sheet']!r} as {plan['table']}, headings in row {plan['heading_row']}",
        )
        if plan["fill_down"]:
            click.echo(f"  Blank cells of {', '.join(plan['fill_down'])} take the value above.")
        if plan["not_used"]:
            click.echo(f"  Not used: {', '.join(plan['not_used'])}.")
        codes = {written: code for known in plan["codes"].values() for written, code in known.items() if code}
        if codes:
            click.echo("  Codes: " + ", ".join(f"{written} = {code}" for written, code in codes.items()))
        output.bullets("  Questions", plan["questions"])


def show(report: Any) -> None:
    """What came of an import, in words."""
    if report.already:
        click.echo(f"{report.file} is already in the book (entry {report.batch}); nothing was added.")
        return
    for problem in (report.faults + report.warnings)[:_SHOWN]:
        mark = "fault" if problem.severity == "error" else "note"
        click.echo(f"  {mark}: {problem}")
    left = len(report.problems) - _SHOWN
    if left > 0:
        click.echo(f"  ... and {left} more; write them all with --faults FILE.csv")
    if report.quarantine is not None:
        click.echo(
            f"{report.file}: {len(report.faults)} faults. Nothing was stored; the file waits in quarantine under number "
            f"{report.quarantine}. Mend it and import it again, or bring its good rows in with "
            f"`overwood quarantine release {report.quarantine}`."
        )
        return
    counted = ", ".join(f"{rows:,} {table}" for table, rows in report.new.items() if rows) or "nothing new"
    click.echo(f"{report.file}: {counted} (entry {report.batch}).")
    if report.same:
        click.echo(f"  {report.same:,} rows were already in the book.")
    if report.mapping:
        click.echo(f"  Read with the mapping {report.mapping!r}.")
    output.bullets("  Corrections; the values before are kept in the history", report.corrected[:_SHOWN])


def write_faults(target: Path, problems: list[Any]) -> None:
    """Every problem as a csv that a spreadsheet opens safely."""
    import csv

    names = ("severity", "file", "sheet", "row", "column", "what", "found", "expected", "remedy")
    with target.open("w", encoding="utf-8-sig", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(names)
        for problem in problems:
            writer.writerow([_safe(str(getattr(problem, name) if getattr(problem, name) is not None else "")) for name in names])


def _safe(text: str) -> str:
    """A spreadsheet takes a cell that begins so for a formula; a leading apostrophe keeps it text."""
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text
