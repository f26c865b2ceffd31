"""Every stand judged beside the pages: the property shows at once what is known, and the rest as it comes.

A stand is judged anew only when its own records change, or the acorn checks of its property, the day or the rules.
"""

from __future__ import annotations

import contextvars
import hashlib
import threading
import time
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from overwood import __version__
from overwood.desk import answers, kept, session, work
from overwood.desk.answers import Question
from overwood.desk.judging import Judged, PropertyStanding, Unjudged, judged_or_not, packed, unpacked
from overwood.faces.pages import asking
from overwood.ground import measures
from overwood.ground.errors import OverwoodError
from overwood.ground.records import Stand


@dataclass(frozen=True)
class Standing:
    """The stands of the book, what is known of each and for which records, and how many are still to be judged."""

    stands: tuple[Stand, ...]
    known: dict[str, Judged]
    faults: dict[str, str]
    marks: dict[str, Any]
    left: int
    # Whether a person stopped the judging, so that no more come by themselves.
    is_stopped: bool = False

    @property
    def of_property(self) -> PropertyStanding:
        """The stands judged by now, and those that cannot be."""
        return PropertyStanding(tuple(self.known.values()), tuple(Unjudged(*fault) for fault in self.faults.items()))


# Oak above, oak below, and how much of that is wanted.
FIGURES = ("oak_share", "oak_stocked_4_5ft_share", "needed_stocked_share")
JUDGING = "judging"
# How long a page waits for stands that are still to be judged, so that a small property comes whole.
WAIT_S = 0.2
# Stands are judged in well under a second each; who waits longer than this for all of them is told so.
WHOLE_WITHIN_S = 300.0
_ROUND_WITHIN_S = 86_400.0


def standing(ask: Question, wait_s: float) -> Standing:
    """What is known by now; waits a moment, so that a small property comes whole."""
    version, stands, rounds = _version(ask), tuple(session.stands()), asking.DESK.rounds
    with rounds.turn:
        # A round under way may have read the records before what is asked now was written: then the one after it is
        # waited for.
        wanted = rounds.begun + 1

        def is_known() -> bool:
            # What a round found may be let go since, as by a server that opens another book.
            is_held = all((stand.stand, measures.system()) in asking.DESK.judged for stand in stands)
            if (rounds.right_for == version and is_held) or rounds.ended >= wanted:
                return True
            if rounds.stopped_for == version and wait_s < WHOLE_WITHIN_S:
                return True
            if not rounds.is_on:
                rounds.begun, rounds.is_on = rounds.begun + 1, True
                around = contextvars.copy_context()
                threading.Thread(target=around.run, args=(_judge_all, ask, rounds.begun), daemon=True).start()
            return False

        rounds.turn.wait_for(is_known, timeout=wait_s)
        held = {stand.stand: asking.DESK.judged.get((stand.stand, measures.system())) for stand in stands}
        judged_once = {name: one for name, one in held.items() if one is not None}
        of_this_question = all(key[2:] == version[1:-1] for key, _ in judged_once.values())
        # A round that others asked for may have said its sentences in other units: then stands lack here.
        is_whole = (
            of_this_question
            and len(judged_once) == len(stands)
            and rounds.right_for is not None
            and (rounds.right_for == version or rounds.ended >= wanted)
        )
    verdicts: dict[str, Judged | Unjudged] = {name: judged for name, (_, judged) in judged_once.items()}
    known = {name: one for name, one in verdicts.items() if isinstance(one, Judged)}
    left = 0 if is_whole else max(1, len(stands) - len(verdicts))
    faults = {name: one.reason for name, one in verdicts.items() if isinstance(one, Unjudged)}
    held_marks = {name: mark for name, (mark, _) in judged_once.items()}
    return Standing(stands, known, faults, held_marks, left, left > 0 and rounds.stopped_for == version)


def go_on() -> None:
    """Judge again by itself what a person stopped."""
    asking.DESK.rounds.stopped_for = None


