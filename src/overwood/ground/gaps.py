"""A number that may be missing: NaN where it is reckoned with, nothing where an answer is kept."""

from __future__ import annotations

from typing import Annotated, Any


class _Gap:
    """How a kept answer is read again: what is not there becomes NaN."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        from pydantic_core import core_schema

        return core_schema.no_info_before_validator_function(
            lambda value: float("nan") if value is None else value, handler(source)
        )


Gap = Annotated[float, _Gap()]
