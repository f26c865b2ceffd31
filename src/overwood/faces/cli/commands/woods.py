"""overwood woods: the kit packed, walks made and recalled, tallies taken in, looked at and written."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import (
    OutFile,
    asks,
    book_option,
    json_option,
    language_option,
    on_option,
)


@click.group("woods")
def command() -> None:
    """A day's tally on a phone without signal: make a walk, load it at /woods/ or from its file, tally, bring the taps
    back.

    Taps are kept as they arrive; `woods write` puts what they come to into the records once it was looked at.
    """


@command.command("kit")
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
def kit(folder: Path) -> None:
    """Pack the kit into FOLDER with its checksum list, for any https host."""
    from overwood.faces import woods

    if folder.exists() and any(folder.iterdir()):
        raise click.UsageError(f"{folder} is not empty; name a new folder.")
    names = woods.pack(folder)
    size = sum((folder / name).stat().st_size for name in names)
    click.echo(
        f"{len(names)} files, {size / 1000:.0f} KB, in {folder}. Serve them by https; a phone opens the "
        "address once with signal."
    )


@command.command("walk")
@click.argument("stands")
@click.option(
    "--kind",
    "kinds",
    multiple=True,
    default=("cruise", "reproduction"),
    show_default=True,
    help="Kind of visit; may be repeated.",
)
@click.option("--days", default=14, show_default=True, help="Days until the walk expires.")
@click.option(
    "--points",
    type=click.IntRange(1, 5000),
    show_default="as the rules say",
    help="Points where there are no older plots.",
)
@click.option("--seed", default=1, show_default=True, help="The same seed gives the same grid.")
@click.option(
    "--baf",
    type=click.FloatRange(1, 120),
    show_default="as the rules say",
    help="Prism factor where there is no visit before, ft2/ac.",
)
@click.option("--new-plots", is_flag=True, help="Lay new plots and rings, not those of the last visit.")
@click.option(
    "--declination",
    type=click.FloatRange(-90, 90),
    help="Magnetic declination here in degrees, east positive, from your map.",
)
@click.option("--out", type=OutFile(), help="Write the walk to this file.")
@asks
def walk(
    stands: str, kinds: tuple[str, ...], days: int, points: int | None, seed: int, baf: float | None, new_plots: bool,
    declination: float | None,
    out: Path | None, ask: Any, as_json: bool,
) -> None:  # fmt: skip
    """Make a walk for STANDS, parted by commas."""
    from overwood.desk import answers, walks

    names = [answers.stand_name(name.strip()) for name in stands.split(",") if name.strip()]
    design = walks.design(ask.rules, points=points, seed=seed, baf_ft2_ac=baf, anew=new_plots)
    made = walks.make(names, list(kinds), ask, design=design, days=days, declination_deg=declination)
    if out:
        out.write_text(walks.as_file(made), encoding="utf-8")
    if as_json:
        output.as_json(made)
        return
    click.echo(f"Walk {made['walk'][:8]} for {', '.join(names)}: {', '.join(kinds)}; until {made['expires_on']}.")
    for stand in made["stands"]:
        for visit in stand["visits"]:
            click.echo(f"  {visit['visit']}: {len(visit['points'])} points")
    click.echo(f"Written to {out}." if out else "The phone loads it at /woods/, or write it to a file with --out.")


@command.command("paper")
@click.argument("stand")
@click.argument("kind")
@click.option(
    "--points",
    type=click.IntRange(1, 150),
    show_default="as the rules say",
    help="Points where there are no older plots.",
)
@click.option("--seed", default=1, show_default=True, help="The same seed gives the same grid.")
@click.option("--new-plots", is_flag=True, help="Lay new plots and rings, not those of the last visit.")
@click.option(
    "--what",
    type=click.Choice(["sheet", "map", "labels", "ticks"]),
    default="sheet",
    show_default=True,
    help="The paper wanted.",
)
@click.option(
    "--first",
    type=click.IntRange(1, 5000),
    default=1,
    show_default=True,
    help="First label or plot, where there are many.",
)
@click.option("--out", type=OutFile(), required=True, help="Write the PDF to this file.")
@language_option
@asks
def paper(
    stand: str,
    kind: str,
    points: int | None,
    seed: int,
    new_plots: bool,
    what: str,
    first: int,
    out: Path,
    tongue: str,
    ask: Any,
    as_json: bool,
) -> None:
    """Write the blank tally sheet of STAND for a visit of this KIND, sheets of boxes whose photo the desk reads
    (ticks), or the map or labels of its points, as PDF."""
    from overwood.desk import walks
    from overwood.desk.tally_forms import FORMS
    from overwood.faces.papers import tally_sheet

    if kind not in FORMS:
        raise click.UsageError(f"there is no sheet {kind!r}; there are {', '.join(FORMS)}.")
    plan = walks.plan(stand, kind, ask, walks.design(ask.rules, points=points, seed=seed, anew=new_plots))
    if what == "map":
        tally_sheet.write_map(plan, ask.on, out, tongue)
    elif what == "labels":
        tally_sheet.write_labels(plan, ask.on, out, first, tongue)
    elif what == "ticks":
        tally_sheet.write_ticks(plan, ask.on, out, first, tongue)
    else:
        tally_sheet.write(plan, kind, ask.on, out, tongue)
    facts = {"file": str(out), "stand": stand, "kind": kind, "paper": what, "points": len(plan["visits"][0]["points"])}
    if as_json:
        output.as_json(facts)
        return
    click.echo(f"{what.capitalize()} of {stand}, {kind}, {facts['points']} points: {out}.")


def _phones(one: Any) -> str:
    return (
        ", ".join(f"{device}: numbers to {said['last']}, {said['seen'][:16]}" for device, said in one.phones.items())
        or "nothing yet"
    )


@command.command("walks")
@book_option
@json_option
def listed(book: Path | None, as_json: bool) -> None:
    """List the walks with what each phone has sent."""
    from overwood.desk import session, walks

    session.open_book(book)
    lines = walks.listed()
    if as_json:
        output.as_json({"walks": lines})
        return
    rows = [
        (
            one.walk[:8],
            ", ".join(one.stands),
            str(one.made_on),
            "recalled" if one.recalled else str(one.expires_on),
            _phones(one),
        )
        for one in lines
    ]
    output.table(("walk", "stands", "made", "until", "phones"), rows, title="Walks")


@command.command("recall")
@click.argument("walk")
@click.option("--back", is_flag=True, help="Take the recall back.")
@book_option
def recall(walk: str, back: bool, book: Path | None) -> None:
    """Recall WALK: what its phones still send is kept and waits."""
    from overwood.desk import session, walks

    session.open_book(book)
    walks.recall(walk, back=back)
    click.echo("The recall was taken back." if back else "Recalled. What its phones still send is kept, and waits.")


@command.command("take")
@click.argument("files", nargs=-1, required=True, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@book_option
@json_option
def take(files: tuple[Path, ...], book: Path | None, as_json: bool) -> None:
    """Take taps in from FILES: tallies that a phone saved, pictures of the codes on its screen, or what a scanner read
    of them.

    A second time changes nothing. A series of codes is taken in whole or not at all.
    """
    from overwood.desk import from_phone, session

    session.open_book(book)
    several = from_phone.take([(file.name, file.read_bytes()) for file in files])
    if as_json:
        output.as_json(several[0] if len(several) == 1 else {"taken": several})
        return
    for taken in several:
        look = f"See them with `overwood woods look {taken.walk[:8]}`."
        click.echo(f"{len(taken.held)} {taken.what} of phone {taken.device}, {taken.new} of them new. {look}")
        output.bullets("Look at", taken.doubts)


@command.command("look")
@click.argument("walk")
@on_option
@book_option
@json_option
def look(walk: str, on: dt.date, book: Path | None, as_json: bool) -> None:
    """What the taps of WALK would come to; nothing is written."""
    from overwood.desk import session, tallies

    session.open_book(book)
    _tell(tallies.standing(walk, today=on), as_json)


@command.command("write")
@click.argument("walk")
@click.option("--leave-out-faulty", is_flag=True, help="Write the good rows and leave the faulty ones among the taps.")
@on_option
@book_option
@json_option
def write(walk: str, leave_out_faulty: bool, on: dt.date, book: Path | None, as_json: bool) -> None:
    """Write what the taps of WALK come to into the records."""
    from overwood.desk import session, tallies

    session.open_book(book)
    done = tallies.write(walk, today=on, leave_out_faulty=leave_out_faulty)
    _tell(done, as_json)
    if done.report.faults and not leave_out_faulty:
        raise SystemExit(1)


@command.command("photos")
@click.argument("walk")
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
@book_option
def photos_out(walk: str, folder: Path, book: Path | None) -> None:
    """Write the photos of WALK into FOLDER, each named by its visit, plot and identifier. The export of tables has no
    photos."""
    from overwood.desk import photos, session

    session.open_book(book)
    names = photos.write(walk, folder)
    click.echo(f"{len(names)} photos in {folder}.")


@command.command("settle")
@click.argument("walk")
@click.argument("place")
@click.argument("phone")
@book_option
def settle(walk: str, place: str, phone: str, book: Path | None) -> None:
    """At PLACE, which two phones took, the tally of PHONE stands; the other stays among the taps."""
    from overwood.desk import session, tallies

    session.open_book(book)
    tallies.settle(walk, place, phone)
    click.echo(f"At {place} the tally of phone {phone} stands. Write it with `overwood woods write {walk}`.")


def _tell(standing: Any, as_json: bool) -> None:
    if as_json:
        output.as_json(standing)
        return
    from overwood.faces import reviews

    report = standing.report
    visits = report.review.visits if report.review else ()
    click.echo(f"Walk {standing.walk[:8]}:")
    for seen in visits:
        click.echo(f"  {reviews.visit(seen)}")
    if not visits:
        click.echo("  nothing new")
    output.bullets("  Values that change", reviews.replacements(report.review) if report.review else [])
    if report.batch:
        click.echo(f"  Written as entry {report.batch}.")
    aside = sum(map(len, standing.to_set_aside.values()))
    if aside:
        click.echo(f"  {aside} records taken back on the phone, or settled otherwise, go aside.")
    for contest in standing.contests:
        sides = "; ".join(
            f"phone {device}: {', '.join(f'{n} {t}' for t, n in rows.items())}"
            for device, rows in contest.sides.items()
        )
        click.echo(
            f"  two phones at {contest.mark}: {sides}. It waits: `overwood woods settle {standing.walk[:8]} "
            f"{contest.mark!r} PHONE`."
        )
    output.bullets("  Faults; nothing was written", [str(fault) for fault in report.faults])
    output.bullets("  Look at", standing.doubts)
