"""The owner's walk: ten stops in the woods, each with what the stand's own figures say there, as counts out of ten."""

from __future__ import annotations

from dataclasses import dataclass, field

from overwood.desk import answers, kept, marking
from overwood.desk.kept import NamedAnswer
from overwood.desk.question import Question
from overwood.ground.figure import Figure
from overwood.judgement.course import Advice
from overwood.judgement.course.stage import stage
from overwood.judgement.course.steps import all_steps, caution
from overwood.judgement.gates import NO, UNSURE, YES
from overwood.judgement.gates.windows import Window, upcoming

# How many of ten draws are called firm, and from which share on oak or thick trees lead: for the choice of words alone.
_HALF = 0.5


@dataclass(frozen=True)
class Card:
    """One stop: ``branch`` chooses its words, ``tenths`` is its count out of ten, ``months`` those that its picture
    marks.

    ``off_by`` is how many tenths the true count may lie away, ``figures`` are the names of the figures it rests on.
    """

    name: str
    branch: str
    tenths: int | None
    off_by: int | None
    months: tuple[int, ...]
    figures: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class OwnerWalk:
    """The ten cards of a stand, in the order they are walked."""

    stand: str
    name: str
    step: str
    cards: tuple[Card, ...]
    figures: dict[str, Figure] = field(repr=False, metadata={"inner": True})


def answer_of(name: str, ask: Question) -> NamedAnswer[OwnerWalk]:
    """The walk as it lies in the book."""
    return kept.lay(answers.stand_file(name).stand.stand, "owner walk", ask, {}, lambda: owner_walk(name, ask))


def owner_walk(name: str, ask: Question) -> OwnerWalk:
    """The walk of a stand on a day."""
    file, advice = answers.stand_file(name).as_of(ask.on), answers.advice(name, ask)
    return OwnerWalk(advice.stand, advice.name, _step_words(advice), cards(advice, stage(file), ask), advice.figures)


def cards(advice: Advice, at: str, ask: Question) -> tuple[Card, ...]:
    """The ten cards from an advice and the stage of its stand."""
    return (
        _woods(advice), _waits(advice), _light(advice, ask), _shade(advice), _acorns(advice), _fire(advice, ask),
        _stay(advice, at, ask),
        _money(advice), _sure(advice, ask), _do(advice),
    )  # fmt: skip


def _card(
    name: str,
    branch: str,
    tenths: int | None,
    figures: tuple[str, ...],
    months: tuple[int, ...] = (),
    *cautions: str,
    of: Figure | None = None,
) -> Card:
    return Card(name, branch, tenths, _off_by(tenths, of), months, figures, tuple(caution(one) for one in cautions))


def _off_by(tenths: int | None, of: Figure | None) -> int | None:
    """The farther end of a figure's interval from its count, in tenths."""
    if tenths is None or of is None or of.low is None or of.high is None:
        return None
    scale = 10.0 if of.unit == "share" else 0.1
    return max(abs(_of_ten(scale * end / 10) - tenths) for end in (of.low, of.high))


def _of_ten(share: float) -> int:
    return min(max(round(10 * share), 0), 10)


def _woods(advice: Advice) -> Card:
    share = advice.figures["oak_share"]
    if not share.measured:
        return _card("woods", "unmeasured", None, ("oak_share",))
    return _card("woods", "oak" if share.number >= _HALF else "mixed", _of_ten(share.number), ("oak_share",), of=share)


def _waits(advice: Advice) -> Card:
    share = advice.figures["oak_stocked_1ft_share"]
    if not share.measured:
        return _card("waits", "unmeasured", None, ("oak_stocked_1ft_share",))
    tenths, enough = _of_ten(share.number), _answer(advice, "oak enough")
    if _is_young(advice):
        return _card("waits", "young", tenths, ("oak_stocked_1ft_share",), of=share)
    # What waits is enough or not by the advice's own gate; the count is only told beside it.
    branch = {YES: "many", NO: "some" if tenths else "none"}.get(enough, "unsure")
    return _card("waits", branch, tenths, ("oak_stocked_1ft_share", "oak_verdict"), of=share)


def _is_young(advice: Advice) -> bool:
    """Whether the stand is to be thinned or let grow: what a cut for new oaks would need is not told of it."""
    return advice.step in ("thin", "wait")


def _light(advice: Advice, ask: Question) -> Card:
    light = advice.figures["floor_light_pct"]
    if not light.measured:
        return _card("light", "unmeasured", None, ("floor_light_pct",))
    wants = marking.wants(ask)
    branch = (
        "dark" if light.number < wants.light_low_pct else "bright" if light.number > wants.light_high_pct else "part"
    )
    return _card("light", branch, _of_ten(light.number / 100), ("floor_light_pct",), of=light)


