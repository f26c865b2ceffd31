"""The door of the command line: names of commands, help, and what happens when something goes wrong."""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Sequence
from pathlib import Path

import click

from overwood import __version__

# Command: module and one line of help, so that --help imports no command.
COMMANDS: dict[str, tuple[str, str]] = {
    "import": ("import_", "Bring records in from csv, xlsx, ods, zip or a folder."),
    "outlines": ("outlines", "Outlines of stands in from geodata, and out again."),
    "ground": ("ground", "Streams, roads and sites from geodata, with the ground kept around them."),
    "property": ("property", "All stands: what each is, its next step, why, how firm."),
    "region": ("region", "Next steps of many stands from parquet parts, without a book, on several cores."),
    "advise": ("advise", "The next step of one stand, with reasons, doubts and cautions."),
    "evidence": ("evidence", "Every figure of one stand with its error."),
    "why": ("why", "Unfold one figure: formula, inputs down to the tally rows, sources."),
    "due": ("due", "What is due when, over all stands; as a calendar with --ics."),
    "decide": ("decide", "Write a decision down, following or overriding the advice."),
    "changes": ("changes", "What changed since the visit before."),
    "bearers": ("bearers", "Which numbered oaks produce acorns, from counts over several autumns."),
    "plots": ("plots", "How many plots a stand needs and where they go."),
    "archive": ("archive", "The whole file of a stand in one zip and one PDF, with digests, for an auditor."),
    "archive-check": (
        "archive_check",
        "Check an archive years later, without the book: is every file as it was written?",
    ),
    "file": ("file", "Is the stand's file complete for an audit?"),
    "light": ("light", "Light on the forest floor, now and with the midstory out."),
    "canopy": ("canopy", "A stand from above: large crowns and gaps proposed from a canopy-height raster."),
    "mark": ("mark", "Which trees stay: on a stem map, or as a rule for the crew."),
    "marking-check": ("marking_check", "Is the marking on target? From points taken while the crew marks."),
    "residual-check": ("residual_check", "After the cut: what stands, and what the logging hurt."),
    "photo": ("photo", "Canopy openness and light from fisheye photos."),
    "injection": ("injection", "Inject the midstory: stems, cuts, solution, days, cost; and did it work."),
    "burn": ("burn", "Plan a burn: gates, days that fit, value at risk, the reproduction after fire."),
    "futures": ("futures", "Many simulated futures under each course: chance of oak, years, doubt."),
    "watch": ("watch", "Counts against the forecast, what they teach, when the release gate opens."),
    "plan": ("plan", "The whole property: which course where and when, under crews, days and money."),
    "timber": ("timber", "Volume by species, product and grade, and its value by your price list."),
    "choices": ("choices", "What each choice pays: cut now, shelterwood, two ages, thin, wait."),
    "prices": ("prices", "Your price list and costs, checked and shown."),
    "sale": ("sale", "Bids compared net of terms; sale papers; depletion arithmetic."),
    "brief": ("brief", "The owner's brief of one stand as PDF."),
    "owner-walk": ("owner_walk", "Ten stops in plain words for the owner, as a leaflet."),
    "prescription": ("prescription", "The written prescription of one stand as PDF, to be signed."),
    "management-plan": ("management_plan", "The prescriptions of a property bound in one PDF, with what is due when."),
    "desk": ("desk", "Start the desk and open it in the browser, in one word."),
    "serve": ("serve", "The desk in the browser, alone or for an office."),
    "account": ("account", "Accounts of an office: list, add, role, password."),
    "demo": ("demo", "Run the main job on the invented demo property."),
    "template": ("template", "Write empty sheets to fill."),
    "export": ("export", "Write everything of the book as a data package."),
    "quarantine": ("quarantine", "Files with faults: list, show, release, set aside."),
    "conflicts": ("conflicts", "Records that claim one key and differ: side by side, and which stands."),
    "mappings": ("mappings", "Kept mappings of foreign headings: list, show, mend, forget."),
    "mend-species": ("mend_species", "Species that were not understood: list them, say what they are."),
    "entries": ("entries", "What was brought in, and undoing it."),
    "backup": ("backup", "Copy the book, or put a copy back."),
    "where": ("where", "Where the book, its copies and the log lie."),
    "calc": ("calc", "The formula desk: every formula by hand."),
    "woods": ("woods", "The kit for the woods: walks out, tallies in, without signal."),
    "rules": ("rules", "The rulebook and the assumptions, and an office's changes."),
    "sources": ("sources", "The bibliography behind every constant."),
    "species": ("species", "Known species, and how a name is understood."),
}


