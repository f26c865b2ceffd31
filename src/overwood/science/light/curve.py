"""Light on the floor: the planning curve by basal area."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables

TABLE = "science/tables/light.csv"


def from_basal_area_pct(ba_ft2_ac: ArrayLike, *, midstory_multiplier: float) -> NDArray[np.float64]:
    """Light below the main canopy from its basal area, a planning curve.

    Parameters
    ----------
    ba_ft2_ac : float or array
        Basal area of the main canopy [ft2/ac].
    midstory_multiplier : float
        1 with the midstory gone, less where it stands (an assumption).

    Returns
    -------
    float or array
        Light [% of full sun].

    Notes
    -----
    Fitted here to three mid-points of ``cunningham2011`` (an assumption); 30 to 125 ft2/ac. Crown size and spacing
    matter more than basal area.

    Examples
    --------
    >>> round(float(from_basal_area_pct(70.1, midstory_multiplier=1)), 1)
    27.5
    """
    c = tables.constants(TABLE)
    return 100 * midstory_multiplier * np.exp(c["curve_b0"] + c["curve_b1"] * np.asarray(ba_ft2_ac, dtype=float))
