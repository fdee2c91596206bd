"""What happens in a session, as whoever shows it is told: cues, verdicts, contacts, trouble and its end."""

from __future__ import annotations

import enum
from dataclasses import dataclass
from pathlib import Path

from acquire.errors import AcquireError, ArchiveError
from acquire.stream.recorder import StreamUnfit, Unsettled
from analysis.trial.judged_trial import JudgedTrial
from ui.session.cues import Cue


@dataclass(frozen=True, slots=True)
class CueChanged:
    """Another cue is shown; a sound may go with it."""

    cue: Cue


@dataclass(frozen=True, slots=True)
class Verdict:
    """A trial has been judged, for the first time (`final` is false) or for good."""

    judged: JudgedTrial
    final: bool
    changed: bool = False
    """Whether the final verdict is another than the first."""
    second: bool = False
    """Whether it was recorded with the second sensor, and counts for nothing."""


@dataclass(frozen=True, slots=True)
class ContactNoticed:
    """Something pressed the pad and was no effort; it is not counted."""

    peak_n: float
    second: bool = False
    """Whether it was on the second sensor."""


class ChangedError(ArchiveError):
    """A session file was changed by another program while it was recorded; the session goes into one beside it."""

    def __init__(self, file: Path, beside: Path) -> None:
        super().__init__(f"{file}: was changed by another program and stays as it is; the session goes into {beside}")
        self.file, self.beside = file, beside


class TroubleSource(enum.Enum):
    """What is in trouble; each has its own, and one may be over before the other."""

    SENSOR = "sensor"
    SECOND_SENSOR = "second sensor"
    STREAM = "stream"
    JOURNAL = "journal"
    CHANGED = "changed"
    FILE = "file"


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something is in trouble, or no longer."""

    error: AcquireError | None
    """What is wrong; None when the trouble is over."""
    of: TroubleSource = TroubleSource.SENSOR


SessionEvent = CueChanged | Verdict | ContactNoticed | Trouble | Unsettled | StreamUnfit
