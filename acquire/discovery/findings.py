"""What discovery comes to: a profile, and for each key how sure it is and why."""

from __future__ import annotations

import enum
from dataclasses import dataclass

from acquire.sensor.profile import Profile

ProfileValue = str | float | tuple[str, ...]


class Confidence(enum.StrEnum):
    """How much a value may be trusted, in the words that are shown."""

    GIVEN = "given"
    """The user said so."""
    SURE = "sure"
    """Seen, and nothing else would explain what was seen."""
    LIKELY = "likely"
    """Seen, but something else could look the same."""
    GUESS = "guess"
    """Not seen: a usual value, to be replaced."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One key of the profile."""

    key: str
    value: ProfileValue
    confidence: Confidence
    why: str
    """One sentence without capital or stop."""

    @property
    def number(self) -> float:
        """The value of a key that is a number.

        Raises
        ------
        TypeError
            If it is none.
        """
        if not isinstance(self.value, int | float):
            raise TypeError(f"{self.key} is {self.value!r}, not a number")
        return float(self.value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A profile for a sensor that nobody has described, with its evidence."""

    profile: Profile
    findings: tuple[Finding, ...]
    """In the order of the profile's keys."""
    measured: tuple[tuple[str, str], ...]
    """What was seen besides the keys: noise, push, losses; name and value in words."""
    advice: tuple[str, ...]
    """What the user should know or do, in sentences."""
    push_seen: bool
    """Whether the force answered a push."""

    def finding(self, key: str) -> Finding:
        """Return the finding of a key.

        Raises
        ------
        KeyError
            If nothing was found about it.
        """
        for finding in self.findings:
            if finding.key == key:
                return finding
        raise KeyError(key)
