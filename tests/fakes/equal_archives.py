"""Archives in which no examiner differs, drawn as columns: no traces, and nothing of `acquire.simulation`.

Every session has a bent of its own, the same in all of its trials: how often its trials break a rule is beta
distributed about what is usual for the action, so that any two trials of a session are correlated as asked. Numbers
have a session's part and a trial's part, with tails heavier than the normal law's.
"""

import numpy as np
from scipy import stats

from analysis.audit.table import FactTable, WordColumn
from analysis.trial.technique import NAMES

DAY = 86_400.0
RATES = (0.005, 0.01, 0.02, 0.03, 0.05, 0.08)
"""How often trials break each of six rules."""


def column(codes, letter):
    return WordColumn(words=tuple(f"{letter}{n}" for n in range(int(codes.max()) + 1)), codes=codes.astype(np.int32))


def equal_archive(rng, *, examiners=9, sessions=12, actions=12, trials=3, correlation=0.2, retested=1, shorter=1):
    """Every `retested` sessions of an examiner are of one person, who has the bent; E0 has sessions `shorter` times."""
    session = np.arange(examiners * sessions)
    length = np.where(session < sessions, max(1, actions * trials // shorter), actions * trials)
    of = np.repeat(session, length)
    bent = of // retested
    place = np.arange(len(of)) - np.repeat(np.cumsum(length) - length, length)
    action = place // trials
    usual = np.exp(rng.normal(0.0, 0.5, actions))
    faults = {
        f"rule-{n}": rng.random(len(of)) < _odds(rng, rate * usual, bent, action, correlation)
        for n, rate in enumerate(RATES)
    }
    technique = {}
    for name in NAMES:
        own, rest = rng.standard_t(5, int(bent.max()) + 1)[bent], rng.normal(size=len(of))
        mixed = np.sqrt(correlation) * own + np.sqrt(1.0 - correlation) * rest
        technique[name] = 1.5 + 0.1 * rng.normal(size=actions)[action] + 0.2 * mixed
    same, nothing = np.zeros(len(of), dtype=int), np.full(len(of), np.nan)
    return FactTable(
        file=column(of, "s"),
        number=(place + 1).astype(np.int32),
        person=column(bent, "P"),
        examiner=column(of // sessions, "E"),
        action=column(action, "a"),
        method=column(same, "hand"),
        side=column(same, "left"),
        sensor=column(same, "c"),
        started_s=DAY * (of % sessions) + 60.0 * place,
        rejected=np.any(list(faults.values()), axis=0),
        faults=faults,
        technique=technique,
        plateau_n=rng.normal(200.0, 40.0, len(of)),
        rest_s=nothing,
        zero_n=np.zeros(len(of)),
        newtons_per_count=np.ones(len(of)),
    )


def _odds(rng, rate, bent, action, correlation):
    if not correlation:
        return rate[action]
    level = rng.random(int(bent.max()) + 1)[bent]
    more = (1.0 - correlation) / correlation
    return stats.beta.ppf(level, rate[action] * more, (1.0 - rate[action]) * more)
