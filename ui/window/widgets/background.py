"""Work that must not hold up the window: it is done in threads, and what came of it is taken in the window's own."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Future, ThreadPoolExecutor
from typing import Any, TypeVar

from PyQt6.QtCore import QObject, QTimer

from acquire.errors import AcquireError
from analysis.errors import AnalysisError

Result = TypeVar("Result")

LOOK_MS = 40
THREADS = 2
"""One for what takes long, one for what is wanted meanwhile."""

FAILURES = (AcquireError, AnalysisError, OSError, sqlite3.Error, BrokenExecutor)
"""What work outside the program's own hands can end with; anything else is a mistake of the program and stays loud."""


class Background(QObject):
    """Does work in threads; a timer looks whether it is done, so that no widget is touched from another thread.

    Parameters
    ----------
    parent : QObject
        Whose work it is.
    """

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._threads = ThreadPoolExecutor(THREADS, thread_name_prefix="background")
        self._under_way: list[tuple[Future[Any], Callable[[Any], None], Callable[[Exception], None]]] = []
        self._timer = QTimer(self)
        self._timer.setInterval(LOOK_MS)
        self._timer.timeout.connect(self._look)

    @property
    def busy(self) -> bool:
        """Whether anything is under way."""
        return bool(self._under_way)

    def do(
        self, work: Callable[[], Result], then: Callable[[Result], None], failed: Callable[[Exception], None]
    ) -> None:
        """Do work, then hand its result, or one of `FAILURES`, to the window."""
        self._under_way.append((self._threads.submit(work), then, failed))
        self._timer.start()

    def close(self) -> None:
        """Wait for what is under way, and tell nobody what came of it."""
        self._timer.stop()
        self._under_way.clear()
        self._threads.shutdown(cancel_futures=True)

    def _look(self) -> None:
        done = [each for each in self._under_way if each[0].done()]
        self._under_way = [each for each in self._under_way if each not in done]
        if not self._under_way:
            self._timer.stop()
        for future, then, failed in done:
            self._tell(future, then, failed)

    def _tell(self, future: Future[Any], then: Callable[[Any], None], failed: Callable[[Exception], None]) -> None:
        try:
            result = future.result()
        except FAILURES as error:
            failed(error)
            return
        then(result)