class LazyGroup(click.Group):
    """Imports a command's module when it runs."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"overwood.faces.cli.commands.{COMMANDS[cmd_name][0]}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, about) for name, (_, about) in COMMANDS.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            from overwood.ground.nearest import nearest

            near = nearest(args[0], COMMANDS)
            hint = f" The nearest is {near!r}." if near else ""
            raise click.UsageError(f"There is no command {args[0]!r}.{hint} See `overwood --help`.")
        return super().resolve_command(ctx, args)


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="overwood")
@click.option(
    "--region", type=click.Path(path_type=Path), envvar="OVERWOOD_REGION",
    help="Folder of another oak region, its tables, thresholds, courses and cautions over the program's own.",
)  # fmt: skip
def cli(region: Path | None) -> None:
    """From a cruise, a count of seedlings and an acorn survey to the next step of an oak stand, with its reasons.

    Start with `overwood template sheets.xlsx`, fill it, `overwood import sheets.xlsx`, then `overwood property`.
    """
    if region is not None:
        from overwood.desk import regions

        command_named = regions.use(region)
        # A server that this command starts reads the same.
        os.environ[regions.VARIABLE] = str(region.resolve())
        click.echo(
            f"Region {command_named.name}: {command_named.about} (status of its numbers: {command_named.status}).",
            err=True,
        )


def main(argv: Sequence[str] | None = None) -> None:
    """Run a command; a fault a person can mend is a message and exit status 1 or 2, anything else is logged."""
    from overwood.ground.errors import OverwoodError

    # Nothing here multiplies matrices large enough for threads, and starting them is a fifth of numpy's import.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        cli.main(args=argv, prog_name="overwood", standalone_mode=False)
    except click.exceptions.Exit as done:
        sys.exit(done.exit_code)
    except click.ClickException as fault:
        fault.show()
        sys.exit(2)
    except (click.Abort, KeyboardInterrupt):
        click.echo("Stopped; nothing was left half done.", err=True)
        sys.exit(130)
    except OverwoodError as fault:
        _explain(fault)
        sys.exit(fault.exit_status)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
    except Exception as fault:
        if isinstance(fault, OSError) and fault.filename:
            click.echo(f"overwood: {_file_fault(fault)}", err=True)
            sys.exit(1)
        if words := _disk_fault(fault):
            click.echo(f"overwood: {words}", err=True)
            sys.exit(1)
        click.echo(f"This is a fault of the program: {fault}. It is written down in {_log(fault)}.", err=True)
        sys.exit(70)


def _explain(fault: Exception) -> None:
    click.echo(f"overwood: {fault}", err=True)
    for problem in getattr(fault, "problems", ()):
        click.echo(f"  {problem}", err=True)


def _disk_fault(fault: Exception) -> str:
    """What SQLite says of the disk below the book, in words; "" where the fault is another."""
    said = str(fault)
    if "readonly database" in said:
        return (
            "this book may only be read; nothing was written. Copy it to a place of your own, or ask for the "
            "right to write it."
        )
    if "disk is full" in said:
        return "the disk is full; nothing was written. Make room, then do the same again."
    if "malformed" in said or "disk I/O error" in said:
        return f"the book's file is damaged ({said}). Put a good copy back with `overwood backup --restore FILE`."
    return ""


def _file_fault(fault: OSError) -> str:
    """What keeps a file from being read or written, and what to do."""
    path = Path(str(fault.filename))
    if isinstance(fault, FileNotFoundError) and not path.parent.exists():
        return (
            f"the folder {path.parent} is not there, so {path.name} cannot be written. Make the folder, or name "
            "another."
        )
    return f"{path} cannot be opened: {fault.strerror}. Check the name, and whether you may write there."


def _log(fault: Exception) -> str:
    import logging
    from logging.handlers import RotatingFileHandler

    from platformdirs import user_log_path

    path = user_log_path("overwood", ensure_exists=True) / "overwood.log"
    handler = RotatingFileHandler(path, maxBytes=1_000_000, backupCount=3, encoding="utf-8")
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    log = logging.getLogger("overwood")
    log.addHandler(handler)
    log.error("unexpected fault in %s", sys.argv[1:], exc_info=fault)
    log.removeHandler(handler)
    handler.close()
    return str(path)


if __name__ == "__main__":
    main()
