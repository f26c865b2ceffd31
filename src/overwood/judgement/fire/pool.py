"""What fire does to the young stems on the floor: survival and resprouting by group and size, once and several
times."""

from __future__ import annotations

from dataclasses import dataclass

from overwood.ground import measures, tables
from overwood.ground.figure import Figure
from overwood.judgement.rules import Rules

BURNS = (1, 2, 3)
PUBLISHED = "science/tables/fire_pool.csv"
# Which assumption serves a group of the count.
_KIND = {"oak": "oak", "hickory": "oak", "yellow-poplar": "poplar", "sweet birch": "poplar", "black birch": "poplar"}
# Height classes whose stems are mostly under half an inch at the ground.
_SMALL = ("<0.5", "0.5-1", "1-3")
HONEST = (
    "A cool dormant burn prepares the ground and topkills small stems; nearly all advance stems sprout or "
    "die whatever their kind. Fire that "
    "strongly favors oak was hotter, at bud break or in summer, three to five years after a cut, on oaks "
    "with big roots."
)


@dataclass(frozen=True)
class GroupAfter:
    """Stems of one group and size an acre now and after so many burns a few years apart, with the spread of the
    assumptions."""

    group: str
    size: str
    now_ac: float
    after_ac: dict[int, tuple[float, float, float]]


@dataclass(frozen=True)
class PoolAfter:
    """Every group, oak's share of the pool, and what was published."""

    season: str
    groups: tuple[GroupAfter, ...]
    oak_share_now: float
    oak_share_after: dict[int, float]
    published: tuple[dict[str, str], ...]
    honest: str = HONEST


def after(classes: dict[str, dict[str, Figure]], rules: Rules, *, growing: bool = False) -> PoolAfter | None:
    """The pool of a count after one to three burns; None where nothing was counted."""
    groups = tuple(
        _group(name, size, heights, rules, growing)
        for name, heights in classes.items()
        for size in ("small", "large")
        if any(
            figure.measured and figure.number
            for label, figure in heights.items()
            if (label in _SMALL) == (size == "small")
        )
    )
    whole = sum(group.now_ac for group in groups)
    if whole <= 0:
        return None
    oaks = tuple(group for group in groups if group.group == "oak")
    shares = {burns: _share(groups, oaks, burns) for burns in BURNS}
    season = "growing season" if growing else "dormant season"
    return PoolAfter(season, groups, sum(oak.now_ac for oak in oaks) / whole, shares, tables.rows(PUBLISHED))


def _share(groups: tuple[GroupAfter, ...], oaks: tuple[GroupAfter, ...], burns: int) -> float:
    left = sum(group.after_ac[burns][1] for group in groups)
    return sum(oak.after_ac[burns][1] for oak in oaks) / left if left > 0 else 0.0


def _group(name: str, size: str, heights: dict[str, Figure], rules: Rules, growing: bool) -> GroupAfter:
    now = sum(
        figure.number for label, figure in heights.items() if figure.measured and (label in _SMALL) == (size == "small")
    )
    kind = _KIND.get(name, "maple")
    rate = f"burn_rootstock_{size}_{kind}"
    harder = rules.number("burn_growing_season_factor") if growing and kind != "oak" else 1.0
    # Fewer deaths are the high end of stems; a sprout keeps the root it had.
    after_ac = {
        burns: _three(now, [survival(rate, rules, end, harder) ** burns for end in (2, 1, 0)]) for burns in BURNS
    }
    return GroupAfter(name, measures.prose("under {3 ft}" if size == "small" else "{3 ft} or taller"), now, after_ac)


def _three(now: float, shares: list[float]) -> tuple[float, float, float]:
    low, likely, high = (now * share for share in shares)
    return low, likely, high


def survival(rule_name: str, rules: Rules, end: int = 1, harder: float = 1.0) -> float:
    """Share of stems alive, as sprouts or untouched, after one burn; ``end`` picks low, likely or high deaths."""
    death = rules[rule_name].span[end]
    killed = rules.number("burn_share_burned") * rules.number("burn_topkill_share")
    return 1 - killed * min(1.0, harder * death)
