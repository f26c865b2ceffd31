"""Which stems of a map may be leave trees, and what becomes of the rest: crown class and size decide before any
score."""

from __future__ import annotations

import numpy as np

from overwood.ground.species import by_code
from overwood.judgement.evidence.layers import species_mask
from overwood.judgement.marking.wants import Wants
from overwood.judgement.stem_map import Block, Mask

# Crown classes of a leave tree; where none was noted, size alone decides.
UPPER = ("dominant", "codominant", "")
UNKNOWN_SPECIES = 999


def may_stay(block: Block, wants: Wants) -> Mask:
    """Stems that may be left: of the upper canopy, a known species and the least diameter, or marked to stay; never
    those marked to go."""
    must = np.array([stem.must for stem in block.stems])
    upper = np.array([stem.crown_class in UPPER for stem in block.stems])
    known = species_mask(block.spcd, lambda code: by_code(code).spcd != UNKNOWN_SPECIES)
    return (must == "leave") | ((must == "") & block.overwood & upper & known & (block.dbh_in >= wants.least_dbh_in))


def to_inject(block: Block, wants: Wants, leave: Mask) -> Mask:
    """The midstory to inject, and poles of the main canopy too small to leave or to sell; never an oak, nor a tree
    marked to go."""
    cut = np.array([stem.must == "cut" for stem in block.stems])
    poles = block.overwood & ~block.oak & ~cut & (block.dbh_in < wants.least_dbh_in)
    return (block.inject | poles) & ~leave


def calls(block: Block, wants: Wants, leave: Mask) -> list[str]:
    """What becomes of each stem: leave, inject, let be or take."""
    inject = to_inject(block, wants, leave)
    return np.select([leave, inject, block.let_be], ["leave", "inject", "let be"], "take").tolist()
