"""Every stand judged beside the pages: the property shows at once what is known, and the rest as it comes.

A stand is judged anew only when its own records change, or the acorn checks of its property, the day or the rules.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from overwood.desk import answers, kept, session
from overwood.desk.answers import Question
from overwood.desk.judging import Judged, PropertyStanding, Unjudged, judged_or_not
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

    @property
    def of_property(self) -> PropertyStanding:
        """The stands judged by now, and those that cannot be."""
        return PropertyStanding(tuple(self.known.values()), tuple(Unjudged(*fault) for fault in self.faults.items()))


# Oak above, oak below, and how much of that is wanted.
FIGURES = ("oak_share", "oak_stocked_4_5ft_share", "needed_stocked_share")
# How long a page waits for stands that are still to be judged, so that a small property comes whole.
WAIT_S = 0.2
# Stands are judged in well under a second each; who waits longer than this for all of them is told so.
WHOLE_WITHIN_S = 300.0


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
            if not rounds.is_on:
                rounds.begun, rounds.is_on = rounds.begun + 1, True
                threading.Thread(target=_judge_all, args=(ask, rounds.begun, measures.system()), daemon=True).start()
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
    return Standing(stands, known, faults, {name: mark for name, (mark, _) in judged_once.items()}, left)


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


def _judge_all(ask: Question, number: int, system: str) -> None:
    """Judge every stand anew whose records changed; its sentences are said in this system of units."""
    with measures.in_units(system):
        _judge_changed(ask, number, system)


def _judge_changed(ask: Question, number: int, system: str) -> None:
    from django.db import connection

    right_for, rounds = None, asking.DESK.rounds
    try:
        version, marks, newest = _version(ask), session.stand_marks(), kept.newest_futures()
        for name, mark in marks.items():
            rests_on = (mark, newest.get(name), *version[1:-1])
            asking.DESK.judged.once((name, system), rests_on, partial(_judged, name, ask))
        right_for = version
    finally:
        # Also a round that broke off ends: nobody waits for ever.
        with rounds.turn:
            rounds.ended, rounds.is_on, rounds.right_for = number, False, right_for
            rounds.turn.notify_all()
        connection.close()


def _judged(name: str, ask: Question) -> Judged | Unjudged:
    """A stand judged, or what kept it from being: of its figures only those that a page of all stands shows."""
    verdict = judged_or_not(name, lambda: answers.judge(name, ask))
    if isinstance(verdict, Unjudged):
        return verdict
    figures = {figure: verdict.advice.figures[figure] for figure in FIGURES}
    return replace(verdict, advice=replace(verdict.advice, figures=figures))
