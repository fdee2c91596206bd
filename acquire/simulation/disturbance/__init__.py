"""What a bad link does to a stream: settings, and a pure, seeded model; no I/O, no clock.

Frames are dropped, doubled, overtaken, damaged, cut, delayed, stalled, collected into bursts, or stamped by a clock
that drifts. `acquire.links.disturbed` puts this around any other link. A TOML file says how bad a link is
(`acquire/data/disturbances`, explained in `bad-bluetooth.toml`); ``ramphold demo --disturb bad-bluetooth`` plays a
session over one. ``tests/acquire/stream/test_bad_links.py`` says at its top what is promised of such a stream.
"""

from acquire.simulation.disturbance.model import Disturber, Piece
from acquire.simulation.disturbance.settings import (
    Burst,
    Corrupt,
    Delay,
    Disturbance,
    Drift,
    Drop,
    Duplicate,
    Reorder,
    Split,
    Stall,
    load_disturbance,
)

__all__ = [
    "Burst",
    "Corrupt",
    "Delay",
    "Disturbance",
    "Disturber",
    "Drift",
    "Drop",
    "Duplicate",
    "Piece",
    "Reorder",
    "Split",
    "Stall",
    "load_disturbance",
]
