r"""How a session goes: one table, from a state and an event to the next state and what is done on the way.

A trial goes down the middle; `HALT` is the examiner's key to end or take back, `PRESS` the space bar or foot switch::

    PLACE --press--> SET --quiet--> GO --effort--> BUILD --level--> HOLD --held--> STOP --released--> judged --> NEXT
      ^               \______halt______/             \________________halt__________/
      |______________________|                                        |
      |                                                             HALTED --released--> NEXT
      |
    NEXT: REST where the muscle needs it, PLACE for what has not been tried yet, DONE when nothing is left
    REST --rest over, or press after the least rest--> READY: SET where the limb is in place still, else PLACE

A limb is in place from the press at PLACE until another side, action or method is next, or until the trial was taken
back, ended, paused, or the sensor was lost. So nobody reads GO who has not been asked IN PLACE? for this limb.

Recording hands-free knows RECORD, PAUSED, LOST and DONE alone.

A pair that is in no list is a mistake: `IGNORED` are the events that may come and change nothing, `UNREACHABLE` those
that cannot come. `tests/ui/session/test_transitions.py` holds the lists against each other.
"""

from __future__ import annotations

import enum
from typing import NamedTuple

from ui.session.cues import TRIAL, Cue


class Event(enum.Enum):
    """What may happen."""

    # keys
    PRESS = "press"
    HALT = "halt"
    PAUSE = "pause"
    SKIP = "skip"
    # decisions about what has been recorded
    CHANGED = "changed"
    """A trial was set aside, taken back or judged anew, or an item that was left out was taken back."""
    # force and time
    QUIET = "quiet"
    """The force has been still for a second."""
    EFFORT = "effort"
    """The force has left the zero."""
    LEVEL = "level"
    """The ramp is over."""
    HELD = "held"
    """The hold has lasted as long as the protocol asks."""
    RELEASED = "released"
    RESTED = "rested"
    # verdicts
    COUNTED = "counted"
    """A trial was judged and counted."""
    NOTHING = "nothing"
    """What looked like an effort was none: too weak or too short to be recorded."""
    # the sensor
    LOST = "lost"
    BACK = "back"


class Choice(enum.Enum):
    """A next state that depends on the battery; each is one short function of the engine."""

    NEXT = "next"
    """What the battery needs next: REST, PLACE or DONE; PAUSED where a pause was asked for during the effort."""
    READY = "ready"
    """REST until the least rest is over; then SET where the limb is in place, PLACE where it is not."""
    RETURN = "return"
    """Where it was before the pause or the loss."""


class Effect(enum.Enum):
    """What is done on the way; each is one short method of the engine."""

    LEAVE_OUT = "leave out"
    """The item is left as it is."""
    JUDGE = "judge"
    """Ask for the verdict on what has been pushed."""
    BEGIN_REST = "begin rest"
    """The muscle rests from now on, though the trial does not count."""
    PAUSE_NEXT = "pause next"
    """The effort goes on; the pause comes after it."""
    CHOOSE_ANEW = "choose anew"
    """What comes after the pause or the loss is chosen anew."""


class Move(NamedTuple):
    """One entry of the table."""

    to: Cue | Choice
    do: Effect | None = None


C, E = Cue, Event

