"""overwood import: records in, with every fault named, foreign headings confirmed, and what is replaced shown
before."""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
import sys
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import book_option, json_option, metric_option, rules_option, says
from overwood.faces.telling import fault_list
from overwood.ground.shell import shell_word

_SHOWN = 20


def pairs(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> dict[str, str]:
    """NAME=VALUE options as a dict."""
    pairs = {}
    for value in values:
        name, sign, answer = value.rpartition("=") if param.name == "codes" else value.partition("=")
        if not sign or not name:
            raise click.BadParameter(f"{value!r} is not NAME=VALUE", ctx=ctx, param=param)
        pairs[name.strip()] = answer.strip()
    return pairs


@dataclass(frozen=True, kw_only=True)
class _Job:
    """One file on the command line: what was said of it, and how it is to be told."""

    sent: Any
    answers: Any
    today: dt.date
    accept: bool
    replace: frozenset[str]
    save_as: str
    as_json: bool
    rules: Any


@click.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--yes",
    "accept",
    is_flag=True,
    help="Take foreign headings as they are proposed; every needed answer must be given.",
)
@click.option(
    "--set", "settings", multiple=True, callback=pairs, metavar="NAME=VALUE",
    help="Answer a question about this file, such as stand=K1 or baf_ft2_ac=10; of one sheet: SHEET.NAME=VALUE.",
)  # fmt: skip
@click.option(
    "--code",
    "codes",
    multiple=True,
    callback=pairs,
    metavar="WRITTEN=CODE",
    help="Say what a code means, such as RO=833.",
)
@click.option(
    "--map",
    "columns",
    multiple=True,
    callback=pairs,
    metavar="HEADING=COLUMN",
    help="Say what a heading is; - leaves it out.",
)
@click.option(
    "--unit",
    "units",
    multiple=True,
    callback=pairs,
    metavar="COLUMN=UNIT",
    help="Say which unit a column is in: dbh_in=cm.",
)
@click.option(
    "--table",
    "tables",
    multiple=True,
    callback=pairs,
    metavar="SHEET=TABLE",
    help="Say what a sheet holds; - leaves it out.",
)
@click.option(
    "--replace",
    multiple=True,
    metavar="VISIT",
    help="Let the file change stored values of this visit or record; all: of every one.",
)
@click.option("--look", is_flag=True, help="Show how the file is read and what would come in; write nothing.")
@click.option("--save-as", default="", metavar="NAME", help="Name under which the mapping of headings is kept.")
@click.option("--faults", type=click.Path(path_type=Path), help="Write every fault to this csv file.")
@metric_option
@book_option
@rules_option
@json_option
def command(
    file: Path,
    accept: bool,
    replace: tuple[str, ...],
    look: bool,
    save_as: str,
    faults: Path | None,
    book: Path | None,
    overlay: Path | None,
    as_json: bool,
    metric: bool,
    **said: dict[str, str],
) -> None:
    """Bring records in from FILE: csv, xlsx, ods, xls, zip, a data package or a folder of sheets.

    A file written as `overwood template` shows comes in at once where it only adds; what it would replace is shown old
    beside new and needs --replace. A file with other headings is shown first, with what must be answered, and comes in
    with --yes. Headings, units and codes are remembered for the next such file; its stand, day and plot size are asked
    every time. A file with faults changes nothing: it waits in quarantine.
    """
    from overwood.desk import answers, entering, importing, session, warm

    rules = answers.rules(overlay) if overlay else None
    session.open_book(book, create=True)
    job = _Job(
        sent=importing.file_at(file),
        answers=importing.Answers(**said),
        today=dt.date.today(),
        accept=accept,
        replace=entering.ALL if "all" in replace else frozenset(replace),
        save_as=save_as,
        as_json=as_json,
        rules=rules,
    )
    # What is shown is said in metric; what is written, faults that wait included, is made in US units.
    units = functools.partial(says, metric, as_json)
    if look:
        with units():
            _looked(job)
        return
    report = _brought_in(job, units)
    if report is None:
        return
    warm.ahead()
    if faults:
        text = fault_list.as_csv(map(vars, report.problems))
        faults.write_bytes(text.encode("utf-8-sig"))
    if as_json:
        output.as_json(report)
    else:
        with units():
            show(report)
    sys.exit(1 if report.faults or report.needs_consent else 0)


