"""Which time base a sensor needs."""

from __future__ import annotations

from acquire.sensor.clock_columns import CLOCK_COLUMNS, COUNTER_WRAP
from acquire.sensor.profile import Profile
from acquire.timing.device_clock import ClockTimeBase, DeviceClock
from acquire.timing.timebase import CounterTimeBase, IndexTimeBase, TimeBase


def time_base_for(profile: Profile) -> TimeBase:
    """Return the time base that fits what a sensor sends: by its clock, its counter, or neither.

    Parameters
    ----------
    profile : Profile
        Framing, columns, rate, tick and counter width of the sensor.

    Examples
    --------
    >>> from acquire.sensor.profile import load_profile
    >>> [type(time_base_for(load_profile(name))).__name__ for name in ("packets-1k", "ble-lines", "bridge-80")]
    ['ClockTimeBase', 'CounterTimeBase', 'IndexTimeBase']
    """
    counter = {"rate_hz": profile.rate_hz, "sequence_wrap": 2**profile.sequence_bits}
    if profile.framing == "packets":
        clock = DeviceClock(steps_per_s=profile.tick_hz, wrap=COUNTER_WRAP, rate_hz=profile.rate_hz)
        return ClockTimeBase(clock=clock, **counter)
    for column in (CLOCK_COLUMNS[name] for name in profile.columns if name in CLOCK_COLUMNS):
        clock = DeviceClock(
            steps_per_s=1.0, wrap=column.wrap_s, rate_hz=profile.rate_hz, resolution=column.resolution_s
        )
        return ClockTimeBase(clock=clock, **counter)
    return CounterTimeBase(**counter) if "seq" in profile.columns else IndexTimeBase(**counter)
