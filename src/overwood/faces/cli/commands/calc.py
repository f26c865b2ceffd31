"""overwood calc: the formula desk."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from overwood.faces.cli import output
from overwood.ground.errors import Misuse
from overwood.ground.sources import cite

if TYPE_CHECKING:
    from overwood.desk.formulas.keys import Formula


@click.command("calc")
@click.argument("name", required=False)
@click.argument("keys", nargs=-1, metavar="[KEY=VALUE]...")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(name: str | None, keys: tuple[str, ...], as_json: bool) -> None:
    """List the formulas, show one in full, or compute one: overwood calc plot-radius area_ac=0.1."""
    from overwood.desk import formulas

    if name is None:
        _list(as_json)
        return
    chosen = formulas.formula(name)
    if not keys:
        _show(chosen, as_json)
        return
    answer = formulas.compute(name, _given(keys))
    if as_json:
        output.as_json(answer)
        return
    for key, value in answer.values.items():
        unit = answer.units.get(key, "")
        click.echo(f"{key} = {f'{value:.6g}' if isinstance(value, float) else value} {unit}".rstrip())
    click.echo(f"{answer.equation}  [{answer.status}]")
    for key in answer.sources:
        click.echo(f"  source: {cite(key)}")
    for note in answer.notes:
        click.echo(f"  note: {note}")


def _given(keys: tuple[str, ...]) -> dict[str, str]:
    given: dict[str, str] = {}
    for text in keys:
        key, sign, value = text.partition("=")
        if not sign:
            raise Misuse(f"{text!r} is not key=value.")
        if key in given:
            raise Misuse(f"{key} is given twice.")
        given[key] = value
    return given


def _list(as_json: bool) -> None:
    from overwood.desk.formulas import every

    if as_json:
        output.as_json(list(every().values()))
        return
    rows = [(f.name, f.about, _inputs(f), _outputs(f), ", ".join(f.sources), f.status) for f in every().values()]
    output.table(("formula", "what", "inputs", "outputs", "sources", "status"), rows)


def _outputs(formula: Formula) -> str:
    return ", ".join(f"{key} [{unit}]" if unit else key for key, unit in formula.units.items())


def _inputs(formula: Formula) -> str:
    parts = []
    for key, spec in formula.keys.items():
        text = f"{key} [{spec.unit}]" if spec.unit else key
        parts.append(f"({text})" if spec.optional else text)
    return ", ".join(parts)


def _show(formula: Formula, as_json: bool) -> None:
    if as_json:
        output.as_json(formula)
        return
    output.heading(f"{formula.name}: {formula.about}")
    click.echo(f"  {formula.equation}  [{formula.status}]")
    for key, domain in formula.inputs.items():
        click.echo(f"  in   {key}: {domain}")
    for key, unit in formula.units.items():
        click.echo(f"  out  {key} {unit}".rstrip())
    for source in formula.sources:
        click.echo(f"  source: {cite(source)}")
