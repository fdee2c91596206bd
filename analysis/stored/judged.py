"""A trial with what it came to, as tables, pictures and JSON show it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from acquire.values.records import Trial
from analysis.trial.protocol import Protocol
from analysis.trial.verdict import Judgement, judge

TIMES = ("onset_s", "plateau_start_s", "plateau_end_s", "release_s")
"""The measures that are moments, not lengths."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedTrial:
    """One trial and its judgement."""

    trial: Trial
    judgement: Judgement
    name: str = ""
    """What to call it where its context does not say."""
    origin: float = 0.0
    """The file's time at the trial's first sample, s; 0 where a trial has a record of its own."""

    def as_json(self) -> dict[str, Any]:
        """Return the judgement as plain JSON values, with moments in the file's time."""
        content = self.judgement.as_json()
        for name in TIMES:
            if content[name] is not None:
                content[name] += self.origin
        return content


def judge_trial(trial: Trial, protocol: Protocol, *, name: str = "", origin: float = 0.0) -> JudgedTrial:
    """Return a trial with its judgement."""
    return JudgedTrial(trial=trial, judgement=judge(trial.trace(), protocol, trial.context), name=name, origin=origin)


def protocol_json(protocol: Protocol) -> dict[str, str]:
    """Return what names a protocol in every output."""
    return {"name": protocol.name, "hash": protocol.hash}
