"""What text and packets have in common once they are read: one row of forces, and what was found about it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.discovery.capture import Capture, Task
from acquire.discovery.findings import Confidence, Finding
from acquire.discovery.push import Answer
from acquire.discovery.rate import Rate, usual
from acquire.discovery.scale import Load
from acquire.discovery.words import figures, said
from acquire.values.arrays import FloatArray
from acquire.values.units import ForceUnit


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """A stream of one force."""

    framing: Finding
    time: FloatArray
    """Seconds by which asked stretches are found, shape (n_samples,)."""
    values: FloatArray
    """The force as sent, shape (n_samples,); NaN where it is not a number."""
    integer: bool
    """Whether values are counts, written without a point."""
    answer: Answer
    rate: Finding
    columns: tuple[Finding, ...] = ()
    """Of `columns` with the force called "counts", and of `separator` and `sequence_bits`."""
    more: tuple[Finding, ...] = ()
    """Of `tick_hz`."""
    unit: ForceUnit | None = None
    unit_why: str = ""
    beside: FloatArray | None = None
    """A column beside that says the same with a point, shape (n_samples,)."""
    sent_as: int | None = None
    """Bits of a count in packets."""
    advice: tuple[str, ...] = ()


def load_of(capture: Capture, time: FloatArray, values: FloatArray, quiet: float) -> Load | None:
    """Return what a known weight did; None where none was hung."""
    asked = capture.told(Task.WEIGHT)
    if asked is None:
        return None
    under = values[(time >= asked.start) & (time <= asked.stop) & np.isfinite(values)]
    return Load(load_n=asked.load_n, change=float(np.median(under)) - quiet) if len(under) else None


def rate_finding(rate: Rate, given: float | None) -> Finding:
    """Return the rate to write: the usual one that was meant, else the measured one."""
    if given is not None:
        return Finding(key="rate_hz", value=given, confidence=Confidence.GIVEN, why="as you said")
    doubt = f" +- {said(figures(rate.uncertainty_hz, 1))}" if rate.uncertainty_hz > 0.0 else ""
    measured = f"{said(rate.hz)}{doubt} Hz by {rate.how}"
    meant = usual(rate.hz, rate.uncertainty_hz)
    sure = Confidence.SURE if rate.uncertainty_hz < 0.01 * rate.hz else Confidence.LIKELY
    if meant is None:
        return Finding(key="rate_hz", value=figures(rate.hz, 4), confidence=sure, why=f"{measured}, near no usual rate")
    return Finding(key="rate_hz", value=meant, confidence=sure, why=measured)
