"""Archives of invented sessions: examiners with known habits, so that an audit can be tried on what was put in.

Nobody's data: persons, examiners and forces are made up, by a seed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import numpy as np

from acquire.simulation.efforts import FAULTY, GOOD, Effort, simulate
from acquire.storage.session_file import write_session
from acquire.values.calibration import Calibration
from acquire.values.records import Method, Person, Session, SessionContext, Side, Trial, TrialContext

COUNTS_PER_N = 4200.0
SENSOR = "simulated"
BEGAN = datetime(2026, 1, 5, 8, 0, tzinfo=UTC)
HOURS = 24.0
SIDES: tuple[Side, ...] = ("left", "right")
STRENGTHS_N: dict[str, float] = {
    "shoulder-abduction": 130.0,
    "shoulder-external-rotation": 110.0,
    "elbow-flexion": 200.0,
    "hip-abduction": 190.0,
    "knee-extension": 420.0,
    "ankle-dorsiflexion": 210.0,
}
"""Mean forces of the invented persons."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Examiner:
    """How one invented examiner works."""

    code: str
    habits: dict[str, float] = field(default_factory=dict)
    """Share of trials with each fault, above the usual share; keys of `acquire.simulation.efforts.FAULTY`."""
    limit_n: float = math.inf
    """No plateau held by hand gets higher: the hand gives way."""
    ramp_s: float = 1.6
    """Usual time of the ramp that they coach."""
    changes_after_days: float = math.inf
    """From then on the habits are gone: somebody coached them."""


USUAL: dict[str, float] = {"fast-ramp": 0.03, "short-hold": 0.03, "overshoot": 0.02, "preload": 0.02, "shake": 0.02}
"""What happens to everybody."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchivePlan:
    """What an invented archive holds."""

    examiners: tuple[Examiner, ...]
    sessions_each: int = 12
    trials_each: int = 8
    """Trials a session, shared among one or two actions and both sides."""
    rate_hz: float = 200.0
    days: float = 180.0
    persons: int = 40
    paired: bool = False
    """Whether two examiners test each person, for a study of their agreement."""


def write_archive(folder: str | Path, plan: ArchivePlan, *, seed: int = 0) -> int:
    """Write an archive of invented sessions, one folder an examiner, and return how many.

    Parameters
    ----------
    folder : str or Path
        Where; made if it is not there.
    plan : ArchivePlan
        Who tests whom, how often, with what habits.
    seed : int
        Same seed, same archive.
    """
    count = 0
    for path, session in invented_sessions(Path(folder), plan, seed=seed):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_session(path, session)
        count += 1
    return count


def invented_sessions(root: Path, plan: ArchivePlan, *, seed: int = 0) -> Iterator[tuple[Path, Session]]:
    """Yield each session of a plan with its path; one at a time."""
    strengths = np.random.default_rng(seed).lognormal(0.0, 0.25, plan.persons)
    for place, examiner in enumerate(plan.examiners):
        chance = np.random.default_rng([seed, place])
        for number in range(plan.sessions_each):
            person = number % plan.persons if plan.paired else int(chance.integers(plan.persons))
            day = plan.days * (number + 0.5) / plan.sessions_each
            visit = _Visit(person, float(strengths[person]), day + place / HOURS)
            session = _session(plan, examiner, visit, chance)
            yield root / examiner.code / f"{number:05d}.h5", session


@dataclass(frozen=True, slots=True)
class _Visit:
    person: int
    strength: float
    day: float


def _session(plan: ArchivePlan, examiner: Examiner, visit: _Visit, chance: np.random.Generator) -> Session:
    began = BEGAN + timedelta(days=visit.day)
    actions = list(STRENGTHS_N)
    chosen = actions[visit.person % len(actions)] if plan.paired else actions[int(chance.integers(len(actions)))]
    trials: list[Trial] = []
    at = began
    for number in range(plan.trials_each):
        side = SIDES[number % 2]
        trial = _trial(plan, examiner, visit, chance, _Place(chosen, side, at))
        trials.append(trial)
        at += timedelta(seconds=float(trial.time[-1]) + 30.0 + 15.0 * chance.random())
    context = SessionContext(
        session=f"{chance.integers(1 << 62):016x}",
        started=began,
        person=Person(code=f"P-{visit.person:03d}"),
        examiner=examiner.code,
        sensor=SENSOR,
        program_version="invented",
        invented=True,
    )
    return Session(context=context, trials=tuple(trials))


@dataclass(frozen=True, slots=True)
class _Place:
    action: str
    side: Side
    at: datetime


def _trial(plan: ArchivePlan, examiner: Examiner, visit: _Visit, chance: np.random.Generator, place: _Place) -> Trial:
    method: Method = "belt" if place.action == "knee-extension" and math.isinf(examiner.limit_n) else "hand"
    wanted = STRENGTHS_N[place.action] * visit.strength * float(chance.normal(1.0, 0.04))
    effort = _effort(examiner, visit.day, chance)
    effort = msgspec.structs.replace(effort, plateau_n=_held(wanted, examiner, method, chance))
    trace = simulate(effort, rate_hz=plan.rate_hz, seed=int(chance.integers(1 << 31))).trace
    there = ~np.isnan(trace.force)
    return Trial(
        time=trace.time[there],
        counts=np.rint(trace.force[there] * COUNTS_PER_N).astype(np.int32),
        calibration=Calibration(newtons_per_count=1.0 / COUNTS_PER_N, rated_force_n=1000.0),
        zero_counts=0.0,
        context=TrialContext(
            action=place.action, side=place.side, method=method, examiner=examiner.code, started=place.at
        ),
    )


def _held(wanted: float, examiner: Examiner, method: Method, chance: np.random.Generator) -> float:
    """Return the force that is reached: a hand holds no more than it can, give or take a little."""
    most = examiner.limit_n * float(chance.normal(1.0, 0.015)) if method == "hand" else math.inf
    return min(wanted, most)


def _effort(examiner: Examiner, day: float, chance: np.random.Generator) -> Effort:
    shares = dict(USUAL)
    if day < examiner.changes_after_days:
        for code, share in examiner.habits.items():
            shares[code] = shares.get(code, 0.0) + share
    drawn, passed = float(chance.random()), 0.0
    for code, share in shares.items():
        passed += share
        if drawn < passed:
            return FAULTY[code]
    ramp = float(np.clip(chance.normal(examiner.ramp_s, 0.15), 1.1, 2.2))
    return msgspec.structs.replace(GOOD, ramp_s=ramp)
