"""Open the sensor that a command names: its profile, its calibration, its link."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import msgspec
import numpy as np

from acquire.errors import LinkDetail, LinkError, LinkFailure, ProfileError
from acquire.links.base import Link
from acquire.links.serial import SerialLink
from acquire.links.simulated import SimulatedLink
from acquire.sensor.calibration_file import load_calibration_of
from acquire.sensor.profile import Profile, load_profile
from acquire.simulation.cell import TYPICAL, Cell
from acquire.simulation.efforts import FAULTY, GOOD, Effort, recording
from acquire.values.calibration import Calibration

SIMULATED = "simulated"
"""The profile that needs no port."""

SERIAL_PORT = re.compile(r"/dev/|(?:\\\\\.\\)?COM\d+\Z", re.IGNORECASE)
"""What no Bluetooth sensor is called."""

ZERO_S = 2.0
"""Amplifiers average a second or less for their zero (common practice, no source)."""


Tell = Callable[[str], object]


def silently(text: str) -> None:
    """Tell nobody."""
    del text


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenSensor:
    """A sensor that is sending."""

    profile: Profile
    calibration: Calibration
    link: Link
    reopen: Callable[[], Link] | None
    """Opens the same port again after it was lost; None when there is no port to come back."""
    cancel_reopen: Callable[[], None] | None = None
    """Ends a `reopen` that is under way; None where it takes no time."""
    clock: Callable[[], float] = time.monotonic
    """The clock of the link's arrivals."""

    def clock_began(self) -> datetime:
        """Return what the wall clock showed when the link's clock was 0."""
        return datetime.now(UTC) - timedelta(seconds=self.clock())


def open_sensor(
    name: str,
    *,
    port: str | None,
    calibration: str | None,
    speed: float = 1.0,
    efforts: tuple[Effort, ...] = (),
    zero: bool = False,
    cancelled: threading.Event | None = None,
    tell: Tell = silently,
) -> OpenSensor:
    """Open a sensor by its profile.

    Parameters
    ----------
    name : str
        A profile's name or file.
    port : str, optional
        The serial port, or the name or address of a Bluetooth sensor. Without one the simulated sensor can be opened,
        and a Bluetooth sensor that is the only one of its kind in range.
    calibration : str, optional
        A calibration file; the profile's nominal sensitivity without one.
    speed, efforts
        Of the simulated sensor.
    zero : bool
        Let the sensor take its own zero first, by the command of its profile.
    cancelled : threading.Event, optional
        Ends the search for a Bluetooth sensor when it is set.
    tell : callable
        Is told what takes more than a second.

    Raises
    ------
    ProfileError, CalibrationError, LinkError
        With one plain sentence that says what to do.
    """
    profile = load_profile(name)
    if zero and not profile.zero:
        raise ProfileError(
            f"the profile {profile.name} has no command for a zero of the sensor's own: leave out --zero (the program "
            "takes its own zero anyway), or give the profile the key zero"
        )
    known = load_calibration_of(profile, calibration) if calibration else profile.nominal_calibration()
    if profile.link == "bluetooth":
        tell(f"looking for {port or f'a Bluetooth sensor of the profile {profile.name}'}")
        opened = _open_bluetooth(profile, known, port or "", cancelled)
    else:
        opened = _open_port(profile, known, port, speed=speed, efforts=efforts)
    if zero:
        tell("the sensor takes its own zero: leave it unloaded and still")
        _take_zero(opened)
    return opened


def _open_port(
    profile: Profile, known: Calibration, port: str | None, *, speed: float, efforts: tuple[Effort, ...]
) -> OpenSensor:
    if port is not None:
        link = SerialLink.for_profile(port, profile)
        return OpenSensor(profile=profile, calibration=known, link=link, reopen=link.reopened)
    if profile.name != SIMULATED:
        raise LinkError(
            _where(profile),
            port="",
            reason=LinkFailure.NOT_FOUND,
            detail=LinkDetail.NO_PORT,
            sensor=profile.name,
        )
    simulated = SimulatedLink(profile, simulated_counts(profile, efforts or PRACTICE), speed=speed)
    return OpenSensor(profile=profile, calibration=known, link=simulated, reopen=None, clock=simulated.clock)


