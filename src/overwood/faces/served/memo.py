"""What a server process holds in memory: only answers that the book gives again, so that any process may answer."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any


class Memo:
    """The answers asked for last, at most ``most``; each key names all that its answer rests on."""

    def __init__(self, most: int) -> None:
        self._most, self._lock = most, threading.Lock()
        self._answers: OrderedDict[Hashable, Any] = OrderedDict()

    def __contains__(self, key: Hashable) -> bool:
        return key in self._answers

    def get(self, key: Hashable) -> Any:
        """The answer to a key; None where it is not held."""
        with self._lock:
            if key in self._answers:
                self._answers.move_to_end(key)
            return self._answers.get(key)

    def put(self, key: Hashable, answer: Any) -> None:
        """Hold an answer, and let those go that were not asked for longest."""
        with self._lock:
            self._answers[key] = answer
            self._answers.move_to_end(key)
            while len(self._answers) > self._most:
                self._answers.popitem(last=False)

    def once(self, name: Hashable, rests_on: Any, work: Callable[[], Any]) -> Any:
        """The answer of a name as long as it rests on the same, else made anew in the place of the old one."""
        before = self.get(name)
        if before is None or before[0] != rests_on:
            before = (rests_on, work())
            self.put(name, before)
        return before[1]

    def clear(self) -> None:
        """Hold nothing any more."""
        with self._lock:
            self._answers.clear()


class Rounds:
    """Rounds of one work in the background, told apart by number: how many began, the newest that ended and what it was
    right for."""

    def __init__(self) -> None:
        self.begun = self.ended = 0
        self.is_on = False
        self.right_for: Any = None
        # What the round was for that a person stopped: no further one begins for it by itself.
        self.stopped_for: Any = None
        self.turn = threading.Condition()
