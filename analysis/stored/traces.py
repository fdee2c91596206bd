"""Stored traces as trials: session files as they are, CSV traces cut into their efforts."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path

import msgspec
import numpy as np

from acquire.errors import TraceFileError
from acquire.storage.csv_trace import check_plausible, read_csv_trace
from acquire.storage.session_file import is_session_file, read_session
from acquire.stream.trial_detector import detect_efforts
from acquire.values.arrays import FloatArray
from acquire.values.calibration import Calibration
from acquire.values.records import Method, Session, Trial
from acquire.values.remarks import TrialEnd
from analysis.trial.contacts import Contact, contact_of, contacts_among, press_of
from analysis.trial.protocol import Protocol, load_protocol

NEWTONS = Calibration(newtons_per_count=1.0, rated_force_n=None)
"""A file of newtons is taken at its word; its sensor's limit is not known."""

LONGEST_GAP_S = 60.0
"""A trace is one stretch up to here; a gap of hours, filled with lost samples, would fill the memory."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StoredFile:
    """A file and the trials in it."""

    path: Path
    trials: tuple[Trial, ...]
    start: float | None
    """The first time of a CSV trace, s; None for a session file, whose trials have records of their own."""
    day: dt.date | None
    """When the session was; None for a trace as text, which does not say where its newtons come from."""
    contacts: tuple[Contact, ...] = ()
    """What pressed the pad and is no effort, in the file's time, that of a session file being its session's clock."""

    def origin(self, trial: Trial) -> float:
        """Return the file's time at the trial's first sample, s."""
        return 0.0 if self.start is None else self.start + float(trial.time[0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Samples:
    """The samples of a CSV trace, those that are there, from 0 s on."""

    time: FloatArray
    force: FloatArray
    start: float


def read_samples(path: Path, rate_hz: float | None) -> Samples:
    r"""Return the samples of a CSV trace; a row without a force is a lost sample and leaves a gap.

    Parameters
    ----------
    path : Path
        The file.
    rate_hz : float or None
        Samples per second of a file with one column.

    Raises
    ------
    TraceFileError
        If the file cannot be read as a trace, or no row holds a force.
    ValueError
        If `rate_hz` is not positive.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "pull.csv"
    ...     _ = path.write_text("5.00,1.0\n5.01,\n5.02,3.0\n")
    ...     samples = read_samples(path, None)
    >>> samples.start, samples.time.round(2).tolist(), samples.force.tolist()
    (5.0, [0.0, 0.02], [1.0, 3.0])
    """
    trace = read_csv_trace(path, rate_hz=rate_hz)
    check_plausible(path, trace)
    there = ~np.isnan(trace.force)
    if not there.any():
        raise TraceFileError(f"{path}: no row holds a force: export the trace again")
    time = trace.time[there]
    return Samples(time=time - time[0], force=trace.force[there], start=float(time[0]))


def sorted_out(stored: StoredFile, *, protocol: Protocol | None = None) -> StoredFile:
    """Return a file of cut efforts with its contacts told apart.

    Parameters
    ----------
    stored : StoredFile
        Whose trials are all that was cut.
    protocol : Protocol, optional
        By which a steady force is recognised.

    Examples
    --------
    >>> (trial,) = read_trials("sample_traces/good.csv")
    >>> found = sorted_out(StoredFile(path=Path("good.csv"), trials=(trial,), start=0.0, day=None, contacts=()))
    >>> len(found.trials), len(found.contacts)
    (1, 0)
    """
    protocol = protocol or load_protocol()
    presses = [press_of(trial.trace(), protocol) for trial in stored.trials]
    if len(presses) == 1 and presses[0].peak_n < protocol.no_effort.force_n:  # a trace in which nothing was cut
        return stored
    told = list(zip(stored.trials, contacts_among(presses), strict=True))
    # what broke off may have become anything
    trials = tuple(trial for trial, contact in told if not contact or trial.broken_off is not None)
    contacts = tuple(
        contact_of(trial, protocol, start_s=stored.start or 0.0)
        for trial, contact in told
        if contact and trial.broken_off is None
    )
    return replace(stored, trials=trials, contacts=contacts)


def looks_like_session(path: Path) -> bool:
    """Tell by name or content whether a file is a session file.

    Examples
    --------
    >>> looks_like_session(Path("p014.h5")), looks_like_session(Path("no-such-file.csv"))
    (True, False)
    """
    return path.suffix.lower() in {".h5", ".hdf5"} or is_session_file(path)


def read_file(
    path: Path, *, rate_hz: float | None, method: Method | None = None, limit_n: float | None = None
) -> StoredFile:
    """Return the trials of a session file or a CSV trace.

    Parameters
    ----------
    path : Path
        A session file, or a trace as text.
    rate_hz : float, optional
        Sample rate of a text file with force alone.
    method, limit_n : optional
        How a trace was held and what the examiner can hold; they overrule a session's own.

    Raises
    ------
    TraceFileError, ArchiveError
        If the file cannot be read; names file and line or key.

    Examples
    --------
    >>> stored = read_file(Path("sample_traces/continuous.csv"), rate_hz=None)
    >>> len(stored.trials), len(stored.contacts)
    (6, 0)
    """
    if looks_like_session(path):
        found = session_trials(path)
    else:
        samples = read_samples(path, rate_hz)
        found = sorted_out(
            StoredFile(
                path=path,
                trials=cut_samples(samples),
                start=samples.start,
                day=None,
            )
        )
    return replace(found, trials=tuple(_told(trial, method, limit_n) for trial in found.trials))


def read_trials(path: str | Path, *, rate_hz: float | None = None) -> tuple[Trial, ...]:
    """Return the trials of a session file that nobody set aside, or the efforts in a trace.

    Parameters
    ----------
    path : str or Path
        A session file, or a trace as text with any number of efforts.
    rate_hz : float, optional
        Samples per second of a text file with force alone, Hz.

    Returns
    -------
    tuple of Trial
        In the order recorded. A trace without an effort is one trial, which `judge` rejects as ``no-effort``.

    Raises
    ------
    TraceFileError, ArchiveError
        If the file cannot be read; names the file and the line or key.

    Examples
    --------
    >>> import tempfile
    >>> from acquire.simulation.efforts import GOOD, recording
    >>> from acquire.storage.csv_trace import write_csv_trace
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "two.csv"
    ...     write_csv_trace(path, recording([GOOD, GOOD], rate_hz=100.0))
    ...     len(read_trials(path))
    2
    """
    return read_file(Path(path), rate_hz=rate_hz).trials


def session_trials(path: Path) -> StoredFile:
    """Return the trials of a session file, those set aside left out.

    Examples
    --------
    >>> import tempfile
    >>> from acquire.storage.session_file import write_session
    >>> from acquire.values.records import Session, SessionContext
    >>> context = SessionContext(session="s-1", started=dt.datetime(2026, 3, 2, tzinfo=dt.UTC))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "s.h5"
    ...     write_session(path, Session(context=context, trials=read_trials("sample_traces/good.csv")))
    ...     len(session_trials(path).trials)
    1
    """
    session = read_session(path)
    kept = kept_trials(session)
    protocol = load_protocol()
    return StoredFile(
        path=path,
        trials=kept,
        start=None,
        day=session.context.started.date(),
        contacts=tuple(contact_of(contact, protocol) for contact in session.contacts),
    )


def kept_trials(session: Session) -> tuple[Trial, ...]:
    """Return the trials of a session that nobody has set aside.

    Examples
    --------
    >>> import datetime as dt
    >>> from acquire.values.records import SessionContext, SetAside
    >>> began = dt.datetime(2026, 3, 2, tzinfo=dt.UTC)
    >>> (trial,) = read_file(Path("sample_traces/good.csv"), rate_hz=None).trials
    >>> session = Session(context=SessionContext(session="s-1", started=began), trials=(trial, trial))
    >>> decided = session.with_decision(0, SetAside(aside=True, reason="slipped", by="EX-1", at=began))
    >>> len(kept_trials(session)), len(kept_trials(decided))
    (2, 1)
    """
    return tuple(trial for trial in session.trials if not trial.is_aside)


def cut_samples(samples: Samples) -> tuple[Trial, ...]:
    """Return each effort of a trace as a trial; a trace without an effort is one trial.

    Examples
    --------
    >>> time = np.arange(0.0, 24.0, 0.01)
    >>> push = np.interp(time % 12.0, [3.0, 4.5, 8.0, 8.2], [0.0, 100.0, 100.0, 0.0])
    >>> trials = cut_samples(Samples(time=time, force=push, start=0.0))
    >>> [round(float(trial.time[0])) for trial in trials]
    [1, 13]
    """
    found = tuple(
        replace(
            newtons_trial(samples.time[inside], samples.force[inside], broken_off=span.broken_off),
            resting_n=span.resting,
        )
        for span in detect_efforts(samples.time, samples.force)
        if len(inside := np.flatnonzero((samples.time >= span.start) & (samples.time <= span.stop)))
    )
    return found or (without_effort(samples),)


def without_effort(samples: Samples) -> Trial:
    """Return a trace in which there is no effort as one trial: its longest stretch without a long gap.

    Examples
    --------
    >>> time = np.concatenate([np.arange(300), 1e6 + np.arange(200)]) / 100.0
    >>> len(without_effort(Samples(time=time, force=np.zeros(500), start=0.0)).time)
    300
    """
    edges = np.flatnonzero(np.diff(samples.time) > LONGEST_GAP_S) + 1
    begins, ends = [0, *edges], [*edges, len(samples.time)]
    begin, end = max(zip(begins, ends, strict=True), key=lambda stretch: stretch[1] - stretch[0])
    return newtons_trial(samples.time[begin:end], samples.force[begin:end])


def newtons_trial(time: FloatArray, force: FloatArray, *, broken_off: bool = False) -> Trial:
    """Return a trial whose counts are newtons already.

    Parameters
    ----------
    time, force : ndarray, shape (n,)
        Seconds, increasing, and newtons; NaN where a sample was lost stays one.
    broken_off : bool
        Whether the trace ended before the force was released.

    Examples
    --------
    >>> newtons_trial(np.array([0.0, 0.1]), np.array([1.0, 2.5])).trace().force.tolist()
    [1.0, 2.5]
    """
    return Trial(
        time=time, counts=force, calibration=NEWTONS, zero_counts=0.0, damage=(TrialEnd.ENDED,) if broken_off else ()
    )


def _told(trial: Trial, method: Method | None, limit_n: float | None) -> Trial:
    """Return the trial with what the caller says of it."""
    own = trial.context
    told = msgspec.structs.replace(
        own,
        method=method or own.method,
        examiner_limit_n=own.examiner_limit_n if limit_n is None else limit_n,
    )
    return replace(trial, context=told)
