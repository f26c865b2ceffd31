"""Light on the floor: the planning curve by basal area."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables

TABLE = "science/tables/light.csv"


def from_basal_area_pct(ba_ft2_ac: ArrayLike, *, midstory_multiplier: ArrayLike) -> NDArray[np.float64]:
    """Light below the main canopy from its basal area, a planning curve.

    Parameters
    ----------
    ba_ft2_ac : float or array
        Basal area of the main canopy [ft2/ac].
    midstory_multiplier : float or array
        1 with the midstory gone, less where it stands (``midstory_share``).

    Returns
    -------
    float or array
        Light [% of full sun].

    Notes
    -----
    Fitted here to seven cut stands of ``cunningham2011``, ``grayson2012`` and ``schweitzer2006`` (an assumption), 4 to
    83 ft2/ac; they lie a factor of 0.65 to 1.47 off it. Crown size and spacing matter more than basal area.

    Examples
    --------
    >>> round(float(from_basal_area_pct(70.1, midstory_multiplier=1)), 1)
    26.8
    """
    c = tables.constants(TABLE)
    return (
        100
        * np.asarray(midstory_multiplier)
        * np.exp(c["curve_b0"] + c["curve_b1"] * np.asarray(ba_ft2_ac, dtype=float))
    )


def midstory_share(ba_ft2_ac: ArrayLike, *, usual_share: float, usual_ba_ft2_ac: float) -> NDArray[np.float64]:
    """Share of the light below the main canopy that a midstory lets through.

    Parameters
    ----------
    ba_ft2_ac : float or array
        Basal area of the midstory [ft2/ac].
    usual_share : float
        Share that the usual midstory lets through.
    usual_ba_ft2_ac : float
        Basal area of the usual midstory [ft2/ac].

    Returns
    -------
    float or array
        Share, 0 to 1; 1 where there is none.

    Notes
    -----
    The usual share to the power of how many usual midstories stand, as light falls with leaf area (``geometry``): every
    stem taken raises the light, and none makes it jump.

    Examples
    --------
    >>> round(float(midstory_share(10, usual_share=0.64, usual_ba_ft2_ac=20)), 2)
    0.8
    """
    return np.asarray(usual_share ** (np.asarray(ba_ft2_ac, dtype=float) / usual_ba_ft2_ac))
