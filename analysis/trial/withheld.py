"""Why a measure is withheld: a code with its numbers; `ui/words` makes the sentence."""

from __future__ import annotations

import enum
from typing import NamedTuple

from analysis.trial.number import Kind, Number


class Why(enum.StrEnum):
    """Why the data cannot support a number; in brackets what else its sentence names."""

    NO_EFFORT = "no-effort"
    """No rise in force was found."""
    NO_ONSET = "no-onset"
    """The trace begins within the effort."""
    NO_RELEASE = "no-release"
    """The trace ends before the release."""
    FEW_IN_HOLD = "few-in-hold"
    """The hold has fewer samples than [least]."""
    SHORT_HOLD = "short-hold"
    """The hold is shorter than [least], s."""
    FEW_IN_RAMP = "few-in-ramp"
    """Fewer samples than [least] between [low] and [high], % of the plateau."""
    SLOW_SENSOR = "slow-sensor"
    """It needs a sample rate of [limit], Hz, and the sensor gave [measured]."""
    NOISE = "noise"
    """The noise of the sensor is too large for a slope over [window], s."""
    LOST_IN_RAMP = "lost-in-ramp"
    LOST_IN_BAND = "lost-in-band"
    """Samples were lost between the onset and the end of the band."""
    UNSURE_ONSET = "unsure-onset"
    """The onset is unsure by [measured], s, which is more than [share] % of the time that the rate is taken over."""
    CUT_BAND = "cut-band"
    """The trace ends within the band."""


class Reason(NamedTuple):
    """Why one measure is withheld.

    Examples
    --------
    >>> print(Reason(Why.SLOW_SENSOR, (Number("limit", 500.0, Kind.HERTZ), Number("measured", 100.0, Kind.HERTZ))))
    slow-sensor: limit 500 Hz, measured 100 Hz
    """

    why: Why
    values: tuple[Number, ...] = ()

    def __str__(self) -> str:
        """Return the code and its numbers, for a log or a notebook."""
        return ": ".join(part for part in (self.why.value, ", ".join(str(each) for each in self.values)) if part)


Withheld = dict[str, Reason]
"""The reason of each measure that is withheld, by its name; of a band of rates as ``rfd_n_per_s.0-100``."""


def slow_sensor(least_hz: float, rate_hz: float) -> Reason:
    """Return as a reason that a sensor is too slow for a measure.

    Parameters
    ----------
    least_hz, rate_hz : float
        What the measure needs, and what the sensor has, samples per second.

    Examples
    --------
    >>> print(slow_sensor(1000.0, 80.0))
    slow-sensor: limit 1000 Hz, measured 80 Hz
    """
    return Reason(Why.SLOW_SENSOR, (Number("limit", least_hz, Kind.HERTZ), Number("measured", rate_hz, Kind.HERTZ)))
