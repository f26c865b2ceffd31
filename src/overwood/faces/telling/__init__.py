"""The described shapes of answers for the API, made from the dataclasses that ``desk.telling`` makes plain."""

from __future__ import annotations

import dataclasses
import functools
import operator
import types
import typing
from collections.abc import Mapping
from typing import Any

from overwood.desk.telling import names, plain

__all__ = ["list_of", "plain", "shape", "with_cautions"]

_NAMED: dict[str, type] = {}


@functools.cache
def shape(answer: type) -> Any:
    """The described shape of an answer, made from its dataclass, for the API."""
    from pydantic import create_model

    hints = typing.get_type_hints(answer)
    fields: dict[str, Any] = {}
    for name in names(answer):
        hint = hints[name] if name in hints else typing.get_type_hints(getattr(answer, name).fget)["return"]
        fields[name] = (_inner(hint), ...)
    if _NAMED.setdefault(answer.__name__, answer) is not answer:
        raise ValueError(f"two answers are named {answer.__name__}: an API's shapes are told apart by their names")
    return create_model(answer.__name__, __doc__=answer.__doc__, **fields)


def with_cautions(answer: type, **more: Any) -> Any:
    """The shape of an answer beside which its cautions stand, and ``more`` fields by name and type."""
    from pydantic import create_model

    fields: dict[str, Any] = {name: (kind, ...) for name, kind in {**more, "cautions": list[str]}.items()}
    return create_model(f"{answer.__name__}Told", __base__=shape(answer), **fields)


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
