"""Work beside the requests: one thing after the other, in a thread that holds nobody up, not the end either."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from concurrent.futures import Future
from typing import Any, TypeVar

T = TypeVar("T")


class Beside:
    """A thread beside the others, begun with its first work. What is not done when the program ends is left."""

    def __init__(self, name: str) -> None:
        """Nothing to do yet; ``name`` is that of the thread."""
        self.name = name
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self._work: queue.SimpleQueue[tuple[Future[Any], Callable[[], Any]]] = queue.SimpleQueue()

    def submit(self, work: Callable[[], T]) -> Future[T]:
        """Have something done when its turn comes; what it returns or raises is in the future."""
        future: Future[T] = Future()
        self._work.put((future, work))
        with self._lock:
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name=self.name, daemon=True)
                self._thread.start()
        return future

    def _run(self) -> None:
        while True:
            future, work = self._work.get()
            if not future.set_running_or_notify_cancel():
                continue
            try:
                result = work()
            except BaseException as error:  # noqa: BLE001 - whoever asked is told, the thread goes on
                future.set_exception(error)
            else:
                future.set_result(result)
