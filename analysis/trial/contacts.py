"""Contacts: what presses the pad and is no effort. Kept and shown, never judged, never counted.

A knock, a new grip, a laugh, the pad being laid on: such a force has no plateau worth the name, and is small
against what was pushed before and after, or, live, against what the same limb gave before. Neither alone is enough:
a short push of full strength is an effort that broke the protocol, and a weak person's plateau is weak. Where nothing
else was pushed, only what has no plateau and is faint is a contact.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from acquire.values.records import Trace, Trial, TrialContext
from analysis.trial.effort import prepare
from analysis.trial.hold import longest_hold
from analysis.trial.protocol import Protocol

PLATEAU_S = 1.0
"""A plateau worth the name lasts as long: half of what the shortest protocol asks for."""

SMALL = 0.5
"""Without a plateau, a force below this share of the strongest plateau is a contact."""

FAINT = 0.1
"""With one, only a force below this share of it: the weight of a hand or of the pad."""

PRESSED = 0.25

ALONE_N = 50.0
"""Where nothing else was pushed, the most that a force without a plateau may be to be a contact, N."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """A stretch in which something pressed the pad and was no effort."""

    start_s: float
    stop_s: float
    peak_force_n: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Press:
    """What is looked at to tell a contact from an effort."""

    peak_n: float
    """Highest smoothed force, N."""
    plateau_n: float
    """Mean of the longest steady run, N."""
    steady_s: float
    """Length of that run."""
    start_s: float = 0.0
    stop_s: float = 0.0
    """From when to when the force is above a quarter of its peak, s of the trace."""

    @property
    def has_plateau(self) -> bool:
        """Whether it has a plateau worth the name."""
        return self.steady_s >= PLATEAU_S


def press_of(trace: Trace, protocol: Protocol) -> Press:
    """Return what a stretch of force shows.

    Parameters
    ----------
    trace : Trace
        One excursion with some rest before and after; NaN marks lost samples.
    protocol : Protocol
        Its smoothing and band are used.

    Examples
    --------
    >>> from analysis.trial.protocol import load_protocol
    >>> from acquire.values.records import Trace
    >>> time = np.arange(0.0, 11.0, 0.01)
    >>> force = np.interp(time, [2.0, 3.5, 7.5, 7.7], [0.0, 200.0, 200.0, 0.0])
    >>> press = press_of(Trace(time=time, force=force), load_protocol())
    >>> press.peak_n, round(press.steady_s, 1)
    (200.0, 4.3)
    """
    effort = prepare(trace, smoothing_s=protocol.hold.smoothing_s)
    if effort is None:
        there = trace.force[~np.isnan(trace.force)]
        return Press(peak_n=float(there.max(initial=0.0)), plateau_n=0.0, steady_s=0.0)
    hold = longest_hold(effort.smooth, band=protocol.hold.band_pct / 100.0)
    peak = float(effort.smooth.max())
    pressed = np.flatnonzero(effort.smooth >= PRESSED * peak)
    return Press(
        peak_n=peak,
        plateau_n=hold.mean,
        steady_s=(hold.stop - hold.start) / effort.rate,
        start_s=float(effort.time[pressed[0]]),
        stop_s=float(effort.time[pressed[-1]]),
    )


def is_contact(press: Press, usual_n: float | None) -> bool:
    """Tell a contact from an effort.

    Parameters
    ----------
    press : Press
        What was pressed.
    usual_n : float or None
        The strongest plateau that this action gave otherwise, N; None where there is none.

    Examples
    --------
    >>> knock = Press(peak_n=22.0, plateau_n=20.0, steady_s=0.3)
    >>> is_contact(knock, 200.0), is_contact(knock, None), is_contact(knock, 25.0)
    (True, True, False)
    """
    if usual_n is None:
        return not press.has_plateau and press.peak_n < ALONE_N
    return press.peak_n < (FAINT if press.has_plateau else SMALL) * usual_n


def usual_force(trials: Iterable[Trial], context: TrialContext) -> float | None:
    """Return the strongest plateau that this action of this side gave before, N; None where it gave none.

    Parameters
    ----------
    trials : iterable of Trial
        Of the session so far, judged; those set aside, or without a plateau worth the name, say nothing.
    context : TrialContext
        What is tried now.

    Examples
    --------
    >>> usual_force([], TrialContext(action="knee-extension", side="left")) is None
    True
    """
    limb = (context.action, context.side)
    verdicts = [
        trial.verdict
        for trial in trials
        if trial.verdict is not None and not trial.is_aside and (trial.context.action, trial.context.side) == limb
    ]
    plateaus = [
        verdict["plateau_force_n"]
        for verdict in verdicts
        if verdict["plateau_force_n"] is not None and (verdict["hold_time_s"] or 0.0) >= PLATEAU_S
    ]
    return max(plateaus, default=None)


def contact_of(contact: Trial, protocol: Protocol, *, start_s: float = 0.0) -> Contact:
    """Return from when to when something pressed the pad, and how hard.

    Parameters
    ----------
    contact : Trial
        What was kept of it.
    protocol : Protocol
        Its smoothing is used.
    start_s : float
        The file's time at second 0 of the trial's clock, s; 0 for a session, whose clock it is.

    Examples
    --------
    >>> from acquire.values.calibration import Calibration
    >>> from analysis.trial.protocol import load_protocol
    >>> time = np.arange(300) / 100.0
    >>> knock = np.where((time > 1.0) & (time < 1.2), 300.0, 0.0)
    >>> cell = Calibration(newtons_per_count=0.1)
    >>> contact = contact_of(Trial(time=time, counts=knock, calibration=cell, zero_counts=0.0), load_protocol())
    >>> round(contact.peak_force_n)
    30
    """
    press, begin = press_of(contact.trace(), protocol), start_s + float(contact.time[0])
    return Contact(start_s=begin + press.start_s, stop_s=begin + press.stop_s, peak_force_n=press.peak_n)


def contacts_among(presses: Sequence[Press]) -> list[bool]:
    """Return which of the excursions of one recording are contacts.

    Examples
    --------
    >>> effort = Press(peak_n=210.0, plateau_n=200.0, steady_s=4.0)
    >>> contacts_among([Press(peak_n=22.0, plateau_n=20.0, steady_s=0.3), effort, effort])
    [True, False, False]
    """
    usual = max((press.plateau_n for press in presses if press.has_plateau), default=None)
    return [is_contact(press, usual) for press in presses]
