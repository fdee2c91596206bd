"""The protocol: every limit that a trial is judged by, read from one versioned file.

A rule is switched off by a limit that nothing reaches: 0 where it is a lower one, a large number where it is an upper.
"""

from __future__ import annotations

import math
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Annotated

import msgspec
from msgspec import Meta

from acquire.files.named_file import known_names, read_named
from acquire.files.tomlfile import content_hash, parse_toml
from analysis.errors import ProtocolError

Length = Annotated[float, Meta(gt=0, le=600)]
"""A stretch of time that is looked at, s; no effort is longer."""
BlockLength = Annotated[float, Meta(ge=0.1, le=600)]
"""A stretch of a force seen in blocks of 50 ms, s; two of them at least."""
Limit = Annotated[float, Meta(ge=0)]
"""What is measured is compared with it."""
Level = Annotated[float, Meta(gt=0, le=100)]
"""A share of a force that is reached or lost, %."""
Frequency = Annotated[float, Meta(gt=0)]
Count = Annotated[int, Meta(ge=1)]


class Finite(msgspec.Struct, frozen=True):
    """Settings whose numbers are numbers."""

    def __post_init__(self) -> None:
        for name in self.__struct_fields__:
            value = getattr(self, name)
            if isinstance(value, float) and not math.isfinite(value):
                raise ValueError(f"{name} must be a finite number, got {value}")


class Instruction(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What the person is asked to do."""

    ramp_least_s: Limit
    ramp_most_s: Length
    hold_s: Length

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.ramp_most_s < self.ramp_least_s:
            raise ValueError(f"ramp_most_s must be {self.ramp_least_s:g} s at least, got {self.ramp_most_s:g}")


class NoEffort(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The level that an effort must exceed."""

    noise_sds: Limit
    force_n: Limit


class Preload(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Force before the onset, and what counts as a near-constant stretch."""

    window_s: Length
    constant_pct_per_s: Limit
    constant_for_s: Length
    warn_pct: Limit
    reject_pct: Limit


class Countermovement(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A dip below the baseline just before the onset."""

    window_s: Length
    noise_sds: Limit
    warn_pct: Limit
    reject_pct: Limit


class Ramp(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Time from the onset to `level_pct` of the plateau, and from 10 to 90 % of it."""

    level_pct: Level
    warn_below_s: Limit
    warn_above_s: Limit
    reject_below_s: Limit
    reject_above_s: Limit
    rise_warn_below_s: Limit
    rise_reject_below_s: Limit


class SteepestRise(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The steepest `window_s` of the ramp."""

    window_s: Length
    warn_pct_per_s: Limit
    reject_pct_per_s: Limit


class Hold(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The longest run within the band, and how much of it is the score."""

    smoothing_s: Length
    band_pct: Level
    score_s: Length
    warn_below_s: Limit
    reject_below_s: Limit


class Percent(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A share of the plateau force, upper limits."""

    warn_pct: Limit
    reject_pct: Limit


class HoldTrend(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Rise or fall of the hold, limits in both directions."""

    warn_pct_per_s: Limit
    reject_pct_per_s: Limit


class ExaminerPushed(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The shape of a break test: plateau, second rise, cliff."""

    plateau_s: BlockLength
    rise_pct: Limit
    rise_within_s: BlockLength
    fall_pct: Level
    fall_within_s: BlockLength
    top_s: BlockLength
    push_on_s: BlockLength


class GaveWay(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Drops of an examiner who is overpowered."""

    drop_pct: Limit
    shortest_s: Length
    recovery_s: Length
    fall_pct_per_s: Limit
    slide_pct_per_s: Limit
    warn_count: Count
    reject_count: Count


class Tremor(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Root mean square of the plateau within a band of frequencies."""

    low_hz: Frequency
    high_hz: Frequency
    warn_pct: Limit
    reject_pct: Limit

    def __post_init__(self) -> None:
        super().__post_init__()
        if not self.low_hz < self.high_hz:
            raise ValueError(f"high_hz must be above low_hz, got {self.low_hz} to {self.high_hz} Hz")


class Clipped(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Samples at the sensor's limit."""

    reject_samples: Count


class LostSamples(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Samples missing in the hold."""

    warn_samples: Count
    reject_pct: Limit
    reject_gap_s: Limit


class ExaminerLimit(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hand-held plateau as a share of the examiner's own limit."""

    warn_pct: Limit


class SlowSensor(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Sample rate, lower limits."""

    warn_below_hz: Limit
    reject_below_hz: Limit


class SetRule(Finite, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How many trials make a set, and when it is good."""

    trials: Count
    most_trials: Count
    agreement_pct: Limit
    rest_least_s: Limit
    rest_s: Limit

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.most_trials < self.trials:
            raise ValueError(f"most_trials must be {self.trials} trials at least, got {self.most_trials}")
        if self.rest_s < self.rest_least_s:
            raise ValueError(f"rest_s must be {self.rest_least_s:g} s at least, got {self.rest_s:g}")


class Protocol(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename="kebab"):
    """All limits of one protocol.

    Examples
    --------
    >>> standard = load_protocol()
    >>> standard.name, standard.steepest_rise.reject_pct_per_s
    ('ramp-and-hold', 300.0)
    """

    name: str
    version: int
    instruction: Instruction
    no_effort: NoEffort
    preload: Preload
    countermovement: Countermovement
    ramp: Ramp
    steepest_rise: SteepestRise = msgspec.field(name="jerk")
    stepped_ramp: Percent
    hold: Hold
    unsteady_hold: Percent
    trend: HoldTrend
    overshoot: Percent
    examiner_pushed: ExaminerPushed
    gave_way: GaveWay
    tremor: Tremor = msgspec.field(name="shake")
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


def load_protocol(name_or_path: str = "ramp-and-hold") -> Protocol:
    """Return a protocol that comes with the program, by name, or your own, by path.

    The file is read at each call: after you have changed it, trials are judged by its new limits.

    Raises
    ------
    ProtocolError
        If there is no such file, or a key is unknown, missing, of the wrong kind or out of range; names file and key.

    Examples
    --------
    A ramp of more than this many seconds is rejected.

    >>> load_protocol("ramp-and-hold").ramp.reject_above_s
    2.5
    """
    return read_named(name_or_path, _read, folder=_folder(), kind="protocol", error=ProtocolError)


def known_protocols() -> tuple[str, ...]:
    """Return the names of the protocols that come with the program.

    Examples
    --------
    >>> known_protocols()
    ('brief', 'fast', 'ramp-and-hold')
    """
    return known_names(_folder())


def _read(path: Traversable) -> Protocol:
    return parse_toml(path, Protocol, error=ProtocolError)


def _folder() -> Traversable:
    return resources.files("analysis") / "data" / "protocols"


def protocol_json(protocol: Protocol) -> dict[str, str]:
    """Return what names a protocol in every output: its name, and a hash of its limits.

    Examples
    --------
    >>> named = protocol_json(load_protocol())
    >>> named["name"], len(named["hash"])
    ('ramp-and-hold', 16)
    """
    return {"name": protocol.name, "hash": protocol.hash}
