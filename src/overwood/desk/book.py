"""The one door to the book: its rooms by name, such as ``book.store``, each loaded when it is first asked for.

Django must know its database before a model can be imported, and a command that asks no book must not wait for Django.
"""

from __future__ import annotations

import importlib
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from overwood.memory.book import (  # noqa: F401
        accounts,
        audit,
        contents,
        drill,
        links,
        log_ins,
        outputs,
        passkeys,
        second_factor,
        setup,
        stand_rows,
        store,
        view,
        walks,
        work,
    )
else:

    def __getattr__(name: str) -> ModuleType:
        if name.startswith("_"):
            raise AttributeError(name)
        return importlib.import_module(f"overwood.memory.book.{name}")
