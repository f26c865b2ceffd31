"""overwood demo: the main job on the invented property."""

from __future__ import annotations

import datetime as dt
import functools
import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from overwood.faces.cli.commands import property as property_command
from overwood.faces.cli.options import Day
from overwood.ground import measures
from overwood.ground.shell import shell_word

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from overwood.desk.answers import Question
    from overwood.judgement.course import Advice

_DAY = dt.date(2025, 10, 15)
# What papers say that come later, and what went wrong with them.
_LATER = "later.txt"


@click.command("demo")
@click.option(
    "--package",
    type=click.Path(path_type=Path, exists=True),
    help="Data package to run on; the invented property that comes with the program if left out.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("demo-out"),
    show_default=True,
    help="Folder for the book and the papers.",
)
@click.option(
    "--on", type=Day(), default=_DAY, show_default=str(_DAY), help="Day of the question; the demo's records end then."
)
@click.option("--rest", is_flag=True, hidden=True, help="Only the papers that wait for a compiler.")
def command(package: Path | None, out: Path, on: dt.date, rest: bool) -> None:
    """Load the invented Vesperlick Tract into a fresh book, advise every stand, and write the papers.

    Nobody waits for a compiler: papers that need light come behind it where this machine compiles that for the first
    time, and their names are told.
    """
    from overwood.desk import session, warm

    package, book = package or session.invented() / "vesperlick", out / "vesperlick.sqlite3"
    if rest:
        _rest(book, package, on)
        return
    warm.ahead("light")
    from overwood.desk import answers, importing

    out.mkdir(parents=True, exist_ok=True)
    for stale in (*out.glob("vesperlick.sqlite3*"), *out.glob(_LATER)):
        stale.unlink()
    session.open_book(book, create=True)
    report = importing.bring_in(package, today=dt.date.today())
    counted = sum(report.new.values())
    click.echo(
        f"The invented Vesperlick Tract: {counted:,} records in, {len(report.faults)} faults, "
        f"{len(report.warnings)} notes."
    )
    ask = answers.question(on)
    advices = answers.property_advice(ask)
    property_command.show(advices)
    behind, at_once = _behind(out, package, on), warm.compiled("light")
    papers, waiting = _written(out, _papers(advices, ask)), [name for name, _ in _waiting(package.parent, advices, ask)]
    if at_once:
        failed, later = behind.wait(), out / _LATER
        click.echo(later.read_text(encoding="utf-8"), nl=False)
        later.unlink()
        if failed:
            raise click.exceptions.Exit(failed)
        papers += waiting
    click.echo(f"Written to {out}/: {', '.join(papers)}")
    if not at_once:
        click.echo(
            f"To come there within a minute: {', '.join(waiting)}, with what they say in {_LATER}. "
            "This machine compiles the light in them first, once."
        )
    click.echo(
        "\nGo on with your own stands:\n"
        "  overwood template sheets.xlsx     empty sheets; or keep your own spreadsheet, its headings are mapped\n"
        "  overwood import sheets.xlsx       every fault is named by sheet, row and column; nothing is lost\n"
        "  overwood property                 the table above, for your stands\n"
        "  overwood advise STAND, overwood why STAND FIGURE, overwood brief STAND\n"
        f"Look around in the demo: overwood advise S3 --book {shell_word(str(book))} --on {on}\n"
        f"or in the browser:        overwood desk --book {shell_word(str(book))} --on {on}\n"
        f"The command lies at {Path(sys.argv[0]).absolute()}; the demo's sheets at {package.parent}."
    )


def _rest(book: Path, package: Path, on: dt.date) -> None:
    """What :func:`_behind` begins."""
    from overwood.desk import answers, session, warm

    if not warm.compiled("light"):
        warm.warm(click.echo, ["light"])
    session.open_book(book)
    ask = answers.question(on)
    _written(book.parent, _waiting(package.parent, answers.property_advice(ask), ask))


