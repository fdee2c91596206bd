"""What turns forces into results: limits of error with their reasons, the score of a set, how sides are compared.

A file needs a name, a version, and the tables in which it differs from the settings called ``standard``.
"""

from __future__ import annotations

import enum
import tomllib
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Annotated, Any

import msgspec

from acquire.files.named_file import known_names, read_named
from acquire.files.tomlfile import content_hash, parse_toml, read_text
from analysis.errors import SettingsError

Limit = Annotated[float, msgspec.Meta(ge=0.0)]
Percent = Annotated[float, msgspec.Meta(gt=0.0, lt=100.0)]


class TrialScore(enum.StrEnum):
    """Which force of a trial is its score: see `analysis.results.trial_score`."""

    PLATEAU = "plateau"
    """The mean of the best stretch of the hold, as long as the protocol says."""
    BEST_SECOND = "best-1s"
    BEST_HALF_SECOND = "best-0.5s"
    PEAK = "peak"


class ScoreOf(enum.StrEnum):
    """Which value is the score of a set."""

    BEST = "best"
    MEAN = "mean"
    MEDIAN = "median"


class Index(enum.StrEnum):
    """How two sides are compared, in per cent."""

    STRONGER = "stronger"
    """(stronger - weaker) / stronger; does not depend on the choice of a reference limb."""
    MEAN = "mean"
    """(stronger - weaker) / mean of both; does not depend on the choice of a reference limb."""
    REFERENCE = "reference"
    """(reference - other) / reference; negative when the other side is the stronger one."""


class ScoreRule(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which force of a trial is its score, and which of the set's scores stands for it."""

    trial: TrialScore = TrialScore.PLATEAU
    of: ScoreOf
    reason: str


class Coverage(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Probability of an expanded uncertainty."""

    level_pct: Percent
    reason: str


class BodyWeight(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The gravity that makes a weight of a mass."""

    gravity_m_s2: Annotated[float, msgspec.Meta(ge=9.7, le=9.9)]
    reason: str


class Allometry(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """With which power of the mass a force is divided."""

    exponent: Annotated[float, msgspec.Meta(ge=0.0, le=2.0)]
    reason: str


class WithinPct(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Limits of a relative error."""

    within_pct: Limit
    reason: str


class PadAngle(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How far the push may be from the axis of the sensor."""

    within_deg: Annotated[float, msgspec.Meta(ge=0.0, le=45.0)]
    reason: str


class LeverArm(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How well the lever arm is measured."""

    within_m: Limit
    reason: str


class Sides(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How sides are compared, and how large normal differences get."""

    index: Index
    threshold_pct: Limit
    reason: str
    normal_low_pct: float
    normal_high_pct: float
    normal_of: str
    normal_source: str


class ResultSettings(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename="kebab"):
    """All settings of results, each with its reason.

    Examples
    --------
    >>> standard = load_result_settings()
    >>> standard.pad_angle.within_deg, standard.sides.index.value
    (5.0, 'stronger')
    """

    name: str
    version: int
    score: ScoreRule
    coverage: Coverage
    body_weight: BodyWeight
    allometry: Allometry
    known_loads: WithinPct
    pad_angle: PadAngle
    lever_arm: LeverArm
    resting_force: WithinPct
    sides: Sides

    @property
    def hash(self) -> str:
        """The first 16 hexadecimal digits of the SHA-256 of the settings: equal settings, equal hash."""
        return content_hash(self)


def load_result_settings(name_or_path: str = "standard") -> ResultSettings:
    """Return the settings that come with the program, by name, or some of your own, by path.

    Raises
    ------
    SettingsError
        If there is no such file, a key is unknown, missing or of the wrong kind, or a value is out of its range.

    Examples
    --------
    >>> load_result_settings().known_loads.within_pct > 0.0
    True
    """
    return read_named(name_or_path, _read, folder=_folder(), kind="file of result settings", error=SettingsError)


def known_result_settings() -> tuple[str, ...]:
    """Return the names of the settings that come with the program.

    Examples
    --------
    >>> known_result_settings()
    ('mean-of-best-second', 'peak', 'standard')
    """
    return known_names(_folder())


def _read(path: Traversable) -> ResultSettings:
    return parse_toml(path, ResultSettings, error=SettingsError, otherwise=_tables_of_standard())


def _tables_of_standard() -> dict[str, Any]:
    text = read_text(_folder() / "standard.toml", error=SettingsError)
    return {key: table for key, table in tomllib.loads(text).items() if isinstance(table, dict)}


def _folder() -> Traversable:
    return resources.files("analysis") / "data" / "results"
