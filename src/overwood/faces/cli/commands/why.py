"""overwood why: one figure unfolded down to the tally rows."""

from __future__ import annotations

from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks
from overwood.ground import measures
from overwood.ground.errors import NotFound
from overwood.ground.nearest import nearest
from overwood.ground.shell import shell_word
from overwood.ground.sources import cite

_ROWS_SHOWN = 12


@click.command("why")
@click.argument("stand")
@click.argument("figure")
@click.option("--all-rows", is_flag=True, help="Print every tally row.")
@asks
def command(stand: str, figure: str, all_rows: bool, ask: Any, as_json: bool) -> None:
    """Unfold FIGURE of STAND: its formula, its inputs down to the tally rows, its sources and what they rest on."""
    from overwood.desk import answers

    figures = answers.evidence(stand, ask)
    if figure not in figures:
        near = nearest(figure, figures)
        hint = f"The nearest is {near!r}. " if near else ""
        raise NotFound(
            f"there is no figure {figure!r}.", remedy=f"{hint}`overwood evidence {shell_word(stand)}` lists them all."
        )
    tree = _tree(figure, figures, set())
    words = answers.tally_rows(stand, tuple(_all_rows(tree)))
    if as_json:
        output.as_json({"stand": stand, "on": ask.on, **tree, "tally_rows": words})
        return
    _show(tree, words, depth=0, most=None if all_rows else _ROWS_SHOWN)


def _tree(name: str, figures: dict[str, Any], seen: set[str]) -> dict[str, Any]:
    """A figure with the figures it was made of, each shown once."""
    figure = figures[name]
    node: dict[str, Any] = {
        "figure": output.plain(figure),
        "sources": {key: cite(key) for key in figure.sources},
        "made_of": [],
    }
    node["shown"] = output.shown(figure)
    for entry in figure.inputs:
        if entry.figure and entry.figure in figures and entry.figure not in seen:
            node["made_of"].append(_tree(entry.figure, figures, seen | {name}))
    return node


def _all_rows(node: dict[str, Any]) -> list[str]:
    rows = [row for entry in node["figure"]["inputs"] for row in entry["rows"]]
    for child in node["made_of"]:
        rows += _all_rows(child)
    return list(dict.fromkeys(rows))


def _show(node: dict[str, Any], words: dict[str, str], *, depth: int, most: int | None) -> None:
    pad, figure = "  " * depth, node["figure"]
    value, span, unit = node["shown"]
    interval = f", {span} at {figure['level']:.0%}" if span and figure["level"] else f", {span}" if span else ""
    output.heading(f"{pad}{figure['name']}: {measures.with_unit(value, unit)}{interval}")
    _line(pad, f"how: {figure['method']}")
    if figure["n"] is not None:
        _line(pad, f"from {figure['n']} plots, points or trees")
    _line(pad, f"rests on: {figure['status']}")
    if figure["note"]:
        _line(pad, f"note: {figure['note']}")
    for citation in node["sources"].values():
        _line(pad, f"source: {citation}")
    for entry in figure["inputs"]:
        if entry["name"] == "standard error":
            _line(
                pad,
                "standard error: "
                + measures.with_unit(
                    output.number(measures.convert(entry["value"], entry["unit"])), measures.unit_word(entry["unit"])
                ),
            )
        if entry["rows"]:
            _line(pad, f"{entry['name']}: {len(entry['rows'])} records")
            for row in entry["rows"][:most]:
                _line(pad + "  ", words.get(row, row))
            if most is not None and len(entry["rows"]) > most:
                _line(pad + "  ", f"... and {len(entry['rows']) - most} more (--all-rows)")
    for child in node["made_of"]:
        _show(child, words, depth=depth + 1, most=most)


def _line(pad: str, text: str) -> None:
    click.echo(click.wrap_text(text, width=118, initial_indent=f"{pad}  ", subsequent_indent=f"{pad}    "))