def _behind(out: Path, package: Path, on: dt.date) -> subprocess.Popen[bytes]:
    """The papers that need light, written by a process beside this one, which it outlives where it has to compile."""
    command = [sys.executable, "-P", "-m", "overwood", "demo", "--rest", "--out", out, "--package", package, "--on", on]
    environment = {**os.environ, "PYTHONIOENCODING": "utf-8"}
    with (out / _LATER).open("wb") as later:
        return subprocess.Popen(
            list(map(str, command)),
            stdin=subprocess.DEVNULL,
            stdout=later,
            stderr=later,
            env=environment,
            start_new_session=True,
        )


def _written(out: Path, papers: Sequence[tuple[str, Callable[[Path], str | None]]]) -> list[str]:
    """Papers written, and said what they say."""
    for name, write in papers:
        if words := write(out / name):
            click.echo(words)
    return [name for name, _ in papers]


def _papers(advices: Sequence[Advice], ask: Question) -> list[tuple[str, Callable[[Path], None]]]:
    """The papers that wait for nothing."""
    from overwood.desk import answers, calendar
    from overwood.faces.papers import owner_brief, stand_table

    def brief(stand: str, target: Path) -> None:
        owner_brief.write(answers.brief(stand, ask), target)

    briefs = [(f"{advice.stand}-brief.pdf", functools.partial(brief, advice.stand)) for advice in advices]
    ahead = ask.on + dt.timedelta(days=730)
    return [
        *briefs,
        ("stands.pdf", lambda target: stand_table.write(advices, target)),
        ("due.ics", lambda target: calendar.write(target, answers.due(ask, ahead), ask.on)),
    ]


def _waiting(folder: Path, advices: Sequence[Advice], ask: Question) -> list[tuple[str, Callable[[Path], str | None]]]:
    """Injection orders of the stands advised to inject, burn days of one stand whose fuel was looked at, and the
    marking of the stands with a stem map."""
    from overwood.desk import answers, marking

    weather, files = folder / "weather.csv", answers.all_files()
    seen = sorted(name for name, file in files.items() if file.as_of(ask.on).latest("fuel"))
    inject = [advice.stand for advice in advices if advice.step == "inject"]
    papers: list[tuple[str, Callable[[Path], str | None]]]
    papers = [(f"{stand}-injection.pdf", functools.partial(_injection, stand, ask)) for stand in inject]
    if weather.exists():
        papers += [(f"{stand}-burn-days.svg", functools.partial(_burn, stand, weather, ask)) for stand in seen[:1]]
    return papers + [
        (f"{stand}-marking.pdf", functools.partial(_marking, stand, ask)) for stand in marking.mapped_stands(ask)
    ]


def _injection(stand: str, ask: Question, target: Path) -> None:
    from overwood.desk import fire
    from overwood.faces.papers import injection_order

    injection_order.write(*fire.injection(stand, ask), ask.on, target)


def _burn(stand: str, weather: Path, ask: Question, target: Path) -> str:
    from overwood.desk import fire
    from overwood.faces.papers import burn_calendar

    burn = fire.burn(stand, ask, weather=fire.read_weather(weather))
    burn_calendar.write_picture(burn, target)
    days = ", ".join(f"{block.fuel} {block.mean_days:.0f}" for block in burn.days)
    shut = "; ".join(gate.why for gate in burn.gates.against)
    return f"{stand} burn days a season in three invented winters: {days}. " + (
        f"This winter refused: {shut}." if shut else "No gate says no."
    )


def _marking(stand: str, ask: Question, target: Path) -> str:
    from overwood.desk import marking
    from overwood.faces.papers import marking_sheet

    marked = marking.mark(stand, ask, marking.wants(ask), marking.Effort(1, 5_000), years=5)
    marking_sheet.write(marked, ask.on, target)
    after = marked.marking.light_after
    return (
        f"{stand} marked on its stem map: {measures.amount(marked.marking.residual_ba_ft2_ac, 'ft2/ac')} "
        "stay and light goes from "
        f"{marked.marking.light_before.mean_pct:.0f} to {after.mean_pct:.0f}% of full sun, "
        f"{after.share_in_band:.0%} of the ground as wanted."
    )
