"""The value objects that pass between the floors: traces, people, trials, sessions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Annotated, Any, Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

from acquire.values.arrays import BoolArray, FloatArray
from acquire.values.calibration import Calibration
from acquire.values.remarks import TrialEnd
from acquire.values.time_stamps import missing_samples

Side = Literal["left", "right"]
Method = Literal["hand", "belt"]

OTHER_SIDE: dict[Side, Side] = {"left": "right", "right": "left"}


Short = Annotated[str, msgspec.Meta(max_length=200)]
"""Codes and names: those that are typed have the form of `acquire.values.outside_text.is_code`."""
Long = Annotated[str, msgspec.Meta(max_length=20_000)]
"""Notes and reasons."""
Years = Annotated[float, msgspec.Meta(ge=0, le=150)]
Kilograms = Annotated[float, msgspec.Meta(gt=0, le=1000)]
Stature = Annotated[float, msgspec.Meta(gt=0, le=3)]
LeverArm = Annotated[float, msgspec.Meta(gt=0, le=3)]
Newtons = Annotated[float, msgspec.Meta(ge=-1e5, le=1e5)]
"""Wider than what can be true: what is beyond was never measured, and no sum of it ends in infinity."""


class Person(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The person tested: a code and what the numbers need, never a name."""

    code: Short = ""
    sex: Literal["female", "male"] | None = None
    age_years: Years | None = None
    mass_kg: Kilograms | None = None
    height_m: Stature | None = None
    dominant_side: Side | None = None
    affected_side: Side | None = None
    """The side that is injured or ill, where one is."""


