"""An answer in JSON: its dataclass is the contract, for the command line and for the API alike.

A field whose metadata say ``inner`` is not told; properties that ``TOLD`` of the class names are. Numbers that JSON cannot carry become null, days and paths text.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
import math
import operator
import types
import typing
from collections.abc import Mapping
from pathlib import Path
from typing import Any

_NAMED: dict[str, type] = {}


def plain(value: Any) -> Any:
    """A value as JSON carries it."""
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if value is None or isinstance(value, bool | int | str):
        return value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {name: plain(getattr(value, name)) for name in told(type(value))}
    if isinstance(value, Mapping):
        return {str(key): plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(entry) for entry in value]
    return _scalar(value)


def _scalar(value: Any) -> Any:
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Path):
        return str(value)
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    return str(value)


@functools.cache
def told(answer: type) -> tuple[str, ...]:
    """Names of what is told of an answer: its fields, then its told properties."""
    fields = [field.name for field in dataclasses.fields(answer) if not field.metadata.get("inner")]
    return (*fields, *getattr(answer, "TOLD", ()))


@functools.cache
def shape(answer: type) -> Any:
    """The described shape of an answer, made from its dataclass, for the API."""
    from pydantic import create_model

    hints = typing.get_type_hints(answer)
    fields: dict[str, Any] = {}
    for name in told(answer):
        hint = hints[name] if name in hints else typing.get_type_hints(getattr(answer, name).fget)["return"]
        fields[name] = (_inner(hint), ...)
    if _NAMED.setdefault(answer.__name__, answer) is not answer:
        raise ValueError(f"two answers are named {answer.__name__}: an API's shapes are told apart by their names")
    return create_model(answer.__name__, __doc__=answer.__doc__, **fields)


def with_cautions(answer: type) -> Any:
    """The shape of an answer beside which its cautions stand."""
    from pydantic import create_model

    return create_model(f"{answer.__name__}Told", __base__=shape(answer), cautions=(list[str], ...))


def list_of(answer: type) -> Any:
    """The shape of a list of answers."""
    return list.__class_getitem__(shape(answer))


def _inner(hint: Any) -> Any:
    """A type with every dataclass in it as its shape, and numbers that may be none."""
    if dataclasses.is_dataclass(hint):
        return shape(typing.cast(type, hint))
    if hint is float:
        return float | None
    parts, origin = typing.get_args(hint), typing.get_origin(hint)
    if origin is None:
        return hint
    inner = tuple(part if part is Ellipsis else _inner(part) for part in parts)
    if origin in (typing.Union, types.UnionType):
        return functools.reduce(operator.or_, inner)
    if origin is tuple and Ellipsis in parts:
        return list.__class_getitem__(inner[0])
    return (dict if origin is Mapping else origin).__class_getitem__(inner)
