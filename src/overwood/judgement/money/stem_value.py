"""Volume and value of every stem of a map, cut up as the trees of a cruise are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground.records import Stem, Tree
from overwood.judgement.evidence import timber
from overwood.judgement.money.sale import as_tally
from overwood.judgement.prices import PriceList
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import Block

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Worth:
    """Board feet and, with a price list, US$ of each stem, whole trees."""

    log_rule: str
    volume_bf: Array
    value_usd: Array | None
    notes: tuple[str, ...]


def worth_of(block: Block, rules: Rules, prices: PriceList | None, log_rule: str = "doyle") -> Worth:
    """What the stems of a block hold and are worth at the mean price; logs are assumed from dbh."""
    rule = prices.log_rule if prices else log_rule
    cut = timber.timber_of(as_tally([tree_of(stem) for stem in block.stems], block.acres), rules, rule)
    assert cut is not None
    boards = cut.amounts([piece for piece in cut.pieces if piece.unit == "bd ft"])
    return Worth(rule, boards, timber.tree_values(cut, prices) if prices else None, cut.notes)


def tree_of(stem: Stem) -> Tree:
    """A stem of a map as a tallied tree."""
    return Tree(
        visit="marked trees", point="1", tree=stem.stem, species=stem.species, dbh_in=stem.dbh_in,
        height_ft=stem.height_ft,
        grade=stem.grade, crown_class=stem.crown_class,
    )  # fmt: skip
