"""overwood rules: thresholds and assumptions, and an office's changes."""

from __future__ import annotations

from pathlib import Path

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import json_option, rules_option


@click.command("rules")
@click.argument("name", required=False)
@click.option("--diff", is_flag=True, help="Print only what the overlay changes.")
@rules_option
@json_option
def command(name: str | None, diff: bool, overlay: Path | None, as_json: bool) -> None:
    """The rulebook and the assumptions in force: value, range, status, source. NAME shows one.

    An office's overlay is a TOML file: [several_hundred_ac] and, below, value = 350 and note = "why". Give it with
    --rules or in OVERWOOD_RULES.
    """
    from overwood.desk import answers

    rules = answers.rules(overlay)
    if as_json:
        output.as_json({
            "version": rules.version,
            "entries": {key: rule for key, rule in rules.entries.items() if name in (None, key)},
            "differences": rules.differences,
        })  # fmt: skip
        return
    if diff:
        rows = [(d.name, str(d.default), str(d.office), d.note) for d in rules.differences]
        if rows:
            output.table(("entry", "default", "office", "why"), rows, title=f"Rulebook {rules.version}")
        else:
            click.echo("No difference from the defaults. Give an overlay with --rules FILE.toml.")
        return
    chosen = [rule for key, rule in rules.entries.items() if name is None or name in key]
    if not chosen:
        raise click.UsageError(f"There is no entry with {name!r} in its name; `overwood rules` lists them all.")
    entries: list[tuple[str, ...]] = [
        (
            r.name,
            " to ".join(map(str, r.value)) if isinstance(r.value, list) else f"{r.value:g}",
            "" if r.low is None else f"{r.low:g} to {r.high:g}",
            r.unit,
            r.status,
            r.source,
            r.note,
        )
        for r in chosen
    ]
    output.table(
        ("entry", "value", "range", "unit", "status", "source", "note"),
        entries,
        title=f"Rulebook {rules.version}",
        numeric=(1,),
    )
