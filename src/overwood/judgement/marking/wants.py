"""What a marking should reach, and which wants cannot be met together."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground import measures
from overwood.ground.errors import Misuse
from overwood.ground.figure import Figure
from overwood.ground.units import FT2_PER_ACRE
from overwood.judgement.money.stem_value import Worth
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import Block
from overwood.science import density

Array = NDArray[np.float64]
# Ground that one of many places an even distance apart holds at the closest packing, in squares of that distance.
_CLOSEST = math.sqrt(3) / 2


@dataclass(frozen=True)
class SpeciesShare:
    """A species' part of the basal area left, between two shares."""

    spcd: int
    species: str
    low_share: float
    high_share: float


@dataclass(frozen=True)
class Edge:
    """A side of the block along which the main canopy stays."""

    side: str
    width_ft: float


@dataclass(frozen=True, kw_only=True)
class Wants:
    """What a marking should reach; 0 asks nothing."""

    light_low_pct: float
    light_high_pct: float
    ba_low_ft2_ac: float
    ba_high_ft2_ac: float
    seed_cover_share: float
    both_oak_groups: bool = True
    stocking_low_pct: float = 0.0
    stocking_high_pct: float = 0.0
    spacing_ft: float = 0.0
    least_sale_bf_ac: float = 0.0
    least_value_kept_usd_ac: float = 0.0
    least_dbh_in: float = 0.0
    shares: tuple[SpeciesShare, ...] = ()
    wildlife: tuple[str, ...] = ()
    edges: tuple[Edge, ...] = ()

    @property
    def band(self) -> tuple[float, float]:
        """The light wanted, in percent."""
        return self.light_low_pct, self.light_high_pct

    @property
    def middle_ba_ft2_ac(self) -> float:
        """The middle of the basal area wanted."""
        return (self.ba_low_ft2_ac + self.ba_high_ft2_ac) / 2


def default_wants(rules: Rules) -> Wants:
    """What the rulebook asks of a seed cut."""
    return Wants(
        light_low_pct=rules.number("light_low_pct"),
        light_high_pct=rules.number("light_high_pct"),
        ba_low_ft2_ac=rules.number("seed_cut_residual_low_ft2_ac"),
        ba_high_ft2_ac=rules.number("seed_cut_residual_high_ft2_ac"),
        seed_cover_share=rules.number("seed_cover_share"),
        least_dbh_in=rules.number("acorn_tree_dbh_in"),
    )


def thinned_ba_ft2_ac(figures: dict[str, Figure], rules: Rules) -> tuple[float, float, float]:
    """Low, middle and high basal area that a thinning leaves: trees of like size take ground in proportion to it."""
    left = rules["thin_residual_stocking_pct"]
    per_pct = figures["overwood_ba_ft2_ac"].number / figures["overwood_stocking_pct"].number
    low, high = left.span[0] * per_pct, left.span[2] * per_pct
    return low, left.number * per_pct, high


def stocking_of(block: Block) -> Array:
    """Percent of full stocking that each stem gives."""
    return density.tree_area_pct(np.array([stem.dbh_in for stem in block.stems])) / block.acres


def check_wants(block: Block, wants: Wants, may_stay: NDArray[np.bool_], worth: Worth | None = None) -> None:
    """Refuse wants that cannot be met together, saying which. Raises Misuse naming the conflict."""
    must = np.array([stem.must for stem in block.stems])
    stays = must == "leave"
    ba = block.ba_ft2_ac
    if not (block.oak & block.overwood).any():
        raise Misuse("there is no oak in the main canopy of this map.", remedy="A seed cut needs oaks to leave.")
    for low, high in (
        ("light_low_pct", "light_high_pct"),
        ("ba_low_ft2_ac", "ba_high_ft2_ac"),
        ("stocking_low_pct", "stocking_high_pct"),
    ):
        if getattr(wants, low) >= getattr(wants, high) > 0:
            raise Misuse("the lower end of a want lies above its upper end.")
    if ba[stays].sum() > wants.ba_high_ft2_ac:
        raise Misuse(
            f"trees that must stay hold {measures.amount(ba[stays].sum(), 'ft2/ac')}, above the "
            f"{measures.digits(wants.ba_high_ft2_ac, 'ft2/ac', 'g')} wanted.",
            remedy="Free some, or want more basal area.",
        )
    if ba[may_stay].sum() < wants.ba_low_ft2_ac:
        raise Misuse(
            f"only {measures.amount(ba[may_stay].sum(), 'ft2/ac')} may stay, under the "
            f"{measures.digits(wants.ba_low_ft2_ac, 'ft2/ac', 'g')} wanted: leave trees are dominant or "
            "codominant, "
            f"of a known species and {measures.amount(wants.least_dbh_in, 'in.', 'g')} or more.",
            remedy=(
                "Want less basal area or a smaller least dbh, mark single trees to leave, or free trees that "
                "must be cut."
            ),
        )
    _check_shares(block, wants, may_stay)
    _check_stocking(block, wants, may_stay, stays)
    _check_spacing(block, wants, may_stay)
    _check_money(block, wants, worth, may_stay, stays)


