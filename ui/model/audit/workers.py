"""Where batches of work are done: in processes of this machine, or on a cluster."""

from __future__ import annotations

import multiprocessing
import signal
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from itertools import islice
from typing import Any, Protocol, TypeVar

from analysis.errors import AnalysisError

In = TypeVar("In")
Out = TypeVar("Out")

AHEAD = 4
"""Batches a worker that are under way or done and not taken yet: enough to keep it busy, and memory flat."""


class ClusterError(AnalysisError):
    """A cluster that cannot be used."""


class Mapper(Protocol):
    """Does work on batches, in any order."""

    def __call__(self, work: Callable[[In], Out], batches: Iterable[In]) -> Iterator[Out]:
        """Yield the results as they come."""


class Processes:
    """So many processes of this machine.

    Parameters
    ----------
    count : int
        At least 1.
    """

    def __init__(self, count: int) -> None:
        self._count = count

    def __call__(self, work: Callable[[In], Out], batches: Iterable[In]) -> Iterator[Out]:
        """Yield results as they come; Ctrl-C ends the processes, and what was yielded is the caller's."""
        source = iter(batches)
        spawn = multiprocessing.get_context("spawn")  # a fork would copy threads and open files
        pool = ProcessPoolExecutor(self._count, mp_context=spawn, initializer=_leave_ctrl_c_to_us)
        try:
            yield from _in_turn(lambda batch: pool.submit(work, batch), source, AHEAD * self._count)
        finally:
            pool.shutdown(cancel_futures=True)


class Cluster:
    """A Dask cluster that has this program and sees the archive under the same path.

    Parameters
    ----------
    address : str
        Of its scheduler, such as tcp://host:8786.
    """

    def __init__(self, address: str) -> None:
        self._address = address

    def __call__(self, work: Callable[[In], Out], batches: Iterable[In]) -> Iterator[Out]:
        """Yield results as they come.

        Raises
        ------
        ClusterError
            If the package is not installed, or nobody answers at the address.
        """
        client = self._client()
        try:
            ahead = AHEAD * max(1, len(client.scheduler_info()["workers"]))
            executor = client.get_executor(pure=False)
            yield from _in_turn(lambda batch: executor.submit(work, batch), iter(batches), ahead)
        finally:
            client.close()

    def _client(self) -> Any:  # noqa: ANN401 # of an optional package without types
        try:
            from distributed import Client  # noqa: PLC0415 # optional
        except ImportError as error:
            raise ClusterError(
                "the package for clusters is not installed: install ramphold with the extra [cluster]"
            ) from error
        try:
            return Client(self._address, timeout=10)  # type: ignore[no-untyped-call]
        except (OSError, ValueError) as error:
            raise ClusterError(f"no cluster answers at {self._address}: check the address and start it") from error


def _in_turn(submit: Callable[[In], Future[Out]], source: Iterator[In], ahead: int) -> Iterator[Out]:
    """Yield results as they come, with no more than so many batches under way."""
    under_way = {submit(batch) for batch in islice(source, ahead)}
    while under_way:
        done, under_way = wait(under_way, return_when=FIRST_COMPLETED)
        under_way |= {submit(batch) for batch in islice(source, len(done))}
        for future in done:
            yield future.result()


def _leave_ctrl_c_to_us() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
