"""Open the sensor that a command names: its profile, its calibration, its link."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import msgspec
import numpy as np

from acquire.calibration import Calibration, load_calibration
from acquire.errors import LinkError, LinkFailure
from acquire.links.base import Link
from acquire.links.serial import SerialLink
from acquire.links.simulated import SimulatedLink
from acquire.profile import Profile, load_profile
from acquire.simulation.cell import TYPICAL, Cell
from acquire.simulation.efforts import FAULTY, GOOD, Effort, recording

SIMULATED = "simulated"
"""The profile that needs no port."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenSensor:
    """A sensor that is sending."""

    profile: Profile
    calibration: Calibration
    link: Link
    reopen: Callable[[], Link] | None
    """Opens the same port again after it was lost; None when there is no port to come back."""
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
) -> OpenSensor:
    """Open a sensor by its profile.

    Parameters
    ----------
    name : str
        A profile's name or file.
    port : str, optional
        The serial port, or the name or address of a radio sensor. Without one the simulated sensor can be opened,
        and a radio sensor that is the only one of its kind in reach.
    calibration : str, optional
        A calibration file; the profile's nominal sensitivity without one.
    speed, efforts
        Of the simulated sensor.

    Raises
    ------
    ProfileError, CalibrationError, LinkError
        With one plain sentence that says what to do.
    """
    profile = load_profile(name)
    known = load_calibration(calibration) if calibration else profile.nominal_calibration()
    if profile.link == "bluetooth":
        return _open_radio(profile, known, port or "")
    if port is not None:
        link = SerialLink.for_profile(port, profile)
        return OpenSensor(profile=profile, calibration=known, link=link, reopen=link.reopened)
    if profile.name != SIMULATED:
        raise LinkError(
            _where(profile),
            port="",
            reason=LinkFailure.NOT_FOUND,
        )
    simulated = SimulatedLink(profile, simulated_counts(profile, efforts or PRACTICE), speed=speed)
    return OpenSensor(profile=profile, calibration=known, link=simulated, reopen=None, clock=simulated.clock)


def _open_radio(profile: Profile, calibration: Calibration, wanted: str) -> OpenSensor:
    from acquire.links.bluetooth import BluetoothLink  # noqa: PLC0415 - only needed by radio, and slow to import

    link = BluetoothLink(wanted, profile)
    return OpenSensor(profile=profile, calibration=calibration, link=link, reopen=link.reopened)


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
    name: str, *, port: str | None, calibration: str | None, speed: float = 1.0, cell: Cell = TYPICAL
) -> OpenSensor:
    """Open a sensor to be checked: the simulated one is a load cell, on which weights can be hung.

    Parameters
    ----------
    name, port, calibration
        As `open_sensor`.
    speed, cell
        Of the simulated sensor.

    Raises
    ------
    ProfileError, CalibrationError, LinkError
        As `open_sensor`.
    """
    profile = load_profile(name)
    if port is not None or profile.name != SIMULATED:
        return open_sensor(name, port=port, calibration=calibration)
    known = load_calibration(calibration) if calibration else profile.nominal_calibration()
    link = SimulatedLink(profile, cell, speed=speed)
    return OpenSensor(profile=profile, calibration=known, link=link, reopen=None, clock=link.clock)


RESTING_S = 20.0
UNLOADED = Effort(plateau_n=1e-9, sway_pct=0.0, tremor_pct=0.0, hold_s=1.0)
"""Nothing hangs on the sensor."""