TABLE: dict[tuple[Cue, Event], Move] = {
    (C.PLACE, E.PRESS): Move(C.SET),
    (C.PLACE, E.PAUSE): Move(C.PAUSED),
    (C.PLACE, E.SKIP): Move(Choice.NEXT, Effect.LEAVE_OUT),
    (C.PLACE, E.CHANGED): Move(Choice.NEXT),
    (C.PLACE, E.LOST): Move(C.LOST),
    # the word to go may be taken back
    (C.SET, E.QUIET): Move(C.GO),
    (C.SET, E.EFFORT): Move(C.BUILD),
    (C.SET, E.HALT): Move(C.PLACE),
    (C.SET, E.PAUSE): Move(C.PAUSED),
    (C.SET, E.COUNTED): Move(Choice.NEXT),
    (C.SET, E.LOST): Move(C.LOST),
    (C.GO, E.EFFORT): Move(C.BUILD),
    (C.GO, E.HALT): Move(C.PLACE),
    (C.GO, E.PAUSE): Move(C.PAUSED),
    (C.GO, E.COUNTED): Move(Choice.NEXT),
    (C.GO, E.LOST): Move(C.LOST),
    # the effort
    (C.BUILD, E.LEVEL): Move(C.HOLD),
    (C.BUILD, E.RELEASED): Move(C.BUILD, Effect.JUDGE),
    (C.BUILD, E.COUNTED): Move(Choice.NEXT),
    (C.BUILD, E.NOTHING): Move(C.SET),
    (C.BUILD, E.HALT): Move(C.HALTED),
    (C.BUILD, E.PAUSE): Move(C.BUILD, Effect.PAUSE_NEXT),
    (C.BUILD, E.LOST): Move(C.LOST),
    (C.HOLD, E.HELD): Move(C.STOP),
    (C.HOLD, E.RELEASED): Move(C.HOLD, Effect.JUDGE),
    (C.HOLD, E.COUNTED): Move(Choice.NEXT),
    (C.HOLD, E.NOTHING): Move(C.SET),
    (C.HOLD, E.HALT): Move(C.HALTED),
    (C.HOLD, E.PAUSE): Move(C.HOLD, Effect.PAUSE_NEXT),
    (C.HOLD, E.LOST): Move(C.LOST),
    (C.STOP, E.RELEASED): Move(C.STOP, Effect.JUDGE),
    (C.STOP, E.COUNTED): Move(Choice.NEXT),
    (C.STOP, E.NOTHING): Move(C.SET),
    (C.STOP, E.HALT): Move(C.HALTED),
    (C.STOP, E.PAUSE): Move(C.STOP, Effect.PAUSE_NEXT),
    (C.STOP, E.LOST): Move(C.LOST),
    # ended by the examiner: the force must go before anything else
    (C.HALTED, E.RELEASED): Move(Choice.NEXT, Effect.BEGIN_REST),
    (C.HALTED, E.PAUSE): Move(C.HALTED, Effect.PAUSE_NEXT),
    (C.HALTED, E.LOST): Move(C.LOST, Effect.BEGIN_REST),
    # between efforts
    (C.REST, E.PRESS): Move(Choice.READY),
    (C.REST, E.RESTED): Move(Choice.READY),
    (C.REST, E.PAUSE): Move(C.PAUSED),
    (C.REST, E.SKIP): Move(Choice.NEXT, Effect.LEAVE_OUT),
    (C.REST, E.CHANGED): Move(Choice.NEXT),
    (C.REST, E.LOST): Move(C.LOST),
    (C.PAUSED, E.PRESS): Move(Choice.RETURN),
    (C.PAUSED, E.CHANGED): Move(C.PAUSED, Effect.CHOOSE_ANEW),
    (C.PAUSED, E.LOST): Move(C.LOST),
    (C.LOST, E.BACK): Move(Choice.RETURN),
    (C.LOST, E.CHANGED): Move(C.LOST, Effect.CHOOSE_ANEW),
    (C.DONE, E.CHANGED): Move(Choice.NEXT),
    # hands-free
    (C.RECORD, E.COUNTED): Move(Choice.NEXT),
    (C.RECORD, E.PAUSE): Move(C.PAUSED),
    (C.RECORD, E.SKIP): Move(Choice.NEXT, Effect.LEAVE_OUT),
    (C.RECORD, E.CHANGED): Move(Choice.NEXT),
    (C.RECORD, E.LOST): Move(C.LOST),
}
"""What changes something."""

KEYS = frozenset({E.PRESS, E.HALT, E.PAUSE, E.SKIP})
FORCE = frozenset({E.QUIET, E.EFFORT, E.LEVEL, E.HELD, E.RELEASED})
VERDICTS = frozenset({E.COUNTED, E.NOTHING})

IGNORED: dict[Cue, frozenset[Event]] = {
    C.PLACE: frozenset({E.HALT, E.BACK}),
    C.SET: frozenset({E.PRESS, E.SKIP, E.CHANGED, E.BACK}),
    C.GO: frozenset({E.PRESS, E.SKIP, E.CHANGED, E.BACK}),
    C.BUILD: frozenset({E.PRESS, E.SKIP, E.CHANGED, E.BACK}),
    C.HOLD: frozenset({E.PRESS, E.SKIP, E.CHANGED, E.BACK}),
    C.STOP: frozenset({E.PRESS, E.SKIP, E.CHANGED, E.BACK}),
    C.HALTED: frozenset({E.PRESS, E.HALT, E.SKIP, E.CHANGED, E.LEVEL, E.HELD, E.BACK}),
    C.REST: frozenset({E.HALT, E.BACK}),
    C.PAUSED: frozenset({E.HALT, E.PAUSE, E.SKIP, E.BACK}),
    C.LOST: KEYS | {E.LOST},
    C.DONE: KEYS | {E.LOST, E.BACK},
    C.RECORD: frozenset({E.PRESS, E.HALT, E.BACK}),
}
"""What may come and changes nothing. The sensor that was silent is back without having been lost."""

UNREACHABLE: dict[Cue, frozenset[Event]] = {
    # nobody watches the force where no trial is asked for, and what is pushed there is set aside, not counted
    **{cue: FORCE | VERDICTS | {E.RESTED} for cue in Cue if cue not in TRIAL},
    C.REST: FORCE | VERDICTS,
    C.LOST: FORCE | VERDICTS | {E.RESTED},
    C.RECORD: FORCE | {E.NOTHING, E.RESTED},
    # the force is judged after its release only, and it levels off, is held and released after it has left the zero
    C.SET: frozenset({E.LEVEL, E.HELD, E.RELEASED, E.NOTHING, E.RESTED}),
    C.GO: frozenset({E.QUIET, E.LEVEL, E.HELD, E.RELEASED, E.NOTHING, E.RESTED}),
    C.BUILD: frozenset({E.QUIET, E.EFFORT, E.HELD, E.RESTED}),
    C.HOLD: frozenset({E.QUIET, E.EFFORT, E.LEVEL, E.RESTED}),
    C.STOP: frozenset({E.QUIET, E.EFFORT, E.LEVEL, E.HELD, E.RESTED}),
    # what was ended is set aside, not counted
    C.HALTED: frozenset({E.QUIET, E.EFFORT, E.COUNTED, E.NOTHING, E.RESTED}),
}
"""What cannot come."""
