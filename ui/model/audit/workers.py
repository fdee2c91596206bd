"""Where batches of work are done: in processes of this machine, or on a cluster."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from itertools import chain, islice
from typing import Any

from analysis.audit.archive import Batch, BatchWork
from analysis.errors import AnalysisError

Result = list[bytes]
UnderWay = dict[Future[Result], Batch]
"""Batches that are being measured, or done and not taken yet."""

AHEAD = 4
"""Batches a worker that are under way or done and not taken yet: enough to keep it busy, and memory flat."""


class ClusterError(AnalysisError):
    """A cluster that cannot be used."""


class Processes:
    """So many processes of this machine.

    Parameters
    ----------
    count : int
        At least 1.
    """

    def __init__(self, count: int) -> None:
        self._count = count

    def __call__(self, work: BatchWork, batches: Iterable[Batch]) -> Iterator[Result]:
        """Yield results as they come; Ctrl-C ends the processes, and what was yielded is the caller's.

        Where a process is killed, what was under way is done again, each file by itself, so that one of them costs
        its own result only.
        """
        source, under_way = iter(batches), UnderWay()
        while True:
            try:
                yield from self._measured(work, source, under_way)
            except BrokenProcessPool:
                lost = list(chain.from_iterable(under_way.values()))
                under_way.clear()
                yield from (_alone(work, file) for file in lost)
            else:
                return

    def _measured(self, work: BatchWork, source: Iterator[Batch], under_way: UnderWay) -> Iterator[Result]:
        pool = _pool(self._count)
        try:
            yield from _in_turn(lambda batch: pool.submit(work, batch), source, AHEAD * self._count, under_way)
        finally:
            pool.shutdown(cancel_futures=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClusterKeys:
    """The certificates by which a cluster and this program know each other; paths of PEM files."""

    authority: str
    """Of who signed them."""
    certificate: str
    key: str


class Cluster:
    """A Dask cluster that has this program and sees the archive under the same path.

    Whoever reaches its scheduler can run code on its machines, and reads what is sent: without `keys` it belongs into a
    network where all are trusted.

    Parameters
    ----------
    address : str
        Of its scheduler, such as tcp://host:8786, or tls://host:8786 with keys.
    keys : ClusterKeys, optional
        For TLS; without them Dask's own configuration says (``distributed.comm.tls``).
    """

    def __init__(self, address: str, keys: ClusterKeys | None = None) -> None:
        self._address, self._keys = address, keys

    def __call__(self, work: BatchWork, batches: Iterable[Batch]) -> Iterator[Result]:
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
            yield from _in_turn(lambda batch: executor.submit(work, batch), iter(batches), ahead, UnderWay())
        finally:
            client.close()

    def _client(self) -> Any:  # noqa: ANN401 # of an optional package without types
        try:
            from distributed import Client, Security  # noqa: PLC0415 # optional
        except ImportError as error:
            raise ClusterError(
                "the package for clusters is not installed: install ramphold with the extra [cluster]"
            ) from error
        try:
            return Client(self._address, timeout=10, **self._security(Security))  # type: ignore[no-untyped-call]
        except (OSError, ValueError, TypeError) as error:
            hint = "check the address and start it" if self._keys is None else "check address, certificates and key"
            raise ClusterError(f"no cluster answers at {self._address}: {hint}") from error

    def _security(self, security: Callable[..., Any]) -> dict[str, Any]:
        keys = self._keys
        if keys is None:
            return {}
        told = {"tls_ca_file": keys.authority, "tls_client_cert": keys.certificate, "tls_client_key": keys.key}
        return {"security": security(**told, require_encryption=True)}


def _pool(count: int) -> ProcessPoolExecutor:
    spawn = multiprocessing.get_context("spawn")  # a fork would copy threads and open files
    return ProcessPoolExecutor(count, mp_context=spawn, initializer=_begin_worker)


def _alone(work: BatchWork, file: str) -> Result:
    """Return the result of one file, measured in a process of its own."""
    with _pool(1) as pool:
        try:
            return pool.submit(work, (file,)).result()
        except BrokenProcessPool:
            return work.killed(file)


def _in_turn(
    submit: Callable[[Batch], Future[Result]], source: Iterator[Batch], ahead: int, under_way: UnderWay
) -> Iterator[Result]:
    """Yield results as they come, with no more than so many batches under way."""
    _begin(submit, islice(source, ahead), under_way)
    while under_way:
        done, _ = wait(under_way, return_when=FIRST_COMPLETED)
        for future in done:
            result = future.result()
            del under_way[future]
            _begin(submit, islice(source, 1), under_way)
            yield result


def _begin(submit: Callable[[Batch], Future[Result]], batches: Iterable[Batch], under_way: UnderWay) -> None:
    for batch in batches:
        try:
            under_way[submit(batch)] = batch
        except BrokenProcessPool:
            under_way[Future()] = batch  # taken from the source, so it must not be forgotten
            raise


def _begin_worker() -> None:
    """Leave Ctrl-C to the program that started this process, and end when it does, however it ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, name="end with parent", daemon=True).start()


def _end_with_parent() -> None:
    """Wait for the end of the program; a killed one tells nobody, and its workers would wait for work for ever."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
