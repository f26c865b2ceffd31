"""overwood calc: the formula desk."""

from __future__ import annotations

import click

from overwood.faces.cli import output
from overwood.ground.errors import Misuse
from overwood.ground.sources import cite


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
    for key, value in answer["values"].items():
        unit = answer["units"].get(key, "")
        click.echo(f"{key} = {f'{value:.6g}' if isinstance(value, float) else value} {unit}".rstrip())
    click.echo(f"{answer['equation']}  [{answer['status']}]")
    for key in answer["sources"]:
        click.echo(f"  source: {cite(key)}")
    for note in answer["notes"]:
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
    from overwood.desk.formulas import FORMULAS

    if as_json:
        output.as_json([
            {"name": f.name, "about": f.about, "inputs": {key: spec.domain for key, spec in f.keys.items()}, "units": f.units, "sources": f.sources, "status": f.status}
            for f in FORMULAS.values()
        ])  # fmt: skip
        return
    rows = [
        (f.name, f.about, _inputs(f), ", ".join(f"{k} [{u}]" if u else k for k, u in f.units.items()), ", ".join(f.sources), f.status)
        for f in FORMULAS.values()
    ]
    output.table(("formula", "what", "inputs", "outputs", "sources", "status"), rows)


def _inputs(formula: object) -> str:
    parts = []
    for key, spec in formula.keys.items():  # type: ignore[attr-defined]
        text = f"{key} [{spec.unit}]" if spec.unit else key
        parts.append(f"({text})" if spec.optional else text)
    return ", ".join(parts)


def _show(formula: object, as_json: bool) -> None:
    f = formula
    plain = {
        "name": f.name, "about": f.about, "equation": f.equation, "status": f.status, "sources": list(f.sources), "units": f.units,  # type: ignore[attr-defined]
        "inputs": {key: spec.domain + ("; may be left out" if spec.optional else "") for key, spec in f.keys.items()},  # type: ignore[attr-defined]
    }  # fmt: skip
    if as_json:
        output.as_json(plain)
        return
    output.heading(f"{plain['name']}: {plain['about']}")
    click.echo(f"  {plain['equation']}  [{plain['status']}]")
    for key, domain in plain["inputs"].items():
        click.echo(f"  in   {key}: {domain}")
    for key, unit in plain["units"].items():
        click.echo(f"  out  {key} {unit}".rstrip())
    for key in plain["sources"]:
        click.echo(f"  source: {cite(key)}")