def _brought_in(job: _Job, units: Callable[[], AbstractContextManager[None]]) -> Any:
    """The report of the file; None where it was only shown, because something must be answered or confirmed first."""
    from overwood.desk import importing

    try:
        return _with_bar(job)
    except importing.NeedsAnswers:
        if job.accept:
            with units():
                _looked(job)
            raise
    with units():
        look = _looked(job)
    asks = look.report and not look.report.already and not job.as_json and sys.stdin.isatty()
    if not asks or not click.confirm("Bring it in?"):
        return None
    return _with_bar(dataclasses.replace(job, accept=True))


def _with_bar(job: _Job) -> Any:
    from overwood.desk import importing

    more = {
        "today": job.today,
        "answers": job.answers,
        "accept": job.accept,
        "replace": job.replace,
        "save_as": job.save_as,
        "rules": job.rules,
    }
    if job.as_json or not sys.stderr.isatty():
        return importing.bring_in(job.sent, **more)
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.completed:,.0f} rows"),
        TimeElapsedColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("reading", total=None)
        return importing.bring_in(
            job.sent, **more, progress=lambda table, rows: bar.update(task, advance=rows, description=table)
        )


def _looked(job: _Job) -> Any:
    """Show how a file is read, what is open, and what would come in; hands the look on."""
    from overwood.desk import importing

    look = importing.consider(job.sent, today=job.today, answers=job.answers, rules=job.rules)
    if job.as_json:
        output.as_json(look)
        return look
    if look.proposal:
        show_proposal(look.proposal, look.report.reading if look.report else ())
    if look.report:
        _show_reading(look.report)
        show_review(look.report)
        _show_problems(look.report)
    click.echo(_what_next(look))
    return look


def _what_next(look: Any) -> str:
    if look.report and look.report.already:
        return f"{look.file} is already in the book (entry {look.report.batch}); nothing would be added."
    if not look.understood:
        return f"{look.file}: nothing was written. Say what a sheet holds, such as --table SHEET=trees."
    if look.open_questions:
        answers = " ".join(question.how for question in look.open_questions)
        return f"{look.file}: nothing was written. Answer, look at how it is read, and add --yes: {answers}"
    if look.report and look.report.faults:
        return f"{look.file}: nothing was written; {len(look.report.faults)} faults stand in the way."
    replaces = look.report.review.replaces if look.report and look.report.review else ()
    consent = "".join(f" --replace {shell_word(mark)}" for mark in replaces)
    return (
        f"{look.file}: nothing was written. If this is right, run the same command with "
        f"{'--yes' if look.proposal else 'no --look'}{consent}."
    )


def _show_reading(report: Any, *, with_columns: bool = False) -> None:
    """What was inferred, whole lines as they are written and as they are read, and what they come to."""
    from overwood.faces import readings

    for read in report.reading:
        if with_columns:
            columns = [f"{one.heading} as {one.column or 'nothing'}: {readings.column(one)}" for one in read.columns]
            output.bullets(f"Columns of {read.sheet!r}", columns)
        output.bullets(f"Not written in the lines of {read.sheet!r} themselves", read.inferred)
        lines = [readings.line(one, read.table) for one in read.lines]
        output.bullets("Lines as they are written, and as they are read", lines)
        click.echo(f"  {readings.tally(read)}")


def show_proposal(proposal: Any, reading: Any = ()) -> None:
    """The proposed reading, sheet by sheet, with its questions and the evidence for them."""
    from overwood.faces import readings

    for sheet in proposal.sheets:
        if not sheet.table:
            click.echo(f"Sheet {sheet.sheet!r} is left out: {sheet.why_not}.")
            continue
        comes_to = readings.of_sheet(reading, sheet)["comes_to"]
        rows = [
            (
                one.heading,
                "left out" if one.column == "-" else one.column,
                one.unit,
                comes_to.get(one.heading) or ", ".join(one.such_as),
            )
            for one in sheet.headings
        ]
        known = "; these headings are known" if sheet.remembered else ""
        row = f"headings in row {sheet.heading_row}" if sheet.heading_row else "without headings"
        title = f"Sheet {sheet.sheet!r} as {sheet.table}, {row}{known}"
        heads = ("heading in the file", "is taken as", "read in", "comes to" if comes_to else "holds")
        output.table(heads, rows, title=title)
        output.bullets("  Notes", sheet.notes)
    open_, rest = _by_need(proposal.questions)
    _show_questions("Questions that must be answered", open_)
    _show_questions("Taken so, if you say nothing else", rest)


