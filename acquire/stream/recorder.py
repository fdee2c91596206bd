"""The recorder: drives a stream on a thread of its own, so that nothing drawn or judged can delay it.

Bytes go to the journal before they are understood. When the link is lost, the trial under way is kept as
far as it came, and the port is tried again until it is back. What happens is handed over as events::

    TrialRecorded      an effort has ended; its trial is complete in memory and in the journal
    LinkLost           the sensor is gone, or cannot come back for another reason now; the recorder goes on trying
    LinkBack           it is there again
    LinkSilent         the port is open and nothing comes, or no more
    LinkHeard          it speaks, after it was silent
    Unsettled          it has moved ever since it was opened, so that its zero is not known yet
    JournalTrouble     the journal cannot be written, or can be again; recording goes on in memory
    StreamUnfit        what comes is not what the profile says, or is again
    Finished           nothing more will come (a replay or a simulated sensor has played everything)
    Failed             the recorder cannot go on, and why
"""

from __future__ import annotations

import queue
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import msgspec

from acquire.errors import AcquireError, ArchiveError, LinkError, LinkFailure
from acquire.links.base import Link
from acquire.storage.journal import JournalWriter
from acquire.storage.patient_journal import PatientJournal
from acquire.stream.pipeline import Pipeline
from acquire.stream.stream_fit import Misfit, Unfit
from acquire.stream.trial_detector import Phase
from acquire.values.records import Trial, TrialContext
from acquire.values.remarks import TrialEnd

RETRY_S = 0.5
RETRY_GROWTH = 1.3
LONGEST_RETRY_S = 3.0
"""A lost sensor is tried again after the first of these, then after growing pauses."""

UNSETTLED_S = 3.0
"""A sensor at rest has a zero long before."""

MAY_COME_BACK = {LinkFailure.UNPLUGGED, LinkFailure.OUT_OF_REACH, LinkFailure.FAILED}

ENDS = {"lost": TrialEnd.LINK_LOST, "stopped": TrialEnd.STOPPED, "finished": TrialEnd.ENDED}
"""What the journal notes when a stream ends, and the damage of a trial that was under way then."""


@dataclass(frozen=True, slots=True)
class TrialRecorded:
    """An effort has ended."""

    trial: Trial


@dataclass(frozen=True, slots=True)
class LinkLost:
    """The sensor is gone."""

    error: LinkError


@dataclass(frozen=True, slots=True)
class LinkBack:
    """The sensor is there again."""


@dataclass(frozen=True, slots=True)
class LinkSilent:
    """The port is open and nothing comes."""

    error: LinkError


@dataclass(frozen=True, slots=True)
class LinkHeard:
    """The sensor speaks, after it was silent."""


@dataclass(frozen=True, slots=True)
class Unsettled:
    """The sensor has moved ever since it was opened; told once."""


@dataclass(frozen=True, slots=True)
class JournalTrouble:
    """The journal cannot be written."""

    error: ArchiveError | None
    """None when it can be again, and holds what waited."""


@dataclass(frozen=True, slots=True)
class StreamUnfit:
    """What comes is not what the profile of the sensor says."""

    unfit: Unfit | None
    """None when it is, after it was not."""
    port: str
    profile: str


@dataclass(frozen=True, slots=True)
class Finished:
    """Nothing more will come."""


@dataclass(frozen=True, slots=True)
class Failed:
    """The recorder cannot go on."""

    error: AcquireError


RecorderEvent = (
    TrialRecorded
    | LinkLost
    | LinkBack
    | LinkSilent
    | LinkHeard
    | Unsettled
    | JournalTrouble
    | StreamUnfit
    | Finished
    | Failed
)


class TrialPlan:
    """What the next trials are, in order; the last stands for all that follow it."""

    def __init__(self, *contexts: TrialContext) -> None:
        self._contexts = deque(contexts or (TrialContext(),))

    def next(self) -> TrialContext:
        """Return what the next trial is, and go on to the one after it."""
        return self._contexts.popleft() if len(self._contexts) > 1 else self._contexts[0]


