"""How the simulation is compiled: kept on disk, free of Python's lock, without a check at each division, and no more of
it than is called."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from overwood.science.compiling import kernel

# More effort takes a sixth more of the compiler's time and makes the simulation no faster.
_EFFORT = 1


def compiled(function: Callable[..., Any], **options: Any) -> Any:
    """A kernel of this room; one whose name begins with an underscore is called by kernels alone."""
    inner = function.__name__.startswith("_")
    return kernel("regeneration", effort=_EFFORT, nogil=True, error_model="numpy", no_cpython_wrapper=inner, **options)(
        function
    )


def within(function: Callable[..., Any]) -> Any:
    """A kernel that is the body of one loop: it is made part of the loop, not compiled with all it calls once more."""
    return compiled(function, inline="always")
