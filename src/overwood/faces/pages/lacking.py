"""What a stand lacks for a paper, told before the paper is asked for."""

from __future__ import annotations

from collections.abc import Callable

from overwood.desk import fire, marking, timber
from overwood.desk.answers import Question
from overwood.faces.pages import asking
from overwood.ground.errors import Misuse, NotFound, OverwoodError
from overwood.judgement.fire.gates import BurnGates
from overwood.judgement.prices import PriceList

# The answer by this name: what the records refuse.
REFUSED = "papers refused {}"


def lacking(name: str, ask: Question) -> dict[str, str]:
    """Papers that would be refused, each with what it lacks."""
    from overwood.faces.pages import futures, light

    faults: dict[str, str] = asking.kept(REFUSED.format(name), ask, lambda: _refused(name, ask))
    lacks: dict[str, Callable[[], object]] = {"forecast": lambda: futures.printable_run(name), "choices": price_list}
    if marking.has_map(name, ask):
        lacks |= dict.fromkeys(("cuts", "notice"), lambda: light.on_table(name))
    return faults | _faults(lacks)


def _refused(name: str, ask: Question) -> dict[str, str]:
    """Papers that the records refuse: this is worked out, so it is kept."""
    lacks: dict[str, Callable[[], object]] = {"plan": lambda: burn_allowed(fire.gates_of(name, ask))}
    if not marking.has_map(name, ask):
        lacks |= {
            "cuts": lambda: no_map(name),
            "notice": lambda: timber.sale(name, ask, None),
            "marking": lambda: marking.can_be_ruled(name, ask),
        }
    return _faults(lacks)


def _faults(tried: dict[str, Callable[[], object]]) -> dict[str, str]:
    faults = {}
    for which, ready in tried.items():
        try:
            ready()
        except OverwoodError as fault:
            faults[which] = str(fault)
    return faults


def no_map(name: str) -> None:
    raise NotFound(
        f"{name} has no stem map, so no tree of it is listed.",
        remedy="Sell by the marking rule, or map the stems first.",
    )


def price_list() -> PriceList:
    listed = asking.prices()
    if listed is None:
        raise NotFound(
            "the comparison of choices needs your price list.", remedy="Start the server with --prices FILE."
        )
    return listed


def burn_allowed(gates: BurnGates) -> None:
    """Raises Misuse when a gate says no to a burn."""
    if gates.refused:
        whys = "; ".join(gate.why for gate in gates.against)
        raise Misuse(
            f"a gate says no, so no plan is written: {whys}.",
            remedy="See the gates under Fire and injection: what they ask for comes first.",
        )