def _shade(advice: Advice) -> Card:
    below, whole = advice.figures["midstory_ba_ft2_ac"], advice.figures["ba_ft2_ac"]
    answer, rest = _answer(advice, "midstory shades"), ("midstory_stems_ac", "midstory_ba_ft2_ac", "ba_ft2_ac")
    if answer not in (YES, NO, UNSURE) or not (below.measured and whole.measured and whole.number > 0):
        return _card("shade", "unknown", None, rest)
    tenths = _of_ten(below.number / whole.number)
    if answer == YES and _is_young(advice):
        return _card("shade", "young", tenths, rest)
    return _card("shade", answer, tenths, rest, (), *(("herbicide",) if answer == YES else ()))


def _acorns(advice: Advice) -> Card:
    share, answer = advice.figures["crop_bearing_share"], _answer(advice, "crop good")
    if not share.measured or answer not in (YES, NO, UNSURE):
        return _card("acorns", "unknown", None, ("crop_bearing_share",))
    if _is_young(advice) and share.n:
        return _card("acorns", "young", _of_ten(share.number), ("crop_bearing_share",), of=share)
    return _card("acorns", answer, _of_ten(share.number), ("crop_bearing_share",), of=share)


def _fire(advice: Advice, ask: Question) -> Card:
    answer = _answer(advice, "burn safe")
    branch = answer if answer in (YES, NO, UNSURE) else "unknown"
    months = _months(upcoming(ask.rules, "window_burn", ask.on)) if branch == YES else ()
    return _card("fire", branch, None, ("burnable_collar_share", "crop_bearing_share"), months, "burn", "burn_alone")


def _stay(advice: Advice, at: str, ask: Question) -> Card:
    canopy, wants = advice.figures["overwood_ba_ft2_ac"], marking.wants(ask)
    if at in ("opened", "released"):
        return _card("stay", "opened", None, ("overwood_ba_ft2_ac",), (), "felling")
    if not canopy.measured:
        return _card("stay", "unmeasured", None, ("overwood_ba_ft2_ac",), (), "felling")
    if advice.step == "wait":
        return _card("stay", "grow", None, ("overwood_ba_ft2_ac",))
    if advice.step == "thin":
        share = ask.rules.number("thin_residual_stocking_pct") / advice.figures["overwood_stocking_pct"].number
        return _card("stay", "thinning", max(_of_ten(share), 1), ("overwood_stocking_pct",), (), "felling")
    if canopy.number <= wants.ba_high_ft2_ac:
        return _card("stay", "thin", None, ("overwood_ba_ft2_ac",), (), "felling")
    return _card(
        "stay", "cut", max(_of_ten(wants.middle_ba_ft2_ac / canopy.number), 1), ("overwood_ba_ft2_ac",), (), "felling"
    )


def _money(advice: Advice) -> Card:
    large = advice.figures["large_share"]
    if not large.measured:
        return _card("money", "unmeasured", None, ("large_share",), (), "money")
    return _card(
        "money",
        "thick" if large.number >= _HALF else "thin",
        _of_ten(large.number),
        ("large_share",),
        (),
        "money",
        of=large,
    )


def _sure(advice: Advice, ask: Question) -> Card:
    firm = advice.firm
    if not firm.is_known:
        return _card("sure", "unknown", None, ())
    # Only what stayed every time is ten of ten.
    tenths = 10 if firm.stays == 1 else min(_of_ten(firm.stays), 9)
    return _card(
        "sure",
        "firm" if tenths >= _of_ten(ask.rules.number("firm_told_share")) else "split",
        tenths,
        (),
        (),
        "forecast",
    )


def _do(advice: Advice) -> Card:
    step = all_steps()[advice.step]
    months = _months(advice.window) if advice.window and step.work != "wait" else ()
    branch = "cut_unsure" if advice.cut_in_doubt else "thin" if advice.step == "thin" else step.work
    return Card("do", branch, None, None, months, (), advice.cautions)


def _step_words(advice: Advice) -> str:
    """The step without its numbers; one in doubt as advice says it."""
    return advice.title if advice.cut_in_doubt else all_steps()[advice.step].title


def _answer(advice: Advice, name: str) -> str:
    return next(gate.answer for gate in advice.gates if gate.name == name)


def _months(window: Window) -> tuple[int, ...]:
    """The months of a season, 1 to 12, in order."""
    count = (window.end.year - window.start.year) * 12 + window.end.month - window.start.month
    return tuple((window.start.month - 1 + place) % 12 + 1 for place in range(min(count, 11) + 1))