def _open_bluetooth(profile: Profile, known: Calibration, wanted: str, cancelled: threading.Event | None) -> OpenSensor:
    if SERIAL_PORT.match(wanted):
        raise LinkError(
            f"{wanted} is a serial port, and {profile.name} is the profile of a Bluetooth sensor: say with --port what "
            "the sensor calls itself, or choose the profile of a sensor with a cable",
            port=wanted,
            reason=LinkFailure.NOT_FOUND,
            detail=LinkDetail.SERIAL_PORT,
            sensor=profile.name,
        )
    from acquire.links.bluetooth import BluetoothLink  # noqa: PLC0415 - only needed over Bluetooth, and slow to import

    link = BluetoothLink(wanted, profile, cancelled=cancelled)
    return OpenSensor(
        profile=profile, calibration=known, link=link, reopen=link.reopened, cancel_reopen=link.cancel_search
    )


def _take_zero(sensor: OpenSensor) -> None:
    """Let a sensor take its own zero, and leave out what it sends meanwhile, which is of neither zero."""
    try:
        sensor.link.wait(sensor.profile.silent_after_s)  # many boards hear nothing before they send
        sensor.link.send(sensor.profile.zero.encode())
        until = time.monotonic() + ZERO_S
        while time.monotonic() < until and not sensor.link.ended:
            sensor.link.wait(0.1)
            sensor.link.chunks()
    except BaseException:
        sensor.link.close()
        raise


def _where(profile: Profile) -> str:
    return f"say with --port where the sensor {profile.name} is plugged in; 'ramphold sensors' lists the ports"


PRACTICE = tuple(effort for pair in zip([GOOD] * len(FAULTY), FAULTY.values(), strict=True) for effort in pair)
"""What the simulated sensor plays when nothing else is asked for: good efforts and every fault in turn."""


def simulated_counts(profile: Profile, efforts: tuple[Effort, ...], *, seed: int = 1) -> np.ndarray:
    """Return the counts of efforts, one after the other, as a sensor of this profile sends them."""
    force = np.nan_to_num(recording(efforts, rate_hz=profile.rate_hz, seed=seed).force)
    counts = np.clip(np.rint(force * profile.counts_per_newton + profile.zero_counts), *profile.limit_counts)
    return np.asarray(counts, dtype=np.int32)


def open_person(profile: Profile, efforts: tuple[Effort, ...], *, speed: float = 1.0, seed: int = 1) -> OpenSensor:
    """Open the simulated sensor with a person on it, who pushes each time the link is sent `CUE`.

    Parameters
    ----------
    profile : Profile
        The sensor to be.
    efforts : tuple of Effort
        What the person does at each cue, one after the other and then again from the first.
    speed : float
        How fast the person lives.
    seed : int
        Of the invented forces.
    """
    rest = msgspec.structs.replace(UNLOADED, rest_before_s=RESTING_S)
    pieces = [simulated_counts(profile, (effort,), seed=seed + i) for i, effort in enumerate((rest, *efforts))]
    starts = np.cumsum([0, *(len(piece) for piece in pieces[:-1])])
    options = ("--starts", *(str(start) for start in starts))
    link = SimulatedLink(profile, np.concatenate(pieces), speed=speed, options=options)
    return OpenSensor(
        profile=profile, calibration=profile.nominal_calibration(), link=link, reopen=None, clock=link.clock
    )


def open_for_check(
    name: str,
    *,
    port: str | None,
    calibration: str | None,
    speed: float = 1.0,
    cell: Cell = TYPICAL,
    zero: bool = False,
    cancelled: threading.Event | None = None,
    tell: Tell = silently,
) -> OpenSensor:
    """Open a sensor to be checked: the simulated one is a load cell, on which weights can be hung.

    Parameters
    ----------
    name, port, calibration, zero, cancelled, tell
        As `open_sensor`.
    speed, cell
        Of the simulated sensor.

    Raises
    ------
    ProfileError, CalibrationError, LinkError
        As `open_sensor`.
    """
    profile = load_profile(name)
    if port is not None or profile.name != SIMULATED or zero:
        return open_sensor(name, port=port, calibration=calibration, zero=zero, cancelled=cancelled, tell=tell)
    known = load_calibration_of(profile, calibration) if calibration else profile.nominal_calibration()
    link = SimulatedLink(profile, cell, speed=speed)
    return OpenSensor(profile=profile, calibration=known, link=link, reopen=None, clock=link.clock)


RESTING_S = 20.0
UNLOADED = Effort(plateau_n=1e-9, sway_pct=0.0, tremor_pct=0.0, hold_s=1.0)
"""Nothing hangs on the sensor."""
