"""overwood demo: the main job on the invented property."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from overwood.faces.cli.commands import property as property_command
from overwood.faces.cli.options import Day
from overwood.ground import measures
from overwood.ground.shell import shell_word

if TYPE_CHECKING:
    from collections.abc import Sequence

    from overwood.desk.answers import Question
    from overwood.judgement.course import Advice

_DAY = dt.date(2025, 10, 15)


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
def command(package: Path | None, out: Path, on: dt.date) -> None:
    """Load the invented Vesperlick Tract into a fresh book, advise every stand, and write the papers."""
    from overwood.desk import warm

    # The marking at the end is the first that wants a compiler.
    warm.ahead("light")
    from overwood.desk import answers, calendar, importing, marking, session
    from overwood.faces.papers import owner_brief, stand_table

    package = package or session.invented() / "vesperlick"
    out.mkdir(parents=True, exist_ok=True)
    book = out / "vesperlick.sqlite3"
    for stale in out.glob("vesperlick.sqlite3*"):
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
    papers = [
        _paper(
            out,
            f"{advice.stand}-brief.pdf",
            lambda target, name=advice.stand: owner_brief.write(answers.brief(name, ask), target),
        )
        for advice in advices
    ]
    papers.append(_paper(out, "stands.pdf", lambda target: stand_table.write(advices, target)))
    papers.append(
        _paper(out, "due.ics", lambda target: calendar.write(target, answers.due(ask, on + dt.timedelta(days=730)), on))
    )
    papers += _fire(out, advices, package.parent / "weather.csv", ask)
    papers += [_marking(out, name, ask) for name in marking.mapped_stands(ask)]
    click.echo(f"Written to {out}/: {', '.join(papers)}")
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


def _marking(out: Path, stand: str, ask: Question) -> str:
    from overwood.desk import marking
    from overwood.faces.papers import marking_sheet

    marked = marking.mark(stand, ask, marking.wants(ask), marking.Effort(1, 5_000), years=5)
    after = marked.marking.light_after
    click.echo(
        f"{stand} marked on its stem map: {measures.amount(marked.marking.residual_ba_ft2_ac, 'ft2/ac')} "
        "stay and light goes from "
        f"{marked.marking.light_before.mean_pct:.0f} to {after.mean_pct:.0f}% of full sun, "
        f"{after.share_in_band:.0%} of the ground as wanted."
    )
    return _paper(out, f"{stand}-marking.pdf", lambda target: marking_sheet.write(marked, ask.on, target))


def _fire(out: Path, advices: Sequence[Advice], weather_file: Path, ask: Question) -> list[str]:
    """Injection orders of the stands advised to inject, and burn days of one stand whose fuel was looked at."""
    from overwood.desk import answers, fire
    from overwood.faces.papers import burn_calendar, injection_order

    papers = []
    for name in (advice.stand for advice in advices if advice.step == "inject"):
        order, file = fire.injection(name, ask)
        papers.append(
            _paper(
                out,
                f"{name}-injection.pdf",
                lambda target, o=order, f=file: injection_order.write(o, f, ask.on, target),
            )
        )
    seen = sorted(name for name, file in answers.all_files().items() if file.as_of(ask.on).latest("fuel"))
    if weather_file.exists() and seen:
        burn = fire.burn(seen[0], ask, weather=fire.read_weather(weather_file))
        days = ", ".join(f"{block.fuel} {block.mean_days:.0f}" for block in burn.days)
        shut = "; ".join(gate.why for gate in burn.gates.against)
        click.echo(
            f"{seen[0]} burn days a season in three invented winters: {days}. "
            + (f"This winter refused: {shut}." if shut else "No gate says no.")
        )
        papers.append(_paper(out, f"{seen[0]}-burn-days.svg", lambda target: burn_calendar.write_picture(burn, target)))
    return papers


def _paper(out: Path, name: str, write: object) -> str:
    write(out / name)  # type: ignore[operator]
    return name
