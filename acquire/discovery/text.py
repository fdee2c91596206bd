"""Text lines: what each column is in words, and at which rate they come."""

from __future__ import annotations

import numpy as np

from acquire.discovery.capture import Capture, Task
from acquire.discovery.counters import LEAST_ROWS, unwrapped
from acquire.discovery.findings import Confidence, Finding
from acquire.discovery.rate import Rate, rate_by_arrivals, rate_by_clock
from acquire.discovery.reading import Reading, rate_finding
from acquire.discovery.table import whole_lines
from acquire.discovery.views import View, best_view
from acquire.discovery.words import said
from acquire.errors import DiscoveryError, DiscoveryFailure
from acquire.values.arrays import FloatArray, IntArray
from acquire.values.units import ForceUnit

CLOCK_OFF = 0.02
LONGEST_LOSS = 1000.0
"""Lines; a number that jumps farther is damaged."""
NEARLY_ALL = 0.9
SEPARATOR_NAMES = {",": "comma", ";": "semicolon", ":": "colon", "|": "bar", " ": "space", "\t": "tab"}


def read_text(capture: Capture, *, rate_hz: float | None, unit: ForceUnit | None) -> Reading:
    """Return what the lines of a capture hold.

    Parameters
    ----------
    capture : Capture
        Of lines with at least one column of numbers.
    rate_hz : float, optional
        What the user says.
    unit : ForceUnit, optional
        Of numbers with a point, as the user says.

    Raises
    ------
    DiscoveryError
        NO_NUMBERS, where no column can be a force; NO_RATE, where nothing tells the time.
    """
    lines = whole_lines(capture)
    view = best_view(lines, capture, rate_hz=rate_hz)
    rows = np.searchsorted(lines.ends, view.table.ends)
    rate, advice = _rate(view, capture, rows, rate_hz)
    seen_unit, why = (unit, "as you said") if unit is not None else view.unit
    column = view.table.columns[view.force]
    return Reading(
        framing=_framing(view, rows, len(lines.texts)),
        time=view.time,
        values=column.values,
        integer=column.integer,
        answer=view.answers[view.force],
        rate=rate_finding(rate, rate_hz),
        columns=(_columns(view, capture), *_separator(view), *_sequence(view)),
        unit=seen_unit,
        unit_why=why,
        beside=None if view.beside is None else view.table.columns[view.beside].values,
        advice=advice,
    )


def _framing(view: View, rows: IntArray, lines: int) -> Finding:
    width = len(view.table.columns)
    why = f"text: {len(rows):,} of {lines:,} lines have {width} column{'s' if width > 1 else ''}"
    sure = Confidence.SURE if view.table.share > NEARLY_ALL else Confidence.LIKELY
    return Finding(key="framing", value="lines", confidence=sure, why=why)


def _columns(view: View, capture: Capture) -> Finding:
    places = range(len(view.table.columns))
    return Finding(
        key="columns",
        value=tuple(_name(view, at) for at in places),
        confidence=_confidence(view, capture),
        why="; ".join(f"{at + 1}: {_why(view, at)}" for at in places),
    )


def _name(view: View, at: int) -> str:
    if at == view.force:
        return "counts"
    if at == view.beside:
        return "value"
    return view.counters[at].name if at in view.counters else "-"


def _why(view: View, at: int) -> str:
    """Say what a column is and how that shows."""
    if at == view.force:
        return _why_force(view)
    if at == view.beside:
        return "goes with the counts, with a point; ignored"
    if at in view.counters:
        return view.counters[at].why
    return _why_ignored(view, at)


def _why_ignored(view: View, at: int) -> str:
    column = view.table.columns[at]
    if not column.is_number and not column.example:
        return "empty, ignored"
    if not column.is_number:
        return f"no number ({column.example!r}), ignored"
    if column.constant:
        return f"always {column.example}, ignored"
    pushed = at in view.answers and view.answers[at].pushed is not None
    return f"{'answers the push less clearly' if pushed else 'does not answer a push'}, ignored"


