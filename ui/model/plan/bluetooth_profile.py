"""Bluetooth sensors as a user chooses them: which profiles fit, what each is called, and which are worth showing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from acquire.errors import ProfileError
from acquire.sensor.profile import Profile, known_profiles, load_profile

if TYPE_CHECKING:
    from acquire.links.bluetooth_search import BluetoothSensor


def profiles_for(sensor: BluetoothSensor, profiles: Sequence[Profile]) -> tuple[Profile, ...]:
    """Return the profiles whose service a Bluetooth sensor has."""
    return tuple(p for p in profiles if p.service and p.service.lower() in sensor.services)


def sensor_for(heard: BluetoothSensor, chosen: str) -> str:
    """Return the profile for a Bluetooth sensor, by name or file: the chosen one if it fits, else the first that does.

    Empty where none fits.
    """
    own = _loaded(chosen)
    if own is not None and profiles_for(heard, [own]):
        return chosen
    return next((profile.name for profile in profiles_for(heard, known_profiles())), "")


def services_of_profiles(chosen: str = "") -> tuple[str, ...]:
    """Return the services of all known profiles, and of a file that was chosen."""
    own = _loaded(chosen)
    profiles = [*known_profiles(), *([own] if own is not None else [])]
    return tuple(dict.fromkeys(profile.service.lower() for profile in profiles if profile.service))


def called(sensor: BluetoothSensor, among: Sequence[BluetoothSensor]) -> str:
    """Return what to open a Bluetooth sensor by: its name, or its address where it has none or shares it."""
    namesakes = sum(other.name == sensor.name for other in among)
    return sensor.name if sensor.name and namesakes == 1 else sensor.address


def titled(sensor: BluetoothSensor, among: Sequence[BluetoothSensor]) -> str:
    """Return what a Bluetooth sensor is called in a list: both name and address where it shares its name."""
    by = called(sensor, among)
    return by if by == sensor.name or not sensor.name else f"{sensor.name} ({by})"


def worth_showing(heard: Sequence[BluetoothSensor], services: Sequence[str]) -> tuple[BluetoothSensor, ...]:
    """Return the Bluetooth sensors to choose from: those of a known service first, then others that have a name.

    Watches, lamps and telephones advertise too, most of them without a name.
    """
    known = [sensor for sensor in heard if set(services) & set(sensor.services)]
    return (*known, *(sensor for sensor in heard if sensor.name and sensor not in known))


def _loaded(chosen: str) -> Profile | None:
    try:
        return load_profile(chosen) if chosen else None
    except ProfileError:
        return None