def whole(ask: Question) -> Standing:
    """Every stand judged, for what must not leave one out. Raises OverwoodError when some are still to be judged after
    a while."""
    whole = standing(ask, WHOLE_WITHIN_S)
    if whole.left:
        raise OverwoodError(
            f"{whole.left} stands are still to be judged, so this would lack them.", remedy="Ask again in a moment."
        )
    return whole


def _version(ask: Question) -> Any:
    return (kept.view_version(), ask.on, ask.rules.version, asking.list_marks(), measures.system())


def _judge_all(ask: Question, number: int) -> None:
    """Judge every stand anew whose records changed: where that lasts, as work of the tray of who asked first."""
    from django.db import connection

    right_for, stopped_for, rounds = None, None, asking.DESK.rounds
    try:
        version = _version(ask)
        wanted = work.Wanted(
            kind=JUDGING,
            title="judging of all stands",
            asked={"stand": "", "on": ask.on.isoformat(), "rests_on": _mark(version)},
            total=max(1, len(session.stand_marks())),
            doing=partial(_round, ask),
        )  # fmt: skip
        ended = asking.hand().at_once(wanted, wait_s=_ROUND_WITHIN_S)
        right_for, stopped_for = (None, version) if ended.stop else (version, None)
    finally:
        # Also a round that broke off ends: nobody waits for ever.
        with rounds.turn:
            rounds.ended, rounds.is_on, rounds.right_for = number, False, right_for
            rounds.stopped_for = stopped_for
            rounds.turn.notify_all()
        connection.close()


def do_judging(asked: dict[str, Any], step: work.Step) -> dict[str, Any]:
    """The judging that another process left, as a worker takes it up."""
    return _round(asking.question(asked["on"]), asked, step)


def _round(ask: Question, asked: dict[str, Any], step: work.Step) -> dict[str, Any]:
    """The judging itself, in the units of who asked; what lasted is kept with what it rests on, for a desk that starts
    anew."""
    with measures.in_units(asked["units"]):
        began = time.monotonic()
        version, marks, newest = _version(ask), session.stand_marks(), kept.newest_futures()
        if any((name, measures.system()) not in asking.DESK.judged for name in marks):
            _take_up(asked["rests_on"], marks, newest, version)
        for done, (name, mark) in enumerate(marks.items()):
            if not step(done, name):
                break
            rests_on = (mark, newest.get(name), *version[1:-1])
            asking.DESK.judged.once((name, measures.system()), rests_on, partial(_judged, name, ask))
        return {"packed": _packed(marks, newest)} if time.monotonic() - began >= work.moment_s() else {}


def _packed(marks: dict[str, str], newest: dict[str, Any]) -> str:
    """What is judged by now of the records as they are."""
    judged = {}
    for name, mark in marks.items():
        held = asking.DESK.judged.get((name, measures.system()))
        if held is not None and held[0][0] == mark and isinstance(held[1], Judged):
            judged[name] = (f"{mark} {newest.get(name)}", held[1])
    return packed(judged)


def _take_up(rests_on: str, marks: dict[str, str], newest: dict[str, Any], version: Any) -> None:
    """Take up what a desk kept that judged by the same day, rules and lists, as far as the records are the same."""
    result = work.newest_result(JUDGING, rests_on)
    for name, (mark, judged) in unpacked(result["packed"]).items() if result and "packed" in result else ():
        key = (name, measures.system())
        if name in marks and mark == f"{marks[name]} {newest.get(name)}" and key not in asking.DESK.judged:
            asking.DESK.judged.put(key, ((marks[name], newest.get(name), *version[1:-1]), judged))


def _mark(version: Any) -> str:
    """A mark of all that a judgement rests on beside the records."""
    return hashlib.sha256(repr((version[1:], __version__)).encode()).hexdigest()


def _judged(name: str, ask: Question) -> Judged | Unjudged:
    """A stand judged, or what kept it from being: of its figures only those that a page of all stands shows."""
    verdict = judged_or_not(name, lambda: answers.judge(name, ask))
    if isinstance(verdict, Unjudged):
        return verdict
    figures = {figure: verdict.advice.figures[figure] for figure in FIGURES}
    return replace(verdict, advice=replace(verdict.advice, figures=figures))
