"""How a sensor is checked and what is asked of it: every limit, read from one versioned file."""

from __future__ import annotations

import hashlib
import math
from importlib import resources
from importlib.resources.abc import Traversable

import msgspec

from acquire.files.named_file import read_named
from acquire.files.tomlfile import parse_toml
from analysis.errors import CheckLimitsError
from analysis.sensor_check.loads import BETWEEN_RUNS_PCT


class Procedure(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename="kebab"):
    """How a check goes."""

    look_s: float
    reading_s: float
    still_pct: float
    """Of the rated force."""
    match_pct: float
    """Of the force that a weight should show."""
    preloads: int
    runs: int
    rest_s: float
    creep_s: float
    wait_s: float
    between_runs_pct: float = BETWEEN_RUNS_PCT
    """Standard deviation of the sensitivity from run to run, where one run cannot show it."""

    def __post_init__(self) -> None:
        for name, least in (("look_s", 0.5), ("reading_s", 0.5), ("wait_s", 2.0 * self.reading_s)):
            _check(name, getattr(self, name), least)
        for name in ("still_pct", "match_pct", "preloads", "rest_s", "between_runs_pct"):
            _check(name, getattr(self, name), 0.0)
        _check("runs", self.runs, 1)
        if self.creep_s:
            _check("creep_s", self.creep_s, 2.0 * self.reading_s)


class Masses(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename="kebab"):
    """How well the masses are known when nobody says."""

    tolerance_pct: float


class Limit(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename="kebab"):
    """Two upper limits of a size without its sign, %."""

    warn_pct: float
    fail_pct: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.warn_pct <= self.fail_pct < math.inf:
            raise ValueError(f"warn-pct and fail-pct must rise from 0, got {self.warn_pct} and {self.fail_pct}")


class Age(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename="kebab"):
    """How old the last check may be."""

    days: float


class CheckLimits(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename="kebab"):
    """All limits of one kind of check.

    Examples
    --------
    >>> standard = load_check_limits()
    >>> standard.name, standard.procedure.runs, standard.linearity.fail_pct
    ('hand-held', 2, 0.5)
    """

    name: str
    version: int
    procedure: Procedure
    masses: Masses
    lost_samples: Limit
    rate: Limit
    noise: Limit
    hum: Limit
    zero: Limit
    drift: Limit
    sensitivity: Limit
    linearity: Limit
    hysteresis: Limit
    repeatability: Limit
    zero_return: Limit
    creep: Limit
    uncertainty: Limit
    zero_moved: Limit
    sensitivity_moved: Limit
    age: Age

    @property
    def hash(self) -> str:
        """The first 16 hexadecimal digits of the SHA-256 of the limits: equal limits, equal hash."""
        return hashlib.sha256(msgspec.json.encode(self, order="sorted")).hexdigest()[:16]


def load_check_limits(name_or_path: str = "hand-held") -> CheckLimits:
    """Return the limits that come with the program, by name, or those of your own, by path.

    Raises
    ------
    CheckLimitsError
        If there is no such file, or a key is unknown, missing, of the wrong kind or out of range; names file and key.

    Examples
    --------
    >>> load_check_limits("hand-held") == load_check_limits()
    True
    """
    folder = resources.files("analysis") / "data" / "sensor-check"
    return read_named(name_or_path, _read, folder=folder, kind="file of limits", error=CheckLimitsError)


def _read(path: Traversable) -> CheckLimits:
    return parse_toml(path, CheckLimits, error=CheckLimitsError)


def _check(name: str, value: float, least: float) -> None:
    if not least <= value < math.inf:
        raise ValueError(f"{name.replace('_', '-')} must be at least {least:g}, got {value:g}")
