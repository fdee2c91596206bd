"""Sessions as one JSON object: contexts, results of the sets, and every trial with its measures and verdict."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import msgspec

from acquire.files.atomic import replace_file
from analysis.results.summary import SessionSummary
from analysis.trial.judged_trial import JudgedTrial
from ui.papers.report.occasion import Occasion
from ui.words.judgement_json import judgement_json
from ui.words.withheld_text import withheld_sentence
from ui.words.words import ENGLISH

SESSIONS = "sessions.json"
FORMAT, VERSION = "ramphold-export", 1


def write_plain(folder: Path, named: Sequence[tuple[str, Occasion]]) -> list[Path]:
    """Write `sessions.json`, whole or not at all; return where it is."""
    path = folder / SESSIONS
    content = msgspec.json.format(msgspec.json.encode(as_plain([occasion for _, occasion in named])), indent=1)
    replace_file(path, lambda aside: aside.write_bytes(content + b"\n"))
    return [path]


def as_plain(occasions: Sequence[Occasion]) -> dict[str, Any]:
    """Return sessions as plain JSON values; what is not known is null."""
    return {"format": FORMAT, "version": VERSION, "sessions": [_session(each) for each in occasions]}


def _session(occasion: Occasion) -> dict[str, Any]:
    return {
        "file": occasion.name,
        "results": _results(occasion.summary),
        "trials": [_trial(each) for each in occasion.trials],
    }


def _results(summary: SessionSummary) -> dict[str, Any]:
    """Return what a session comes to, with what the codes of withheld measures mean."""
    content: dict[str, Any] = msgspec.to_builtins(summary, str_keys=True)
    content["settings_hash"] = summary.settings.hash
    for result, plain in zip(summary.actions, content["actions"], strict=True):
        plain["set"]["withheld"] = {
            name: {str(number): withheld_sentence(reason, ENGLISH) for number, reason in lacking.items()}
            for name, lacking in result.set.withheld.items()
        }
        for unused, content_of in zip(result.set.unused, plain["set"]["unused"], strict=True):
            reason = content_of.pop("withheld") and unused.withheld
            content_of["reason"] = withheld_sentence(reason, ENGLISH) if reason else unused.reason
    return content


def _trial(judged: JudgedTrial) -> dict[str, Any]:
    trial = judged.trial
    return {
        "trial": judged.number,
        "context": msgspec.to_builtins(trial.context),
        "calibration": msgspec.to_builtins(trial.calibration),
        "zero_counts": trial.zero_counts,
        "damage": list(trial.damage),
        "set_aside": msgspec.to_builtins(trial.set_aside),
        "notes": msgspec.to_builtins(trial.notes),
        "judgement": judgement_json(judged),
    }
