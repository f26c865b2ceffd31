"""The steps advice can name, their seasons and their cautions, read from steps.toml."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

from overwood.ground import measures, tables
from overwood.ground.errors import Misuse

# The removal cut of a stand that had no seed cut before, as the advice, the plan and the year's orders call it.
ONE_ENTRY = "removal cut in one entry"


@dataclass(frozen=True)
class Step:
    """One kind of step: ``work`` is look, treat, cut or wait, ``cost`` the entry of a price list that it asks for.

    ``title_in_doubt`` is what is said in place of the title where the step fells and is not firm, "" where it fells
    nothing.
    """

    name: str
    title: str
    title_in_doubt: str
    work: str
    cost: str
    window: str
    second_window: str
    cautions: tuple[str, ...]
    fells: bool
    opens: bool


def _plain() -> dict[str, Any]:
    return tables.words("judgement/rules/steps.toml")


def all_steps() -> dict[str, Step]:
    """Every step by name, its cautions in the system of units in force."""
    return _steps_in(measures.system())


@functools.cache
def _steps_in(system: str) -> dict[str, Step]:
    texts = {name: measures.prose(entry["text"]) for name, entry in _plain()["caution"].items()}
    return {
        name: Step(
            name=name,
            title=entry["title"],
            title_in_doubt=entry["title_in_doubt"] if entry.get("fells") else "",
            work=entry["work"],
            cost=entry.get("cost", ""),
            window=entry["window"],
            second_window=entry.get("second_window", ""),
            cautions=tuple(texts[key] for key in entry["cautions"]),
            fells=entry.get("fells", False),
            opens=entry.get("opens", False),
        )
        for name, entry in _plain().items()
        if name != "caution"
    }


def title_counted(step: str) -> str:
    """A step as a count of stands tells it, one that fells with the doubt that no count tells; what is no step as it
    is written."""
    known = all_steps().get(step)
    return step if known is None else f"{known.title}, if firm" if known.fells else known.title


def caution(name: str) -> str:
    """The text of one caution."""
    return measures.prose(str(_plain()["caution"][name]["text"]))


def said(text: str) -> str:
    """A caution that was kept in US units, in the units in force; words that are no caution of today as they stand."""
    return _kept_cautions(measures.system()).get(text, text)


@functools.cache
def _kept_cautions(system: str) -> dict[str, str]:
    texts = [str(entry["text"]) for entry in _plain()["caution"].values()]
    kept = [measures.in_us(text) for text in texts]
    with measures.in_units(system):
        return {us: measures.prose(text) for us, text in zip(kept, texts, strict=True)}


def caution_in_spanish(name: str) -> str:
    """The text of one caution in Spanish, for the papers of the crew. Raises Misuse when a region's own caution has no
    Spanish text."""
    text = _plain()["caution"][name].get("es")
    if not text:
        raise Misuse(
            f"the caution {name!r} has no Spanish text.", remedy=f'Add es = "..." under [caution.{name}] of steps.toml.'
        )
    return measures.prose(str(text))
