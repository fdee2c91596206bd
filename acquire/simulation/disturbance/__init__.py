"""What a bad link does to a stream: settings, and a pure, seeded model; no I/O, no clock."""

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