def _by_need(questions: Any) -> tuple[list[Any], list[Any]]:
    return [one for one in questions if one.is_open], [one for one in questions if not one.is_open]


def _show_questions(title: str, questions: list[Any]) -> None:
    if questions:
        output.heading(title)
    for one in questions:
        taken = f" [{one.answer or one.default}]" if one.answer or one.default else ""
        where = f"{one.sheet}: " if one.sheet else ""
        click.echo(
            click.wrap_text(f"{where}{one.text}{taken}", width=110, initial_indent="  - ", subsequent_indent="    ")
        )
        for text in one.evidence:
            click.echo(f"      {text}")
        for choice in one.choices:
            click.echo(f"      {choice.value}{': ' + choice.meaning if choice.meaning else ''}")
        click.echo(f"      Answer: {one.how}" + "".join(_also(one.kind, key) for key in one.also))


def _also(kind: str, key: str) -> str:
    """Another way to answer, so that it can be copied to a shell."""
    return f"   or --{kind} {shell_word(f'{key}=VALUE')}"


def show_review(report: Any) -> None:
    """What would come of a file: each visit, what is replaced old beside new, and rows that add up."""
    from overwood.faces import reviews

    review = report.review
    if review is None:
        return
    output.bullets("Visits", [reviews.visit(seen) for seen in review.visits[:_SHOWN]])
    _more(len(review.visits))
    others = [reviews.record(one) for one in review.others if one.state != "same"]
    output.bullets("Other records", others[:_SHOWN])
    _more(len(others))
    replaced = reviews.replacements(review)
    output.bullets("Replaced or withdrawn, old beside new", replaced[:_SHOWN])
    _more(len(replaced))
    if review.sums:
        click.echo(f"{report.file}: {reviews.sums(review.sums, written=report.batch is not None)}.")


def _more(count: int) -> None:
    if count > _SHOWN:
        click.echo(f"  ... and {count - _SHOWN:,} more; all of them with --json")


def show(report: Any) -> None:
    """What came of an import, in words."""
    if report.already:
        click.echo(f"{report.file} is already in the book (entry {report.batch}); nothing was added.")
        return
    _show_problems(report)
    _show_reading(report, with_columns=True)
    show_review(report)
    if report.needs_consent:
        asked = " ".join(f"--replace {shell_word(mark)}" for mark in report.needs_consent[:_SHOWN])
        click.echo(
            f"{report.file}: nothing was stored, because it would change what the book holds. If the values "
            "of this file are right, "
            f"run the same command with {asked}{'' if len(report.needs_consent) == 1 else ', or with --replace all'}."
        )
        return
    if report.quarantine is not None:
        click.echo(
            f"{report.file}: {len(report.faults)} faults. Nothing was stored; the file waits in quarantine "
            "under number "
            f"{report.quarantine}. Mend it and import it again, or bring its good rows in with "
            f"`overwood quarantine release {report.quarantine}`."
        )
        return
    if report.batch is None:
        said = "everything in it is already in the book" if report.same else "it holds nothing that can be stored"
        click.echo(f"{report.file}: {said}; nothing was added.")
        return
    counted = ", ".join(f"{rows:,} {table}" for table, rows in report.new.items() if rows) or "nothing new"
    click.echo(f"{report.file}: {counted} (entry {report.batch}).")
    if report.mapping:
        click.echo(f"  The mapping of its headings is kept as {report.mapping!r}; see `overwood mappings`.")
    output.bullets("  Corrections; the values before are kept in the history", report.corrected[:_SHOWN])
    click.echo(f"  To take it out again: overwood entries --undo {report.batch}")


def _show_problems(report: Any) -> None:
    for problem in (report.faults + report.warnings)[:_SHOWN]:
        mark = "fault" if problem.severity == "error" else "note"
        click.echo(f"  {mark}: {problem}")
    left = len(report.problems) - _SHOWN
    if left > 0:
        click.echo(f"  ... and {left} more; write them all with --faults FILE.csv")