def _why_force(view: View) -> str:
    seen = view.answers[view.force]
    if seen.pushed is not None:
        return (
            f"the force, which went {said(seen.change, sign=True)} with the push, {said(seen.strength)} times its noise"
        )
    if len(view.answers) == 1:
        return "the force, since no other column can be; no push was seen"
    return "the force by its noise alone; no push was seen"


def _confidence(view: View, capture: Capture) -> Confidence:
    """Return how sure the columns are: no surer than the force and what counts."""
    seen, alone = view.answers[view.force], len(view.answers) == 1
    if seen.pushed is None:
        return Confidence.LIKELY if alone else Confidence.GUESS
    asked = capture.told(Task.PUSH) is not None and seen.came_back
    counted = all(each.confidence is Confidence.SURE for each in view.counters.values() if each.name != "-")
    return Confidence.SURE if counted and (asked or alone) else Confidence.LIKELY


def _separator(view: View) -> tuple[Finding, ...]:
    if len(view.table.columns) == 1:
        return ()
    why = f"a {SEPARATOR_NAMES[view.table.separator]} stands between the columns"
    return (Finding(key="separator", value=view.table.separator, confidence=Confidence.SURE, why=why),)


def _sequence(view: View) -> tuple[Finding, ...]:
    numbered = (counted for counted in view.counters.values() if counted.name == "seq")
    return tuple(
        Finding(key="sequence_bits", value=each.bits, confidence=each.bits_confidence, why=each.bits_why)
        for each in numbered
    )


def _rate(view: View, capture: Capture, rows: IntArray, rate_hz: float | None) -> tuple[Rate, tuple[str, ...]]:
    """Return the rate, and advice where two ways to tell it disagree."""
    by_arrival = _rate_by_arrivals(view, capture, rows)
    by_clock = None if view.clock is None else rate_by_clock(*view.clock)
    best = by_clock or by_arrival or (None if rate_hz is None else Rate(rate_hz, 0.0, "your word"))
    if best is None:
        raise DiscoveryError(
            "nothing in the file tells how many samples come in a second: give it with --rate, or look at the sensor "
            "itself with --port",
            reason=DiscoveryFailure.NO_RATE,
        )
    if by_clock is None or by_arrival is None or abs(by_clock.hz / by_arrival.hz - 1.0) < CLOCK_OFF:
        return best, ()
    told = f"{said(by_clock.hz)} samples a second, by this computer's {said(by_arrival.hz)}"
    return best, (f"By the sensor's clock there are {told}: one of them is off, and times follow the sensor's.",)


def _rate_by_arrivals(view: View, capture: Capture, rows: IntArray) -> Rate | None:
    if not capture.timed:
        return None
    index = _index(view, rows)
    there = np.isfinite(index)
    index, arrivals = index[there], capture.arrivals(view.table.ends)[there]
    found = rate_by_arrivals(index, arrivals)
    if found is not None or len(index) < LEAST_ROWS or arrivals[-1] <= arrivals[0]:
        return found
    hz = float((index[-1] - index[0]) / (arrivals[-1] - arrivals[0]))
    return Rate(hz, hz / len(index), "how many came in a short time")


def _index(view: View, rows: IntArray) -> FloatArray:
    """Return the number of each row, lost ones counted in where a line number tells of them; NaN where damaged."""
    plain = rows.astype(np.float64)
    found = next(((at, counted) for at, counted in view.counters.items() if counted.name == "seq"), None)
    if found is None:
        return plain
    at, counted = found
    numbers = unwrapped(view.table.columns[at].filled, turn=2.0**counted.bits)
    there = np.isfinite(numbers)
    steps, least = np.diff(numbers[there]), np.diff(plain[there])
    steps = np.where((steps >= least) & (steps <= least + LONGEST_LOSS), steps, least)
    numbers[there] = np.concatenate([[0.0], np.cumsum(steps)])
    return numbers
