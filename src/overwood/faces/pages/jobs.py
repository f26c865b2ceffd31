"""Long work beside the pages: one thread each, with progress and a way to stop it. It lives as long as the server."""

from __future__ import annotations

import itertools
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from overwood.desk import office
from overwood.ground.errors import Misuse, NotFound, OverwoodError

_MOST_KEPT = 20
_SUMS_UP_WITHIN_S = 5.0
# More at once would only slow each other, and the pages; one person of an office never takes all.
_MOST_AT_ONCE, _MOST_OF_ONE = 4, 2


@dataclass
class Job:
    """Work under way: how far it is, what came of it, or what went wrong."""

    number: int
    what: str
    total: int
    who: str = ""
    done: int = 0
    note: str = ""
    result: Any = None
    fault: str = ""
    stop: bool = False
    finished: threading.Event = field(default_factory=threading.Event)

    @property
    def share_pct(self) -> int:
        return min(100, round(100 * self.done / max(self.total, 1)))

    def step(self, done: int, note: str = "") -> bool:
        """Say how far it is; False asks the work to stop and sum up."""
        self.done, self.note = done, note or self.note
        return not self.stop


_JOBS: dict[int, Job] = {}
_NUMBERS = itertools.count(1)


def begin(what: str, total: int, work: Callable[[Job], Any]) -> Job:
    """Start work in a thread of its own.

    Raises
    ------
    Misuse
        when as much is under way as the machine does well.
    """
    who = office.acting()
    under_way = [job for job in _JOBS.values() if not job.finished.is_set()]
    if len(under_way) >= _MOST_AT_ONCE:
        raise Misuse(f"{_MOST_AT_ONCE} pieces of long work are under way already.", remedy="Wait for one to end, or stop one.")
    if who and sum(job.who == who for job in under_way) >= _MOST_OF_ONE:
        raise Misuse(f"{_MOST_OF_ONE} pieces of long work of yours are under way already.", remedy="Wait for one to end, or stop one.")
    job = Job(next(_NUMBERS), what, total, who)
    _JOBS[job.number] = job
    for old in sorted(_JOBS)[:-_MOST_KEPT]:
        _JOBS.pop(old, None)
    threading.Thread(target=_run, args=(job, work), daemon=True).start()
    return job


def _run(job: Job, work: Callable[[Job], Any]) -> None:
    from django.db import connection

    try:
        job.result = work(job)
    except OverwoodError as fault:
        job.fault = str(fault)
    except Exception as fault:
        job.fault = f"a fault of the program: {fault}"
        raise
    finally:
        connection.close()
        job.finished.set()


def stopped(number: int) -> Job:
    """Ask work to stop, and wait a moment for it to sum up."""
    job = of(number)
    job.stop = True
    job.finished.wait(_SUMS_UP_WITHIN_S)
    return job


def of(number: int) -> Job:
    """A job by its number.

    Raises
    ------
    NotFound
        when it is not there any more, or is another person's.
    """
    if number not in _JOBS or _JOBS[number].who != office.acting():
        raise NotFound(f"there is no work {number} under way.", remedy="Start it again.")
    return _JOBS[number]
