"""What is worked out of a thing once and asked for often."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, TypeVar

T = TypeVar("T")


class Once:
    """A frozen record that holds what was worked out of it; a changed record is another one and holds nothing."""

    @functools.cached_property
    def worked_out(self) -> dict[tuple[Any, ...], Any]:
        return {}

    def once(self, key: tuple[Any, ...], work: Callable[[], T], rests_on: Any = None) -> T:
        """What a work on this came to; it is done anew where what else it rests on is no longer equal. Nobody writes
        into it."""
        if key not in self.worked_out or self.worked_out[key][0] != rests_on:
            self.worked_out[key] = (rests_on, work())
        result: T = self.worked_out[key][1]
        return result
