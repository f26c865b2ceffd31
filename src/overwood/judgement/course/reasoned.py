"""A step with its reasons, before it becomes advice."""

from __future__ import annotations

from dataclasses import dataclass, field

from overwood.ground.doubt import Doubt
from overwood.judgement.course.branch import STEP_OF
from overwood.judgement.gates.windows import Window
from overwood.judgement.reason import Reason


@dataclass
class Choice:
    """One step with its reasons; ``branch`` is the reason in short, ``gates`` and ``rules`` name what it rests on."""

    branch: str
    why: list[Reason]
    short: Reason
    title: Reason | None = None
    doubts: list[Doubt] = field(default_factory=list)
    would_change: list[Reason] = field(default_factory=list)
    set_aside: list[tuple[str, Reason]] = field(default_factory=list)
    follow_on: list[Reason] = field(default_factory=list)
    measure: list[Reason] = field(default_factory=list)
    gates: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    window: Window | None = None
    waits: bool = False
    # Whether a look it rests on has fewer points than the rules want.
    is_thin: bool = False

    @property
    def step(self) -> str:
        return STEP_OF[self.branch]
