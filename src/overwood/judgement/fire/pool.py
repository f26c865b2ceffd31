"""What fire does to the young stems on the floor: survival and resprouting by group and size, once and several times."""

from __future__ import annotations

from dataclasses import dataclass

from overwood.ground.figure import Figure
from overwood.judgement.rules import Rules

BURNS = (1, 2, 3)
# Which assumption serves a group of the count.
_KIND = {"oak": "oak", "hickory": "oak", "yellow-poplar": "poplar", "sweet birch": "poplar", "black birch": "poplar"}
# Height classes whose stems are mostly under half an inch at the ground.
_SMALL = ("<0.5", "0.5-1", "1-3")
HONEST = (
    "A cool dormant burn prepares the ground and topkills small stems; nearly all advance stems sprout or die whatever their kind. Fire that "
    "strongly favours oak was hotter, at bud break or in summer, three to five years after a cut, on oaks with big roots."
)


@dataclass(frozen=True)
class GroupAfter:
    """Stems of one group an acre now and after so many burns a few years apart, with the spread of the assumptions."""

    group: str
    now_ac: float
    after_ac: dict[int, tuple[float, float, float]]


@dataclass(frozen=True)
class PoolAfter:
    """Every group, and oak's share of the pool."""

    groups: tuple[GroupAfter, ...]
    oak_share_now: float
    oak_share_after: dict[int, float]
    honest: str = HONEST


def after(classes: dict[str, dict[str, Figure]], rules: Rules) -> PoolAfter | None:
    """The pool of a count after one to three dormant burns; None where nothing was counted."""
    groups = tuple(_group(name, heights, rules) for name, heights in classes.items())
    whole = sum(group.now_ac for group in groups)
    if not groups or whole <= 0:
        return None
    oak = next((group for group in groups if group.group == "oak"), None)
    shares = {burns: _share(groups, oak, burns) for burns in BURNS}
    return PoolAfter(groups, (oak.now_ac if oak else 0.0) / whole, shares)


def _share(groups: tuple[GroupAfter, ...], oak: GroupAfter | None, burns: int) -> float:
    left = sum(group.after_ac[burns][1] for group in groups)
    return oak.after_ac[burns][1] / left if oak and left > 0 else 0.0


def _group(name: str, heights: dict[str, Figure], rules: Rules) -> GroupAfter:
    small, large = _kind(name, "small", rules), _kind(name, "large", rules)
    now = {label: figure.number for label, figure in heights.items() if figure.measured}
    after_ac = {}
    for burns in BURNS:
        # Fewer deaths are the high end of stems.
        ends = [
            # After the first burn every sprout is small again in the crown but keeps its root, so its size class stays.
            sum(
                stems * survival(rate, rules, end) ** burns
                for label, stems in now.items()
                for rate in (small if label in _SMALL else large,)
            )
            for end in (2, 1, 0)
        ]
        after_ac[burns] = (ends[0], ends[1], ends[2])
    return GroupAfter(name, sum(now.values()), after_ac)


def _kind(group: str, size: str, rules: Rules) -> str:
    return f"burn_rootstock_{size}_{_KIND.get(group, 'maple')}"


def survival(rule_name: str, rules: Rules, end: int = 1) -> float:
    """Share of stems alive, as sprouts or untouched, after one dormant burn; ``end`` picks low, likely or high deaths."""
    rule = rules[rule_name]
    death = (rule.low, rule.number, rule.high)[end]
    killed = rules.number("burn_share_burned") * rules.number("burn_topkill_share")
    return 1 - killed * (rule.number if death is None else death)