class Recorder:
    """Read a link until it is stopped.

    Parameters
    ----------
    link : Link
        Open; closed by `stop`.
    pipeline : Pipeline
        Where the bytes go.
    journal : JournalWriter, optional
        Where they are kept; closed by `stop`.
    reopen : callable, optional
        Opens a lost link again, or raises LinkError; without it a lost link ends the recording.
    cancel_reopen : callable, optional
        Ends a `reopen` that is under way, so that `stop` need not wait for it.
    pause_s : float
        Between two looks at the link, s. Without one each chunk is taken as it comes; where nobody watches a trace,
        a pause saves the processor most of its wake-ups.
    clock : callable
        Monotonic seconds, the clock of the link's arrivals.
    """

    def __init__(
        self,
        link: Link,
        pipeline: Pipeline,
        *,
        journal: JournalWriter | None = None,
        reopen: Callable[[], Link] | None = None,
        cancel_reopen: Callable[[], None] | None = None,
        pause_s: float = 0.0,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.pipeline = pipeline
        self._link = link
        self._journal = None if journal is None else PatientJournal(journal)
        self._reopen, self._cancel_reopen = reopen, cancel_reopen
        self._pause_s = pause_s
        self._clock = clock
        self._events: queue.SimpleQueue[RecorderEvent] = queue.SimpleQueue()
        self._plan = TrialPlan()
        self._lock = threading.RLock()
        self._stopping = threading.Event()
        self._silent = self._unsettled = False
        self._misfit: Misfit | None = None
        self._journal_fails = False
        self._thread = threading.Thread(target=self._run, name="recorder", daemon=True)

    @property
    def link(self) -> Link:
        """The link that is read now; another one after it was lost and came back."""
        return self._link

    @property
    def journal_complete(self) -> bool:
        """Whether the journal, if there is one, holds everything that came."""
        return self._journal is None or self._journal.complete

    def start(self) -> None:
        """Begin to record."""
        self._thread.start()

    def next_event(self, timeout: float) -> RecorderEvent | None:
        """Return what happened next, or None when nothing did for `timeout` seconds."""
        try:
            return self._events.get(timeout=timeout)
        except queue.Empty:
            return None

    def plan(self, *contexts: TrialContext) -> None:
        """Say what the next trials are, one after the other; the last stands for all that follow it.

        What was planned before is forgotten. The plan is kept in the journal too.
        """
        with self._lock:
            self._plan = TrialPlan(*contexts)
            if self._journal is not None:
                self._journal.event({"plan": msgspec.to_builtins(contexts)})

    def send(self, data: bytes) -> None:
        """Send bytes to the sensor.

        Raises
        ------
        LinkError
            If the sensor is gone or does not take them.
        """
        self._link.send(data)

    def stop(self) -> list[Trial]:
        """End the recording, close link and journal, and return the trials not handed over yet.

        These are the ones whose events nobody took, and the one that was under way.
        """
        self._stopping.set()
        if self._cancel_reopen is not None:
            self._cancel_reopen()
        self._thread.join()
        self._link.close()
        trials = [*self._untold(), *self._under_way("stopped")]
        self._note("stopped")
        if self._journal is not None:
            self._journal.close()
        return trials

    def _untold(self) -> list[Trial]:
        events = [self._events.get() for _ in range(self._events.qsize())]
        return [event.trial for event in events if isinstance(event, TrialRecorded)]

    def _run(self) -> None:
        try:
            while not self._stopping.is_set():
                self._link.wait(0.05)
                self._read_once()
                if self._link.finished:
                    self._end("finished")
                    self._events.put(Finished())
                    return
                self._stopping.wait(self._pause_s)
            self._read_once()  # what came since the last look
        except AcquireError as error:
            self._events.put(Failed(error))
        except BaseException as error:
            # the caller must not wait for a thread that is gone
            self._events.put(Failed(AcquireError(f"the recorder stopped by a fault of the program: {error!r}")))
            raise

    def _read_once(self) -> None:
        try:
            for chunk in self._link.chunks():
                self._take(chunk.arrival, chunk.data)
        except LinkError as error:
            self._lost(error)
        if self._journal is not None:
            with self._lock:
                self._journal.sync_if_due(self._clock())
        self._note_trouble()

    def _take(self, arrival: float, data: bytes) -> None:
        with self._lock:  # or a plan could come before their trial here, and after them in the journal
            if self._journal is not None:
                self._journal.chunk(arrival, data)
            self._tell([self._dated(trial) for trial in self.pipeline.feed(arrival, data)])

    def _end(self, how: str) -> None:
        """Hand over the trial under way, since the stream has ended."""
        with self._lock:
            self._note(how)
            self._tell(self._under_way(how))

    def _under_way(self, how: str) -> list[Trial]:
        return [self._dated(trial) for trial in self.pipeline.finish(ENDS[how])]

    def _tell(self, trials: list[Trial]) -> None:
        for trial in trials:
            self._events.put(TrialRecorded(trial))

    def _dated(self, trial: Trial) -> Trial:
        started = datetime.now(UTC) - timedelta(seconds=self.pipeline.age(trial))
        return replace(trial, context=msgspec.structs.replace(self._plan.next(), started=started))

    def _note_trouble(self) -> None:
        """Tell once what is wrong with sensor, stream and journal, and once when that is over."""
        trouble = self._link.trouble
        silent = trouble is not None and trouble.reason in {LinkFailure.SILENT, LinkFailure.STALLED}
        if silent is not self._silent:
            self._silent = silent
            self._events.put(LinkSilent(trouble) if silent and trouble is not None else LinkHeard())
        fails = self._journal is not None and self._journal.trouble is not None
        if fails is not self._journal_fails:
            self._journal_fails = fails
            self._events.put(JournalTrouble(None if self._journal is None else self._journal.trouble))
        unfit = self.pipeline.unfit
        misfit = None if unfit is None else unfit.misfit
        if misfit is not self._misfit:
            self._misfit = misfit
            self._events.put(StreamUnfit(unfit, port=self._link.port, profile=self.pipeline.profile.name))
        if not self._unsettled and self.pipeline.phase is Phase.SETTLING and self.pipeline.now > UNSETTLED_S:
            self._unsettled = True
            self._events.put(Unsettled())

    def _lost(self, error: LinkError) -> None:
        """Keep what there is, and try the port until it is back or the recording is stopped."""
        self._end("lost")
        if self._reopen is None or error.reason not in MAY_COME_BACK:
            raise error
        self._events.put(LinkLost(error))
        self._link.close()  # while its port is held, the sensor that comes back gets another name
        pause = RETRY_S
        told = before = error.reason
        while not self._stopping.wait(pause):
            pause = min(RETRY_GROWTH * pause, LONGEST_RETRY_S)
            try:
                link = self._reopen()
            except LinkError as still:
                why = error if still.reason is LinkFailure.NOT_FOUND else still
                # twice the same: a port that has just appeared may be refused for a moment
                if why.reason is before and why.reason is not told:
                    told = why.reason
                    self._events.put(LinkLost(why))
                before = why.reason
                continue
            self._link = link
            self.pipeline.reconnected()
            self._note("back")
            self._events.put(LinkBack())
            return

    def _note(self, what: str) -> None:
        if self._journal is not None:
            with self._lock:
                self._journal.event({"link": what})
                self._journal.sync()