def _check_shares(block: Block, wants: Wants, may_stay: NDArray[np.bool_]) -> None:
    """Shares of species against what of them may stay, and against each other."""
    for share in wants.shares:
        most = float(block.ba_ft2_ac[may_stay & (block.spcd == share.spcd)].sum())
        if most < share.low_share * wants.ba_low_ft2_ac:
            raise Misuse(
                f"{share.low_share:.0%} {share.species} of "
                f"{measures.amount(wants.ba_low_ft2_ac, 'ft2/ac', 'g')} are wanted, but only "
                f"{measures.amount(most, 'ft2/ac', '.1f')} of it may stay.",
                remedy="Want a smaller share of it or a smaller least dbh.",
            )
    least = sum(share.low_share for share in wants.shares)
    if least > 1:
        raise Misuse(f"the shares of species wanted come to {least:.0%} at the least.", remedy="Want smaller shares.")


def _check_stocking(block: Block, wants: Wants, may_stay: NDArray[np.bool_], stays: NDArray[np.bool_]) -> None:
    """Stocking wanted against the most and the least that the basal area wanted can have."""
    if not wants.stocking_high_pct:
        return
    stocking = stocking_of(block)
    most = _most(stocking, block.ba_ft2_ac, may_stay, stays, wants.ba_high_ft2_ac)
    least = -_most(-stocking, block.ba_ft2_ac, may_stay, stays, wants.ba_low_ft2_ac, at_least=True)
    if most < wants.stocking_low_pct or least > wants.stocking_high_pct:
        raise Misuse(
            f"{measures.span(wants.ba_low_ft2_ac, wants.ba_high_ft2_ac, 'ft2/ac', 'g')} of these trees is a "
            f"stocking of {least:.0f} to {most:.0f}%, "
            f"not the {wants.stocking_low_pct:g} to {wants.stocking_high_pct:g} wanted.",
            remedy="Want basal area or stocking, or widen one of them.",
        )


def _check_spacing(block: Block, wants: Wants, may_stay: NDArray[np.bool_]) -> None:
    """Basal area wanted against what so many of the thickest trees hold."""
    if not wants.spacing_ft:
        return
    room = math.ceil(block.acres * FT2_PER_ACRE / (_CLOSEST * wants.spacing_ft**2)) + _at_the_edge(
        block, wants.spacing_ft
    )
    most = float(np.sort(block.ba_ft2_ac[may_stay])[::-1][:room].sum())
    if most < wants.ba_low_ft2_ac:
        raise Misuse(
            f"leave trees {measures.amount(wants.spacing_ft, 'ft', 'g')} apart are at most {room} on this "
            f"block, {measures.amount(most, 'ft2/ac')} of the thickest; "
            f"{measures.digits(wants.ba_low_ft2_ac, 'ft2/ac', 'g')} are wanted.",
            remedy="Want a closer spacing or less basal area.",
        )


def _at_the_edge(block: Block, spacing_ft: float) -> int:
    """How many more trees fit because those at the edge need no ground beyond it."""
    around = 2 * (block.map.width_ft + block.map.height_ft)
    return math.ceil(around / spacing_ft / 2) + 1


def _check_money(
    block: Block, wants: Wants, worth: Worth | None, may_stay: NDArray[np.bool_], stays: NDArray[np.bool_]
) -> None:
    """Sale volume and value kept against the most that the basal area wanted allows."""
    ba, acres = block.ba_ft2_ac, block.acres
    if wants.least_sale_bf_ac:
        assert worth is not None
        volume = worth.volume_bf / acres
        most = float(volume[block.overwood].sum()) + _most(
            -volume, ba, may_stay, stays, wants.ba_low_ft2_ac, at_least=True
        )
        if most < wants.least_sale_bf_ac:
            raise Misuse(
                f"with {measures.amount(wants.ba_low_ft2_ac, 'ft2/ac', 'g')} left, at most "
                f"{measures.amount(most, 'bd ft/ac', ',.0f')} ({measures.log_rule_words(worth.log_rule)}) can be sold; "
                f"{measures.digits(wants.least_sale_bf_ac, 'bd ft/ac', ',.0f')} are wanted.",
                remedy="Want less basal area or a smaller sale.",
            )
    if wants.least_value_kept_usd_ac:
        if worth is None or worth.value_usd is None:
            raise Misuse("value kept needs prices.", remedy="Name your price list with --prices.")
        most = _most(worth.value_usd / acres, ba, may_stay, stays, wants.ba_high_ft2_ac)
        if most < wants.least_value_kept_usd_ac:
            raise Misuse(
                f"{measures.amount(wants.ba_high_ft2_ac, 'ft2/ac', 'g')} of these trees are worth at most "
                f"{measures.amount(most, 'US$/ac', ',.0f')}; "
                f"{measures.digits(wants.least_value_kept_usd_ac, 'US$/ac', ',.0f')} are wanted.",
                remedy="Want more basal area or less value kept.",
            )


def _most(
    amount: Array,
    ba: Array,
    may_stay: NDArray[np.bool_],
    stays: NDArray[np.bool_],
    ba_ft2_ac: float,
    *,
    at_least: bool = False,
) -> float:
    """The most of an amount that trees of so much basal area can hold, where a tree may stay in part (so no marking has
    more).

    With ``at_least`` that basal area must stay even where the amount is below zero.
    """
    total, left = float(amount[stays].sum()), ba_ft2_ac - float(ba[stays].sum())
    free = np.flatnonzero(may_stay & ~stays)
    for place in free[np.argsort(-amount[free] / ba[free], kind="stable")]:
        if left <= 0 or (amount[place] <= 0 and not at_least):
            break
        part = min(1.0, left / float(ba[place]))
        total, left = total + part * float(amount[place]), left - part * float(ba[place])
    return total
