"""A sensor that was looked at: what it is, and how it rests."""

from __future__ import annotations

import enum
from dataclasses import dataclass

from acquire.errors import LinkError
from acquire.sensor.profile import Profile


class Rest(enum.Enum):
    """How a sensor rests; the values name the sentences."""

    STILL = "still"
    NOISY = "noisy"
    TOUCHED = "touched"
    LOADED = "loaded"
    """It is still, but far from the zero of its calibration."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AtRest:
    """What an unloaded sensor did in a short look."""

    rest: Rest
    zero_n: float
    """From the zero of its calibration, N; 0 where the calibration has none."""
    noise_n: float
    """Standard deviation about the drift, N."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A sensor that was looked at."""

    port: str
    profile: Profile | None = None
    """None where no profile fits, or nothing came."""
    source: str = ""
    """What to load the profile by: its name, or the file it was chosen by."""
    rate_hz: float = 0.0
    at_rest: AtRest | None = None
    """None where it could not be told."""
    silent: bool = False
    """Nothing came at all."""
    trouble: LinkError | None = None
    """Why the port could not be opened or listened to."""
