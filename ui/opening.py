"""Open the sensor that a command names: its profile, its calibration, its link."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from acquire.calibration import Calibration, load_calibration
from acquire.errors import LinkError, LinkFailure, ProfileError
from acquire.links.base import Link
from acquire.links.serial import SerialLink
from acquire.links.simulated import SimulatedLink
from acquire.profile import Profile, load_profile
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
        The serial port; without one only the simulated sensor can be opened.
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
    if port is not None:
        if profile.link != "serial":
            raise ProfileError(f"{name}: this profile is for {profile.link}, but --port names a serial port")
        link = SerialLink.for_profile(port, profile)
        return OpenSensor(profile=profile, calibration=known, link=link, reopen=link.reopened)
    if profile.name != SIMULATED:
        raise LinkError(
            f"say with --port where the sensor {profile.name} is plugged in; 'ramphold sensors' lists the ports",
            port="",
            reason=LinkFailure.NOT_FOUND,
        )
    return OpenSensor(
        profile=profile,
        calibration=known,
        link=SimulatedLink(profile, simulated_counts(profile, efforts or PRACTICE), speed=speed),
        reopen=None,
    )


PRACTICE = tuple(effort for pair in zip([GOOD] * len(FAULTY), FAULTY.values(), strict=True) for effort in pair)
"""What the simulated sensor plays when nothing else is asked for: good efforts and every fault in turn."""


def simulated_counts(profile: Profile, efforts: tuple[Effort, ...], *, seed: int = 1) -> np.ndarray:
    """Return the counts of efforts, one after the other, as a sensor of this profile sends them."""
    force = np.nan_to_num(recording(efforts, rate_hz=profile.rate_hz, seed=seed).force)
    counts = np.clip(np.rint(force * profile.counts_per_newton + profile.zero_counts), *profile.limit_counts)
    return np.asarray(counts, dtype=np.int32)
