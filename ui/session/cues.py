"""The states of a session. Each is also the cue that is shown while it lasts."""

from __future__ import annotations

import enum


class Cue(enum.Enum):
    """What is asked for now; the words for it are in `ui.words.words`."""

    PLACE = "place"
    """Examiner: bring the limb and the pad into place, then press."""
    SET = "set"
    """Get ready: the trial begins when the force is quiet."""
    GO = "go"
    BUILD = "build"
    HOLD = "hold"
    STOP = "stop"
    HALTED = "halted"
    """The examiner ended the effort: stop, until the force is gone."""
    REST = "rest"
    PAUSED = "paused"
    LOST = "lost"
    """The sensor is gone."""
    DONE = "done"
    RECORD = "record"
    """Hands-free: each effort is a trial, and nobody is asked for anything."""


READY = frozenset({Cue.SET, Cue.GO})
EFFORT = frozenset({Cue.BUILD, Cue.HOLD, Cue.STOP})
ASKED = READY | EFFORT
"""What is pushed under these is a trial; a window that hung may still show the first when it is over."""
TRIAL = ASKED | {Cue.HALTED}
"""In these the force is watched."""
