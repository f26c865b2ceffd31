"""What a surface fire does to stems: scorch, heat through bark, wounds and deaths."""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables

Array = NDArray[np.float64]
TABLE = "science/tables/fire_mortality.csv"
CM_PER_IN = 2.54
M_PER_FT = 0.3048
# Minutes to kill the cambium below one centimetre of bark.
_KILL_MIN_CM2 = 2.9


def scorch_height_ft(intensity_btu_ft_s: ArrayLike, temp_f: ArrayLike, midflame_mi_h: ArrayLike) -> Array:
    """Height to which leaves and opened buds are killed.

    Parameters
    ----------
    intensity_btu_ft_s : float or array
        Fireline intensity [Btu/ft/s].
    temp_f : float or array
        Air temperature [F], under 140.
    midflame_mi_h : float or array
        Wind at the flame [mi/h].

    Returns
    -------
    float or array
        Height [ft].

    Notes
    -----
    ``vanwagner1973`` in the United States form of ``albini1976``, from memory. The form with 3.94 and 0.107 takes
    intensity in kcal/s/m and is not this one. Matters for evergreens and opened buds, hardly for leafless hardwoods.

    Examples
    --------
    >>> round(float(scorch_height_ft(50, 50, 2)), 1)
    8.8
    """
    i, u = np.asarray(intensity_btu_ft_s, dtype=float), np.asarray(midflame_mi_h, dtype=float)
    return np.asarray(
        63 / (140 - np.asarray(temp_f, dtype=float)) * i ** (7 / 6) / np.sqrt(np.maximum(i + u**3, 1e-12))
    )


def bark_kill_min(bark_in: ArrayLike) -> Array:
    """Minutes of flame at the stem that kill the cambium below a thickness of bark.

    Parameters
    ----------
    bark_in : float or array
        Bark, one side [in].

    Returns
    -------
    float or array
        Time [min].

    Notes
    -----
    2.9 x^2 with x in cm (``peterson1986``), from memory; conduction gives 2.3 to 3.3 x^2.

    Examples
    --------
    >>> round(float(bark_kill_min(1 / 2.54)), 3)
    2.9
    """
    return np.asarray(_KILL_MIN_CM2 * (np.asarray(bark_in, dtype=float) * CM_PER_IN) ** 2)


def wound_share(bark_in: ArrayLike, *, heating_median_min: float, heating_log_sd: float) -> Array:
    """Chance that a stem on burned ground is heated longer than its bark stands.

    Parameters
    ----------
    bark_in : float or array
        Bark, one side [in].
    heating_median_min : float
        Median time that flames stay at a stem's foot [min].
    heating_log_sd : float
        Spread of that time, standard deviation of its logarithm.

    Returns
    -------
    float or array
        Chance, 0 to 1.

    Notes
    -----
    Phi(ln(median / kill time) / sd): lognormal heating is an assumption, set so that deaths fall near
    ``hutchinson2005``.

    Examples
    --------
    >>> round(float(wound_share(0.040 * 35 / 2.54, heating_median_min=1, heating_log_sd=1.2)), 4)
    0.0738
    """
    from scipy import special

    return np.asarray(special.ndtr(np.log(heating_median_min / bark_kill_min(bark_in)) / heating_log_sd))


@functools.cache
def mortality_species() -> tuple[int, ...]:
    """Species with published coefficients.

    Returns
    -------
    tuple of int
        FIA codes.
    """
    return tuple(int(row["spcd"]) for row in tables.rows(TABLE))


def mortality_by_char(spcd: int, dbh_in: ArrayLike, char_ft: ArrayLike) -> Array:
    """Chance that a stem is dead two years after a fire, from its char.

    Parameters
    ----------
    spcd : int
        FIA code of one of ``mortality_species``.
    dbh_in : float or array
        Diameter at breast height [in].
    char_ft : float or array
        Height of the char on the bole [ft].

    Returns
    -------
    float or array
        Chance, 0 to 1.

    Raises
    ------
    KeyError
        when the species has no coefficients.

    Notes
    -----
    Logit b0 + b1 dbh [cm] + b2 char [m] (``keyser2018``), coefficients from memory and of low confidence.

    Examples
    --------
    >>> round(float(mortality_by_char(802, 20 / 2.54, 0.3 / 0.3048)), 3)
    0.06
    """
    row = next((row for row in tables.rows(TABLE) if int(row["spcd"]) == spcd), None)
    if row is None:
        known = ", ".join(row["species"] for row in tables.rows(TABLE))
        raise KeyError(f"no published coefficients for this species; there are some for {known}")
    dbh_cm, char_m = np.asarray(dbh_in, dtype=float) * CM_PER_IN, np.asarray(char_ft, dtype=float) * M_PER_FT
    logit = float(row["b0"]) + float(row["dbh_per_cm"]) * dbh_cm + float(row["char_per_m"]) * char_m
    return np.asarray(1 / (1 + np.exp(-logit)))


def mortality_by_scorch_western(bark_in: ArrayLike, crown_scorch_pct: ArrayLike) -> Array:
    """Chance of death by the western conifer form, kept to show why it must not serve hardwoods.

    Parameters
    ----------
    bark_in : float or array
        Bark, one side [in].
    crown_scorch_pct : float or array
        Crown volume scorched [%].

    Returns
    -------
    float or array
        Chance, 0 to 1.

    Notes
    -----
    ``ryan1988``, from memory: 37% for half an inch of bark and no scorch at all.

    Examples
    --------
    >>> round(float(mortality_by_scorch_western(0.5, 0)), 3)
    0.367
    """
    bark, scorch = np.asarray(bark_in, dtype=float), np.asarray(crown_scorch_pct, dtype=float) / 100
    return np.asarray(1 / (1 + np.exp(-1.941 + 6.316 * (1 - np.exp(-bark)) - 5.35 * scorch**2)))
