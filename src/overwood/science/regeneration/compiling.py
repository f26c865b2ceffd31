"""How the simulation is compiled: kept on disk, free of Python's lock, and without a check at each division."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from overwood.science.compiling import kernel

compiled: Callable[[Callable[..., Any]], Any] = kernel("regeneration", nogil=True, error_model="numpy")
