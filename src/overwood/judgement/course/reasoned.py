"""A step with its reasons, before it becomes advice."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from overwood.ground.doubt import Doubt, Worded
from overwood.judgement.course.branch import STEP_OF
from overwood.judgement.gates.windows import Window


@dataclass(frozen=True)
class Reason(Worded):
    """A reason for a step, for setting another aside, or what follows: a short code with its values."""

    TABLE: ClassVar = "judgement/course/reasons.csv"


@dataclass
class Choice:
    """One step with its reasons; ``branch`` is the reason in short, ``gates`` and ``rules`` name what it rests on."""

    branch: str
    why: list[Reason]
    title: str = ""
    short: str = ""
    doubts: list[Doubt] = field(default_factory=list)
    would_change: list[str] = field(default_factory=list)
    set_aside: list[tuple[str, Reason]] = field(default_factory=list)
    follow_on: list[Reason] = field(default_factory=list)
    measure: list[str] = field(default_factory=list)
    gates: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    window: Window | None = None
    waits: bool = False
    # Whether a look it rests on has fewer points than the rules want.
    is_thin: bool = False

    @property
    def step(self) -> str:
        return STEP_OF[self.branch]
