"""The protocol: every limit that a trial is judged by, read from one versioned file."""

from __future__ import annotations

from functools import cache
from importlib import resources

import msgspec

from acquire.tomlfile import content_hash, known_names, named_or_path, parse_toml
from analysis.errors import ProtocolError


class Instruction(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What the person is asked to do."""

    ramp_least_s: float
    ramp_most_s: float
    hold_s: float


class NoEffort(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The level that an effort must exceed."""

    noise_sds: float
    force_n: float


class Preload(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Force before the onset, and what counts as a near-constant stretch."""

    window_s: float
    constant_pct_per_s: float
    constant_for_s: float
    warn_pct: float
    reject_pct: float


class Countermovement(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A dip below the baseline just before the onset."""

    window_s: float
    noise_sds: float
    warn_pct: float
    reject_pct: float


class Ramp(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Time from the onset to `level_pct` of the plateau."""

    level_pct: float
    warn_below_s: float
    warn_above_s: float
    reject_below_s: float
    reject_above_s: float


class Jerk(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The steepest `window_s` of the ramp."""

    window_s: float
    warn_pct_per_s: float
    reject_pct_per_s: float


class Hold(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The longest run within the band, and how much of it is the score."""

    smoothing_s: float
    band_pct: float
    score_s: float
    warn_below_s: float
    reject_below_s: float


class Percent(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A share of the plateau force, upper limits."""

    warn_pct: float
    reject_pct: float


class Trend(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Rise or fall of the hold, limits in both directions."""

    warn_pct_per_s: float
    reject_pct_per_s: float


class ExaminerPushed(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The shape of a break test: plateau, second rise, cliff."""

    plateau_s: float
    rise_pct: float
    rise_within_s: float
    fall_pct: float
    fall_within_s: float


class GaveWay(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Drops of an examiner who is overpowered."""

    drop_pct: float
    shortest_s: float
    recovery_s: float
    slide_pct_per_s: float
    warn_count: int
    reject_count: int


class Shake(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Root mean square of the plateau within a band of frequencies."""

    low_hz: float
    high_hz: float
    warn_pct: float
    reject_pct: float


class Clipped(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Samples at the sensor's limit."""

    reject_samples: int


class LostSamples(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Samples missing in the hold."""

    warn_samples: int
    reject_pct: float
    reject_gap_s: float


class ExaminerLimit(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hand-held plateau as a share of the examiner's own limit."""

    warn_pct: float


class SlowSensor(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Sample rate, lower limits."""

    warn_below_hz: float
    reject_below_hz: float


class SetRule(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How many trials make a set, and when it is good."""

    trials: int
    most_trials: int
    agreement_pct: float
    rest_least_s: float
    rest_s: float


class Protocol(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename="kebab"):
    """All limits of one protocol.

    Examples
    --------
    >>> standard = load_protocol()
    >>> standard.name, standard.jerk.reject_pct_per_s
    ('ramp-and-hold', 300.0)
    """

    name: str
    version: int
    instruction: Instruction
    no_effort: NoEffort
    preload: Preload
    countermovement: Countermovement
    ramp: Ramp
    jerk: Jerk
    stepped_ramp: Percent
    hold: Hold
    unsteady_hold: Percent
    trend: Trend
    overshoot: Percent
    examiner_pushed: ExaminerPushed
    gave_way: GaveWay
    shake: Shake
    zero_shift: Percent
    clipped: Clipped
    lost_samples: LostSamples
    examiner_limit: ExaminerLimit
    slow_sensor: SlowSensor
    set: SetRule

    @property
    def hash(self) -> str:
        """The first 16 hexadecimal digits of the SHA-256 of the limits: equal limits, equal hash."""
        return content_hash(self)


@cache
def load_protocol(name_or_path: str = "ramp-and-hold") -> Protocol:
    """Return a protocol that comes with the program, by name, or one of your own, by path.

    Raises
    ------
    ProtocolError
        If there is no such file, or a key is unknown, missing or of the wrong kind; names file and key.
    """
    folder = resources.files("analysis") / "data" / "protocols"
    path = named_or_path(name_or_path, folder=folder, kind="protocol", error=ProtocolError)
    return parse_toml(path, Protocol, error=ProtocolError)


def known_protocols() -> tuple[str, ...]:
    """Return the names of the protocols that come with the program."""
    folder = resources.files("analysis") / "data" / "protocols"
    return known_names(folder)
