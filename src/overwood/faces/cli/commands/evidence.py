"""overwood evidence: every figure of one stand."""

from __future__ import annotations

from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks
from overwood.ground import measures
from overwood.ground.figure import Figure
from overwood.ground.vocabulary import height_class_words


@click.command("evidence")
@click.argument("stand")
@click.option(
    "--by",
    is_flag=True,
    help="Also by species, dbh class, crown class and layer, and the reproduction by height class.",
)
@asks
def command(stand: str, by: bool, ask: Any, as_json: bool) -> None:
    """Every figure of STAND with its interval, the number of plots behind it, and what its constants rest on."""
    from overwood.desk import answers

    figures = answers.evidence(stand, ask)
    if as_json:
        groups = _groups_as_json(stand, ask) if by else {}
        head = answers.evidence_head(stand, ask)
        output.as_json(
            {
                "stand": stand,
                "on": ask.on,
                "basis": head.basis,
                "set_aside": head.set_aside,
                "figures": figures,
                **groups,
            }
        )
        return
    level = _show_head(answers.evidence_head(stand, ask))
    rows = []
    for name, figure in sorted(figures.items(), key=lambda item: not item[1].measured):
        value, span, unit = output.shown(figure)
        rows.append(
            (
                name,
                value,
                span,
                unit,
                "" if figure.n is None else str(figure.n),
                figure.status,
                "" if not figure.measured else figure.note,
            )
        )
    output.table(
        ("figure", "value", "interval", "unit", "n", "rests on", "note"),
        rows,
        numeric=(1, 4),
        title=(
            f"{stand}, {ask.on:%d %b %Y}; intervals {level:.0%} two-sided, of {{these acres}}; of the oaks counted the "
            "two one-sided bounds that the verdict takes"
        ),
    )
    if by:
        _show_groups(stand, ask)


def _show_head(head: Any) -> float:
    """The cruise in a few lines, and the visits behind the figures; returns the level of the intervals."""
    for line in (*head.basis, *(doubt.words for doubt in head.set_aside)):
        click.echo(line)
    cruise = head.cruise
    if cruise is None:
        return float(head.level)
    for label, figure in (
        ("basal area, all trees", cruise.ba_ft2_ac),
        (measures.unit_word("trees an acre"), cruise.trees_ac),
        ("mean diameter", cruise.qmd_in),
    ):
        value, span, unit = output.shown(figure)
        click.echo(f"{label}: {measures.with_unit(value, unit)}" + (f" ({span})" if span else ""))
    click.echo(f"{cruise.points} points, {cruise.trees} trees" + _error_words(cruise))
    return float(head.level)


def _error_words(cruise: Any) -> str:
    if cruise.cv_pct is None or cruise.sampling_error_pct is None:
        return ""
    return (
        f"; basal area varies {cruise.cv_pct:.0f}% between points, sampling error "
        f"{cruise.sampling_error_pct:.0f}% at {cruise.level:.0%}; "
        f"{cruise.points_needed} points for {cruise.error_wanted_pct:g}%"
    )


def _groups_as_json(stand: str, ask: Any) -> dict[str, Any]:
    from overwood.desk import answers

    groups = {
        kind: {name: {"ba_ft2_ac": ba, "trees_ac": trees} for name, (ba, trees) in shares.items()}
        for kind, shares in answers.breakdowns(stand, ask).items()
    }
    return {"groups": groups, "floor": answers.floor_classes(stand, ask), "sprouts": answers.sprouts(stand, ask)}


def _show_groups(stand: str, ask: Any) -> None:
    from overwood.desk import answers

    for kind, groups in answers.breakdowns(stand, ask).items():
        rows = [(name, *_with_error(ba), *_with_error(trees)) for name, (ba, trees) in groups.items()]
        ba_unit, trees_unit = (measures.unit_word(unit) for unit in ("ft2/ac", "trees/ac"))
        headings = (kind, ba_unit, "s.e.", "interval", trees_unit, "s.e.", "interval")
        output.table(headings, rows, title=f"By {kind}", numeric=(1, 2, 4, 5))
    stumps = answers.sprouts(stand, ask)
    if stumps:
        lines = [(name, *_with_error(figure)) for name, figure in stumps.items()]
        output.table(
            ("oak stumps expected to sprout", measures.unit_word("an acre"), "s.e.", "interval"),
            lines,
            title="If all were cut now",
            numeric=(1, 2),
        )
    floor = answers.floor_classes(stand, ask)
    if floor:
        labels = list(next(iter(floor.values())))
        classes_shown = [
            (name, *[output.shown(classes[label])[0] for label in labels]) for name, classes in floor.items()
        ]
        output.table(
            (measures.unit_word("stems an acre"), *[height_class_words(label) for label in labels]),
            classes_shown,
            title="The floor by height class",
            numeric=range(1, 7),
        )


def _with_error(figure: Figure) -> tuple[str, str, str]:
    """Value, standard error and interval of a figure."""
    value, span, _ = output.shown(figure)
    error = next((entry.value for entry in figure.inputs if entry.name == "standard error"), None)
    if not isinstance(error, float):
        return value, "", span
    return value, output.shown(Figure(name="", value=error, unit=figure.unit))[0], span
