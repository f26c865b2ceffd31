"""Parts of the simulation compiled by themselves, for a process beside the one that compiles the whole: that one takes
what it finds done."""

from __future__ import annotations

from typing import Any

import numba
import numpy as np

from overwood.science.regeneration import course, year
from overwood.science.regeneration.shapes import CANOPY, PLAN, Counted, Floor, rows

# The whole comes to them in the other order.
_PIECES: tuple[Any, ...] = (year.pass_year, course._released, course._goes, course._try_burn, course._autumn)


def compile_pieces(
    counted: Counted, oaks: np.ndarray, parameters: np.ndarray, stand: np.ndarray, gate: np.ndarray
) -> None:
    """Compile what :func:`many_futures` calls, for arguments of the same types.

    Parameters
    ----------
    counted, oaks, parameters, stand, gate
        As :func:`many_futures` takes them.
    """
    flat, plan = np.zeros(CANOPY), rows(np.zeros(len(PLAN)), PLAN)
    arguments = {
        "floor": Floor(counted.stems, counted.ground, counted.ground), "counted": counted, "canopy": flat, "oaks": oaks,
        "good": flat, "stand": stand[0], "gains": flat, "p": parameters[0], "gate": gate[0], "plan": plan[0],
        "work": flat, "result": flat, "past": np.zeros((2, 2)), "seed": 0, "year": 0, "leaf_out": 0.0,
        "sprouts": 0.0, "bears": True, "ready": True,
    }  # fmt: skip
    for piece in _PIECES:
        code = piece.py_func.__code__
        piece.compile(tuple(numba.typeof(arguments[name]) for name in code.co_varnames[: code.co_argcount]))
