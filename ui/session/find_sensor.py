"""What is plugged in, found out by listening: which profile fits a port, and whether the sensor rests at its zero.

At first nothing is sent. What stays silent is sent the start commands of the known profiles, one after the other, each
followed by its stop command where it brought nothing; that is what choosing the profile by hand would send.
"""

from __future__ import annotations

import enum
import math
import threading
import time
from dataclasses import dataclass

import numpy as np

from acquire.discovery.listening import HEAR_S, WAKE_S, listen
from acquire.discovery.recognise import Fitting, recognise
from acquire.errors import AcquireError, LinkError
from acquire.links.base import Chunk, Link
from acquire.links.serial import SerialLink
from acquire.sensor.profile import Profile, known_profiles, load_profile
from acquire.values.arrays import FloatArray
from acquire.values.calibration import Calibration
from analysis.sensor_check import CheckLimits, load_check_limits, moved
from analysis.sensor_check.readings import READING_BLOCK_S
from ui.session.open_sensor import SIMULATED, open_sensor

LOOK_S = 2.0
"""The sensor is looked at for so long."""
STEP_S = 0.1
"""So soon a look ends that is not wanted any more."""
TOUCHED = 10.0
"""Ten means of a still sensor lie within about three standard deviations, and drift and hum come on top of that."""


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


def find_on_port(port: str, *, chosen: str = "", cancelled: threading.Event) -> Seen | None:
    """Listen to a serial port; return what is there, None where nobody wants to know any more.

    Parameters
    ----------
    port : str
        The device.
    chosen : str
        The profile that was used last; it is taken wherever it fits, and its start command is sent.
    cancelled : Event
        Ends the look when it is set.
    """
    first = _loaded(chosen)
    try:
        baud, start = _ways(first)[0]
        with SerialLink(
            port, baud=baud, start=start.encode(), stop=b"" if first is None else first.stop.encode()
        ) as link:
            return _seen(port, link, first, chosen, cancelled)
    except LinkError as error:
        return Seen(port=port, trouble=error)


def look_over_bluetooth(name: str, *, profile: str, cancelled: threading.Event) -> Seen | None:
    """Look at a Bluetooth sensor whose profile is known; as `find_on_port`."""
    try:
        opened = open_sensor(profile, port=name, calibration=None, cancelled=cancelled)
    except LinkError as error:
        return None if cancelled.is_set() else Seen(port=name, trouble=error)
    except AcquireError:
        return None
    with opened.link as link:
        chunks = _heard(link, WAKE_S + LOOK_S, cancelled)
    if cancelled.is_set():
        return None
    fitting = recognise(chunks, (), first=opened.profile)
    if fitting is None:
        return Seen(port=name, silent=not chunks)
    return _as_seen(name, fitting, profile)


def _seen(port: str, link: SerialLink, first: Profile | None, chosen: str, cancelled: threading.Event) -> Seen | None:
    """Listen first; then try each way in which the known sensors are started."""
    profiles, silent = _candidates(first), True
    for number, (baud, start) in enumerate(_ways(first)):
        if number:
            link.retune(baud)
            link.send(start.encode())
        alike = [each for each in profiles if each.baud == baud and each.start in {"", start}]
        woke = _heard(link, HEAR_S if number else WAKE_S, cancelled, until_first=True)
        chunks = woke + (_heard(link, HEAR_S, cancelled) if woke else [])
        silent = silent and not chunks
        if cancelled.is_set():
            return None
        fitting = recognise(chunks, alike, first=first)
        if fitting is not None:
            chunks += _heard(link, LOOK_S, cancelled)
            link.send(fitting.profile.stop.encode())
            whole = recognise(chunks, [fitting.profile]) or fitting
            return _as_seen(port, whole, chosen if fitting.profile is first else fitting.profile.name)
        link.send(next((each.stop for each in alike if each.start == start), "").encode())
    return Seen(port=port, silent=silent)


def _as_seen(port: str, fitting: Fitting, source: str) -> Seen:
    profile = fitting.profile
    recent = fitting.counts[-round(LOOK_S * fitting.rate_hz) :]
    rest = at_rest(recent, fitting.rate_hz, profile.nominal_calibration(), profile.rated_force_n, load_check_limits())
    return Seen(port=port, profile=profile, source=source, rate_hz=fitting.rate_hz, at_rest=rest)


def at_rest(
    counts: FloatArray, rate_hz: float, calibration: Calibration, rated_force_n: float, limits: CheckLimits
) -> AtRest:
    """Return how a sensor rests that should be unloaded.

    Parameters
    ----------
    counts : ndarray, shape (n,)
        One a sample, at least two.
    rate_hz : float
        Samples a second.
    calibration : Calibration
        What counts mean.
    rated_force_n : float
        Rated force, N, of which the limits are shares.
    limits : CheckLimits
        Those of the sensor check.
    """
    time_s = np.arange(len(counts)) / rate_hz
    force = np.asarray(calibration.force(counts), dtype=np.float64)
    drift = np.polynomial.Polynomial.fit(time_s, force, 1)(time_s)
    noise, zero = float(np.std(force - drift)), float(np.median(force))
    still = max(0.01 * limits.procedure.still_pct * rated_force_n, _moved_by_noise(force, rate_hz))
    if moved(time_s, force) > TOUCHED * still:
        rest = Rest.TOUCHED
    elif noise > 0.01 * limits.noise.warn_pct * rated_force_n:
        rest = Rest.NOISY
    elif abs(zero) > 0.01 * limits.zero.fail_pct * rated_force_n:
        rest = Rest.LOADED
    else:
        rest = Rest.STILL
    return AtRest(rest=rest, zero_n=zero, noise_n=noise)


def _moved_by_noise(force: FloatArray, rate_hz: float) -> float:
    """Return by how much means of fifths of a second scatter from noise alone, N: that of neighbouring samples.

    A hand moves a sensor slowly, which adds next to nothing to the steps from sample to sample.
    """
    white = float(np.std(np.diff(force))) / math.sqrt(2.0)
    return white / math.sqrt(max(1.0, READING_BLOCK_S * rate_hz))


def _heard(link: Link, seconds: float, cancelled: threading.Event, *, until_first: bool = False) -> list[Chunk]:
    """Return what comes within some seconds, in steps, so that a look that is not wanted ends at once."""
    heard: list[Chunk] = []
    until = time.monotonic() + seconds
    while (left := until - time.monotonic()) > 0.0 and not (cancelled.is_set() or link.ended):
        heard += listen(link, min(STEP_S, left), time.monotonic)
        if until_first and heard:
            break
    return heard


def _candidates(first: Profile | None) -> tuple[Profile, ...]:
    known = (each for each in known_profiles() if each.link == "serial" and each.name != SIMULATED)
    return (*([] if first is None else [first]), *known)


def _ways(first: Profile | None) -> tuple[tuple[int, str], ...]:
    """Return baud rate and start command of the profile used last, then of the others: those that need none first."""
    profiles = _candidates(first)
    own = [] if first is None else [first]
    turns = [*own, *(each for each in profiles if not each.start), *profiles]
    return tuple(dict.fromkeys((each.baud, each.start) for each in turns))


def _loaded(chosen: str) -> Profile | None:
    """Return a profile by its name or file; None for one over Bluetooth, or that cannot be read."""
    try:
        profile = load_profile(chosen) if chosen and chosen != SIMULATED else None
    except AcquireError:
        return None
    return profile if profile is not None and profile.link == "serial" else None
