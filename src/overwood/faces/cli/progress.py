"""A progress bar for long work that a person may stop without losing what was done."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def watched(doing: str, total: int) -> Iterator[Callable[..., bool]]:
    """A progress bar on a terminal; the first Ctrl-C stops the work instead of the program.

    What it yields takes how much is done and, for a search, what the best so far is worth; it answers whether to go on.
    """
    from rich.console import Console
    from rich.progress import Progress

    stopped = False

    def stop(*_: object) -> None:
        nonlocal stopped
        stopped = True

    before = signal.signal(signal.SIGINT, stop)
    bar = Progress(console=Console(stderr=True), disable=not sys.stderr.isatty(), transient=True)
    task = bar.add_task(doing, total=total)

    def progress(done: int, best: float | None = None) -> bool:
        bar.update(task, completed=done, description=doing if best is None else f"{doing}, worth {best:.3f}")
        return not stopped

    try:
        with bar:
            yield progress
    finally:
        signal.signal(signal.SIGINT, before)
