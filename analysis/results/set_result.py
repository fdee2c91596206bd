"""What the trials of one action and side come to: each measure over those that count, and why others do not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from analysis.results.sets import agreement_pct, set_state
from analysis.results.spread import Spread, spread
from analysis.trial.faults import Severity
from analysis.trial.judged_trial import Exclusion, JudgedTrial
from analysis.trial.measures import BANDED
from analysis.trial.protocol import SetRule
from analysis.trial.rfd import BANDS_MS
from analysis.trial.verdict import Judgement
from analysis.trial.withheld import Reason

BANDS = tuple(f"{name}.0-{band}" for name in BANDED for band in BANDS_MS)

HIGHEST = ("plateau_force_n", "peak_force_n", "peak_rfd_n_per_s", *BANDS)
"""Measures of which the highest is the best; a rate from the trial with the best rate, not with the best plateau
(reproducibility of knee extensors, J Hum Kinet 50:15)."""

OTHERS = (
    "time_to_peak_s",
    "ramp_time_s",
    "rise_10_90_s",
    "time_to_50_pct_s",
    "ramp_slope_n_per_s",
    "hold_time_s",
    "hold_cv_pct",
    "hold_trend_pct_per_s",
    "fatigue_index_pct",
    "impulse_n_s",
)
"""Measures that say how the effort was made: no value is the best. Moments and the zero are not summed up."""


SIGNED = frozenset({"hold_trend_pct_per_s", "fatigue_index_pct"})


class Unused(msgspec.Struct, frozen=True, kw_only=True):
    """A trial that does not count."""

    trial: int
    why: Exclusion
    codes: tuple[str, ...] = ()
    """The faults that reject it, also when it was set aside."""
    reason: str = ""
    """What the person said who set it aside."""
    by: str = ""
    """Code of that person."""
    withheld: Reason | None = None
    """Why there is no plateau force, where that is why it does not count."""


class SetResult(msgspec.Struct, frozen=True, kw_only=True):
    """The trials of one action and side, summed up."""

    used: tuple[int, ...]
    """Numbers of the trials that count."""
    unused: tuple[Unused, ...]
    agreement_pct: float | None
    """How far the second-best plateau lies below the best, %; None for fewer than two."""
    complete: bool
    """Whether there are enough accepted trials, and they agree as closely as the protocol asks."""
    measures: dict[str, Spread]
    """Each measure that at least one of the trials has, by its name; a band of rates as ``rfd_n_per_s.0-100``."""
    withheld: dict[str, dict[int, Reason]]
    """For each measure, the trials that count but lack it, with the reason."""

    @property
    def plateau(self) -> Spread | None:
        """The plateau forces, N; None when no trial counts."""
        return self.measures.get("plateau_force_n")

    @property
    def peak(self) -> Spread | None:
        """The peak forces, N; None when no trial counts."""
        return self.measures.get("peak_force_n")


def set_result(trials: Sequence[JudgedTrial], rule: SetRule) -> SetResult:
    """Return what the trials of one action, side and method come to.

    Parameters
    ----------
    trials : sequence of JudgedTrial
        All of them, those set aside too.
    rule : SetRule
        When a set is complete.

    Examples
    --------
    >>> from analysis.stored.traces import read_trials
    >>> from analysis.trial.judged_trial import judge_trial
    >>> from analysis.trial.protocol import load_protocol
    >>> protocol = load_protocol()
    >>> judged = judge_trial(read_trials("sample_traces/good.csv")[0], protocol, number=1)
    >>> result = set_result([judged], protocol.set)
    >>> result.used, result.complete, round(result.measures["plateau_force_n"].best)
    ((1,), False, 252)
    """
    used = [each for each in trials if each.counts]
    plateaus = [each.plateau_n for each in used]
    kept = sum(not each.trial.is_aside for each in trials)
    names = (*HIGHEST, *OTHERS)
    spreads = {name: _spread(used, name) for name in names}
    return SetResult(
        used=tuple(each.number for each in used),
        unused=tuple(_unused(each, why) for each in trials if (why := each.excluded) is not None),
        agreement_pct=agreement_pct(plateaus),
        complete=set_state(plateaus, kept, rule).complete,
        measures={name: found for name, found in spreads.items() if found is not None},
        withheld={name: lacking for name in names if (lacking := _lacking(used, name))},
    )


def _unused(judged: JudgedTrial, why: Exclusion) -> Unused:
    codes = tuple(fault.code for fault in judged.faults if fault.severity is Severity.REJECT)
    if why is Exclusion.SET_ASIDE:
        decision = judged.trial.set_aside[-1]
        return Unused(trial=judged.number, why=why, codes=codes, reason=decision.reason, by=decision.by)
    withheld = judged.judgement.withheld.get("plateau_force_n") if why is Exclusion.WITHHELD else None
    return Unused(trial=judged.number, why=why, codes=codes, withheld=withheld)


def _value(judgement: Judgement, name: str) -> float | None:
    measure, _, band = name.partition(".")
    value = getattr(judgement.measures, measure)
    found: float | None = value.get(band) if isinstance(value, Mapping) else value
    return found


def _spread(used: Sequence[JudgedTrial], name: str) -> Spread | None:
    pairs = [(each.number, value) for each in used if (value := _value(each.judgement, name)) is not None]
    if not pairs:
        return None
    numbers, values = zip(*pairs, strict=True)
    return spread(numbers, values, highest_is_best=name in HIGHEST, signed=name in SIGNED)


def _lacking(used: Sequence[JudgedTrial], name: str) -> dict[int, Reason]:
    return {each.number: each.judgement.withheld[name] for each in used if _value(each.judgement, name) is None}
