"""How often an audit finds the habits that were put into invented archives, and how often it cries wolf.

Run as ``python tests/bench/bench_audit_power.py [ARCHIVES]`` (default 100). Each archive has nine examiners of 24
sessions of 8 trials with 60 persons: four with a habit each, five like all others.
"""

import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from acquire.simulation.archives import ArchivePlan, Examiner, invented_sessions
from analysis.audit.examiners import REJECTED, audit_examiners
from analysis.audit.facts import facts_of
from analysis.audit.table import fact_table
from analysis.trial.protocol import load_protocol

LIKE_OTHERS = tuple(f"LIKE-{number}" for number in range(5))
PLAN = ArchivePlan(
    examiners=(
        Examiner(code="HASTY", habits={"fast-ramp": 0.15}),
        Examiner(code="COACHED", habits={"short-hold": 0.25}, changes_after_days=90.0),
        Examiner(code="SLOW", ramp_s=1.8),
        Examiner(code="WEAK", limit_n=220.0),
        *(Examiner(code=code) for code in LIKE_OTHERS),
    ),
    sessions_each=24,
    trials_each=8,
    rate_hz=100.0,
    persons=60,
)


def found(seed):
    """Return what was found in one archive, 1 or 0 each, and false findings."""
    protocol = load_protocol()
    sessions = invented_sessions(Path(), PLAN, seed=seed)
    table = fact_table((str(path), facts_of(str(path), session, protocol).trials) for path, session in sessions)
    return judged({examiner.code: examiner for examiner in audit_examiners(table, rest_least_s=60.0)})


def judged(of):
    """Return what was found of the examiners of one archive."""
    like = [of[code] for code in LIKE_OTHERS]
    changes = [s.change for s in of["COACHED"].courses[REJECTED].signals if s.chart == "ewma"]
    return {
        "fast ramps in 15 % more trials": of["HASTY"].shares["fast-ramp"].finding,
        "short holds in 25 % more trials, for half of the time": of["COACHED"].shares["short-hold"].finding,
        "  seen to begin and to end": changes[:1] == ["above"] and "back" in changes,
        "ramps of 1.8 s where others' take 1.6 s": of["SLOW"].numbers["ramp_time_s"].finding,
        "a hand that holds 220 N": of["WEAK"].ceiling is not None,
        "false: a share of an examiner like all others": any(s.finding for e in like for s in e.shares.values()),
        "false: a number of one": any(n.finding for e in like for n in e.numbers.values()),
        "false: a ceiling of anybody else": any(e.ceiling is not None for e in of.values() if e.code != "WEAK"),
        "false: the rejected share of one signals above": any(
            s.change == "above" and s.chart == "ewma" for e in like for s in e.courses[REJECTED].signals
        ),
    }


def main():
    archives = int(sys.argv[1]) if sys.argv[1:] else 100
    with ProcessPoolExecutor() as pool:
        results = list(pool.map(found, range(archives)))
    print(f"of {archives} archives")
    for name in results[0]:
        print(f"{sum(bool(result[name]) for result in results):>5}  {name}")


if __name__ == "__main__":
    main()
