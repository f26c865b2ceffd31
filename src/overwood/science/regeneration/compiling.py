"""How the simulation is compiled: kept on disk, free of Python's lock, and without a check at each division."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numba

compiled: Callable[[Callable[..., Any]], Any] = numba.njit(cache=True, nogil=True, error_model="numpy")
