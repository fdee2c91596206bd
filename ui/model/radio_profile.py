"""Which profile fits a radio sensor: the one whose service it advertises."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from acquire.profile import Profile

if TYPE_CHECKING:
    from acquire.links.radio import RadioSensor


def profile_for(sensor: RadioSensor, profiles: Sequence[Profile]) -> Profile | None:
    """Return the first profile whose service the sensor has."""
    return next((p for p in profiles if p.service and p.service.lower() in sensor.services), None)
