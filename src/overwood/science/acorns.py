"""The acorn crop: what a September check says, what may come of it, and which trees bear.

White oaks ripen their acorns in one season, red oaks in two; the groups are judged apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables

Array = NDArray[np.float64]
TABLE = "science/tables/acorns.csv"
LIMB_TABLE = "science/tables/acorn_limb_classes.csv"
INDEX_TABLE = "science/tables/acorn_index_classes.csv"


@dataclass(frozen=True)
class Fate:
    """A crop followed to seedlings, per acre."""

    sound_ac: float
    germinants_ac: float
    seedlings_ac: float


def overwinter_share(buried_share: float) -> float:
    """Share of sound acorns alive in spring.

    Parameters
    ----------
    buried_share : float
        Share buried under litter or soil, 0 to 1.

    Returns
    -------
    float
        Share alive, 0 to 1.

    Notes
    -----
    Source: ``brose2011``, one bumper crop, mainly northern red oak.

    Examples
    --------
    >>> round(overwinter_share(0), 2), round(overwinter_share(1), 2)
    (0.2, 0.8)
    """
    c = tables.constants(TABLE)
    return buried_share * c["overwinter_buried"] + (1 - buried_share) * c["overwinter_unburied"]


def fate(acorns_ac: float, *, insect_share: float, buried_share: float, survival_share: float) -> Fate:
    """Follow a crop from acorns to seedlings eight years on.

    Parameters
    ----------
    acorns_ac : float
        Acorns that fall [acorns/ac].
    insect_share : float
        Share spoiled by insects, 0 to 1.
    buried_share : float
        Share of sound acorns buried, 0 to 1.
    survival_share : float
        Share of germinants alive after eight years, 0 to 1.

    Returns
    -------
    Fate
        Sound acorns, germinants and seedlings per acre.

    Notes
    -----
    Source: ``brose2011``.

    Examples
    --------
    >>> round(fate(210_000, insect_share=0.2, buried_share=0, survival_share=0.26).seedlings_ac)
    8736
    """
    sound = acorns_ac * (1 - insect_share)
    germinants = sound * overwinter_share(buried_share)
    return Fate(sound, germinants, germinants * survival_share)


def class_from_limbs(oak_group: str, acorns_per_limb: float) -> str:
    """Crop class from acorns counted on 24-in. branch ends of the upper crown.

    Parameters
    ----------
    oak_group : str
        white or red.
    acorns_per_limb : float
        Mean count.

    Returns
    -------
    str
        poor, fair, good or excellent.

    Notes
    -----
    Source: ``sharp1958``, from memory.

    Examples
    --------
    >>> class_from_limbs("white", 13)
    'good'
    """
    rows = [row for row in tables.rows(LIMB_TABLE) if row["oak_group"] == oak_group]
    return next(row["class"] for row in rows if acorns_per_limb >= float(row["at_least"]))


def class_from_index(index: float) -> str:
    """Crop class from a visual index of 0 to 10.

    Parameters
    ----------
    index : float
        Visual index.

    Returns
    -------
    str
        poor, fair, good, excellent or bumper.

    Notes
    -----
    Source: ``whitehead1969``, from memory.

    Examples
    --------
    >>> class_from_index(4.1)
    'good'
    """
    return next(row["class"] for row in tables.rows(INDEX_TABLE) if index > float(row["above"]))


def class_from_bearing(bearing_share: float, *, fair: float, good: float, bumper: float) -> str:
    """Crop class from the share of trees bearing.

    Parameters
    ----------
    bearing_share : float
        Share of trees with acorns, 0 to 1.
    fair, good, bumper : float
        Lower limits of the classes, 0 to 1 (assumptions; only the form of the relation is published).

    Returns
    -------
    str
        poor, fair, good or bumper.

    Notes
    -----
    Source of the idea: ``greenberg2000``.

    Examples
    --------
    >>> [class_from_bearing(share, fair=0.3, good=0.55, bumper=0.8) for share in (0.54, 0.55)]
    ['fair', 'good']
    """
    limits = (("bumper", bumper), ("good", good), ("fair", fair))
    return next((name for name, limit in limits if bearing_share >= limit), "poor")


@dataclass(frozen=True)
class Bearers:
    """Trees ranked by what they have borne."""

    mean: Array
    shrunken: Array
    rank: NDArray[np.int64]
    shrinkage: float


def rank_bearers(counts: ArrayLike) -> Bearers:
    """Which numbered trees bear, from counts over several autumns.

    Parameters
    ----------
    counts : array, shape (trees, years)
        Acorns counted; NaN where a tree was not looked at. The counts are compared as ln(1 + count), each year
        centred first so that a good year does not favour the trees seen in it.

    Returns
    -------
    Bearers
        Mean and shrunken mean of the log counts per tree [ln], rank (1 is best), and the shrinkage towards the mean
        of all trees (1 keeps a tree's own mean, 0 keeps nothing).

    Notes
    -----
    Empirical Bayes with between-tree and within-tree variance by the one-way analysis of variance, each tree shrunk
    by its own number of years. Three autumns find most of the best bearers (``acorn2017``).

    Examples
    --------
    >>> rank_bearers([[0, 0, 1], [50, 60, 90], [5, 3, 9]]).rank.tolist()
    [3, 1, 2]
    """
    logs = np.log1p(np.asarray(counts, dtype=float))
    seen = ~np.isnan(logs)
    centred = logs - np.nanmean(logs, axis=0, keepdims=True)
    years = seen.sum(axis=1)
    mean = np.where(seen, centred, 0).sum(axis=1) / np.maximum(years, 1)
    within_df = int(years.sum() - len(years))
    within = float((np.where(seen, centred - mean[:, None], 0) ** 2).sum() / within_df) if within_df > 0 else 0.0
    average_years = years.sum() / len(years) if len(years) else 1.0
    between = max(float(mean.var(ddof=1)) - within / average_years, 0.0) if len(mean) > 1 else 0.0
    weight = between / (between + within / np.maximum(years, 1)) if between + within > 0 else np.zeros(len(mean))
    shrunken = weight * mean
    order = np.argsort(-shrunken, kind="stable")
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(1, len(order) + 1)
    return Bearers(mean, shrunken, rank, float(np.mean(weight)))
