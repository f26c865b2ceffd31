"""The formula desk: every formula by name, with the same functions the program itself uses."""

from __future__ import annotations

import difflib
import functools
import importlib
from typing import Any

from overwood.desk.formulas.keys import Computed, Formula, read
from overwood.desk.formulas.keys import formula as formula_of
from overwood.ground import tables
from overwood.ground.errors import Misuse

# Rooms of formulas in the order they are listed, the rows of each in a TOML file beside it. One is loaded when a
# formula is not in those before it, for a formula by hand must not wait.
_ROOMS = ("density", "spine", "timber", "light", "fire", "futures")


@functools.cache
def _room(name: str) -> dict[str, Formula]:
    room, rows = importlib.import_module(f"{__name__}.{name}"), tables.words(f"desk/formulas/{name}.toml")
    return {key: formula_of(key, row, room.COMPUTE[key], room.NOTES.get(key)) for key, row in rows.items()}


def every() -> dict[str, Formula]:
    """All formulas by name."""
    return {name: one for room in _ROOMS for name, one in _room(room).items()}


def formula(name: str) -> Formula:
    """A formula by name. Raises Misuse naming the nearest one."""
    for room in _ROOMS:
        if name in _room(room):
            return _room(room)[name]
    near = difflib.get_close_matches(name, every(), n=1, cutoff=0.4)
    hint = f"The nearest is {near[0]!r}. " if near else ""
    raise Misuse(f"there is no formula {name!r}.", remedy=f"{hint}`overwood calc` lists them all.")


def compute(name: str, given: dict[str, str]) -> Computed:
    """Compute a formula from text keys. Raises Misuse saying which key, what was expected, and the domain."""
    chosen = formula(name)
    for key in given:
        if key not in chosen.keys:
            near = difflib.get_close_matches(key, chosen.keys, n=1, cutoff=0.4)
            hint = f"The nearest is {near[0]!r}. " if near else ""
            raise Misuse(f"{name} has no key {key!r}.", remedy=f"{hint}It takes {', '.join(chosen.keys)}.")
    inputs: dict[str, Any] = {}
    for key, spec in chosen.keys.items():
        if key in given:
            inputs[key] = read(name, key, spec, given[key])
        elif spec.optional:
            inputs[key] = spec.default
        else:
            raise Misuse(f"{name} needs {key}.", remedy=f"Give {key}=..., {spec.domain}.")
    try:
        values, notes = chosen.compute(**inputs), chosen.notes(**inputs)
    except KeyError as fault:
        raise Misuse(f"{name}: {fault.args[0]}.") from fault
    given_values = {key: value for key, value in inputs.items() if value is not None}
    return Computed(
        name, values, chosen.units, given_values, chosen.equation, chosen.sources, chosen.status, tuple(notes)
    )
