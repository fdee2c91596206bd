"""The clocks that a sensor may send: the one table of their steps and of where they wrap, and the way round a wrap."""

from __future__ import annotations

from typing import NamedTuple

COUNTER_WRAP = 2**32
"""Device clocks are unsigned 32-bit counters: after so many steps they begin again at 0."""


class ClockColumn(NamedTuple):
    """A column of a text line that holds the sensor's clock."""

    steps_per_s: int
    unit: str
    """Its unit in words."""
    wraps: bool
    """Whether it is a 32-bit counter; a decimal number of seconds never wraps."""

    @property
    def resolution_s(self) -> float:
        """The smallest step, s; 0 for a decimal number, which may be as fine as the sensor likes."""
        return 1.0 / self.steps_per_s if self.wraps else 0.0

    @property
    def wrap_s(self) -> float | None:
        """Seconds after which it begins again at 0; None when it never does."""
        return COUNTER_WRAP * self.resolution_s if self.wraps else None


CLOCK_COLUMNS = {
    "ms": ClockColumn(1_000, "milliseconds", wraps=True),
    "us": ClockColumn(1_000_000, "microseconds", wraps=True),
    "s": ClockColumn(1, "seconds", wraps=False),
}
"""By the name of the column."""


def signed(difference: float, wrap: float | None) -> float:
    """Return the shortest way round a counter that wraps.

    Parameters
    ----------
    difference : float
        Later reading minus earlier one, in steps of the counter; NaN stays NaN.
    wrap : float, optional
        Steps after which the counter begins again at 0; None when it never does.

    Returns
    -------
    float
        From -wrap/2 up to, not including, wrap/2; the difference itself without a wrap.

    Raises
    ------
    ZeroDivisionError
        If `wrap` is 0.

    References
    ----------
    RFC 1982 (1996), Serial Number Arithmetic: what is less than half the range ahead is ahead.

    Examples
    --------
    >>> signed(3 - 65534, 65536), signed(-70000, None)
    (5, -70000)
    """
    if wrap is None:
        return difference
    around = difference % wrap
    return around - wrap if around >= wrap / 2 else around
