"""Answers kept by their question while the program runs, so that asking again costs nothing."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any


class Memory:
    """The last so many answers, by a hashable question (the core's frozen records are)."""

    def __init__(self, most: int) -> None:
        self.most = most
        self._kept: OrderedDict[Hashable, Any] = OrderedDict()
        self._lock = threading.Lock()

    def has(self, question: Hashable) -> bool:
        with self._lock:
            return question in self._kept

    def get(self, question: Hashable, work_out: Callable[[], Any]) -> Any:
        """Return the answer, worked out at the first asking; what it raises is not kept."""
        with self._lock:
            if question in self._kept:
                self._kept.move_to_end(question)
                return self._kept[question]
        answer = work_out()
        with self._lock:
            self._kept[question] = answer
            while len(self._kept) > self.most:
                self._kept.popitem(last=False)
        return answer

    def clear(self) -> None:
        with self._lock:
            self._kept.clear()