class TrialContext(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a trial was: which action of which side, held how and by whom."""

    action: Short | None = None
    side: Side | None = None
    method: Method = "hand"
    examiner: Short | None = None
    examiner_limit_n: Newtons | None = None
    lever_arm_m: LeverArm | None = None
    sensor: Short | None = None
    """Which sensor, where a session has two."""
    resting_force_n: Newtons | None = None
    """Force of the relaxed limb on the pad, N, read from a sensor zeroed without load; positive in the direction of
    the effort. To be left out where the sensor was zeroed with the limb on it: its zero holds the weight already."""
    started: datetime | None = None
    """When the trial began, with its zone."""


NO_CONTEXT = TrialContext()
"""Nothing is said of the trial."""


class SetAside(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A person's decision to leave a trial out, or to take it back; nothing is ever deleted."""

    aside: bool
    reason: Long
    by: Short
    at: datetime


class Note(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What somebody wrote about a trial; it changes nothing."""

    text: Long
    by: Short
    at: datetime


class SessionContext(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What holds for a whole session: who, with which sensor, when, under what cautions."""

    session: Short
    """An identifier of its own for each session."""
    started: datetime
    person: Person = Person()
    examiner: Short | None = None
    sensor: Short = ""
    """The name of the sensor's profile."""
    cautions_acknowledged: datetime | None = None
    program_version: Short = ""
    invented: bool = False
    """Demo data, of nobody."""
    skipped: tuple[TrialContext, ...] = msgspec.field(name="left_out", default=())
    """Items of the battery that the examiner left out: as far as they came, they are done."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trace:
    """Force over time, as one unbroken or gapped recording."""

    time: FloatArray
    """Seconds, shape (n,), strictly increasing."""
    force: FloatArray
    """Newtons, shape (n,), positive in the direction of the effort; NaN where a sample was lost."""
    clipped: BoolArray | None = None
    """True where the sensor was at its limit, shape (n,); None when the limit is not known."""

    def __post_init__(self) -> None:
        if self.time.ndim != 1 or self.time.shape != self.force.shape:
            raise ValueError(f"time and force must be 1-D and alike, got {self.time.shape} and {self.force.shape}")
        if self.clipped is not None and self.clipped.shape != self.time.shape:
            raise ValueError(f"clipped must be shaped like time, got {self.clipped.shape} for {self.time.shape}")

    @classmethod
    def from_samples(cls, time: FloatArray, force: FloatArray, clipped: BoolArray | None = None) -> Trace:
        """Return a trace whose missing samples, seen as steps in time, have become NaN.

        Parameters
        ----------
        time : ndarray, shape (n,)
            Seconds, strictly increasing; `acquire.values.time_stamps.missing_samples` counts what is missing.
        force : ndarray, shape (n,)
            Newtons.
        clipped : ndarray of bool, shape (n,), optional
            True where the sensor was at its limit.

        Raises
        ------
        ValueError
            If the arrays differ in shape, or time does not increase.

        Examples
        --------
        >>> Trace.from_samples(np.array([0.0, 0.1, 0.2, 0.5]), np.array([1.0, 2.0, 3.0, 4.0])).force.tolist()
        [1.0, 2.0, 3.0, nan, nan, 4.0]
        """
        if time.shape != force.shape or len(time) < 2:
            return cls(time=time, force=force, clipped=clipped)
        steps = np.diff(time)
        if not (steps > 0).all():
            first = int(np.argmin(steps > 0))
            raise ValueError(f"time must increase, got {time[first]} s then {time[first + 1]} s at sample {first + 1}")
        before, missing = missing_samples(time)
        if not len(before):
            return cls(time=time, force=force, clipped=clipped)
        at = np.repeat(before, missing)
        filled = np.concatenate(
            [np.linspace(time[b - 1], time[b], m + 2)[1:-1] for b, m in zip(before, missing, strict=True)]
        )
        return cls(
            time=np.insert(time, at, filled),
            force=np.insert(force, at, np.nan),
            clipped=None if clipped is None else np.insert(clipped, at, False),
        )

    @property
    def lost(self) -> int:
        """How many samples of the trace are missing."""
        return int(np.isnan(self.force).sum())

    @property
    def sample_rate(self) -> float:
        """Samples per second over the whole trace, Hz; NaN for fewer than two samples."""
        if len(self.time) < 2:
            return float("nan")
        return float((len(self.time) - 1) / (self.time[-1] - self.time[0]))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """One recorded effort: raw counts on a time base, what turns them into newtons, and what it was."""

    time: FloatArray
    """Seconds on the session's clock, shape (n,), strictly increasing; a jump is a gap."""
    counts: NDArray[np.int32] | FloatArray
    """What the sensor sent, shape (n,)."""
    calibration: Calibration
    zero_counts: float
    """Counts of the unloaded sensor just before the effort, a limb that rested on the pad with it."""
    resting_n: float = 0.0
    """What a limb that rested on the pad before the effort pressed with, N; 0 where none was recognised."""
    context: TrialContext = NO_CONTEXT
    damage: tuple[str, ...] = ()
    """What went wrong on the link during the trial, one plain phrase each."""
    verdict: Mapping[str, Any] | None = None
    """Measures, verdict and faults as they were judged when recorded, as plain JSON values."""
    set_aside: tuple[SetAside, ...] = ()
    notes: tuple[Note, ...] = ()

    @property
    def is_aside(self) -> bool:
        """Whether the last decision left it out."""
        return bool(self.set_aside) and self.set_aside[-1].aside

    @property
    def broken_off(self) -> TrialEnd | None:
        """What ended its record before the force was released; None when it is whole."""
        return next((end for end in TrialEnd if end in self.damage), None)

    def trace(self) -> Trace:
        """Return the force in newtons from the trial's first sample on, zero removed, gaps as NaN, clipping marked."""
        return Trace.from_samples(
            self.time - self.time[:1],
            self.calibration.force(self.counts, zero_counts=self.zero_counts),
            self.calibration.clipped(self.counts) if self.calibration.limit_known else None,
        )

    def noted(self, note: Note) -> Trial:
        """Return the same trial with one more note."""
        return replace(self, notes=(*self.notes, note))

    def judged(self, verdict: Mapping[str, Any]) -> Trial:
        """Return the same trial with a verdict."""
        return replace(self, verdict=verdict)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Session:
    """One person's test occasion: its context and its trials, in the order recorded."""

    context: SessionContext
    trials: tuple[Trial, ...] = field(default=())
    contacts: tuple[Trial, ...] = field(default=())
    """What pressed the pad and was no effort: kept, without a verdict, and counted by nobody."""

    def with_trial(self, trial: Trial) -> Session:
        """Return the session with one more trial."""
        return replace(self, trials=(*self.trials, trial))

    def with_contact(self, contact: Trial) -> Session:
        """Return the session with one more contact."""
        return replace(self, contacts=(*self.contacts, contact))

    def with_skipped(self, item: TrialContext) -> Session:
        """Return the session with an item of its battery left out."""
        context = msgspec.structs.replace(self.context, skipped=(*self.context.skipped, item))
        return replace(self, context=context)

    def without_skipped(self, item: TrialContext) -> Session:
        """Return the session with an item of its battery taken back that was left out."""
        skipped = tuple(each for each in self.context.skipped if each != item)
        return replace(self, context=msgspec.structs.replace(self.context, skipped=skipped))

    def with_decision(self, index: int, decision: SetAside) -> Session:
        """Return the session with one trial set aside or taken back."""
        trial = self.trials[index]
        return self._with(index, replace(trial, set_aside=(*trial.set_aside, decision)))

    def with_note(self, index: int, note: Note) -> Session:
        """Return the session with a note to one trial."""
        return self._with(index, self.trials[index].noted(note))

    def _with(self, index: int, trial: Trial) -> Session:
        return replace(self, trials=(*self.trials[:index], trial, *self.trials[index + 1 :]))
