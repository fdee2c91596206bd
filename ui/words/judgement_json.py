"""A judgement as other programs read it: codes and numbers of the analysis, with the English sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from acquire.values.units import ForceUnit
from analysis.trial.judged_trial import JudgedTrial
from analysis.trial.protocol import Protocol
from ui.words.fault_text import fault_sentence
from ui.words.remark_text import remark_text
from ui.words.withheld_text import withheld_sentence
from ui.words.words import ENGLISH


def judgement_json(judged: JudgedTrial) -> dict[str, Any]:
    """Return a judgement as plain JSON values: what `JudgedTrial.as_json` gives, with sentences for its codes."""
    content = judged.as_json()
    for fault, said in zip(judged.judgement.faults, content["faults"], strict=True):
        said["text"] = fault_sentence(fault, ENGLISH, ForceUnit.NEWTON)
    content["withheld"] = {
        name: withheld_sentence(reason, ENGLISH) for name, reason in judged.judgement.withheld.items()
    }
    return content


def trial_json(judged: JudgedTrial) -> dict[str, Any]:
    """Return a judgement as other programs read it, with the resting force, and, where the trial is set aside, why.

    What the end of the recording cut off has no verdict and no faults: the person was not finished.
    """
    content = judgement_json(judged)
    if judged.cut_off is not None:
        content |= {"verdict": None, "faults": []}
    if judged.trial.resting_n:
        content |= {"resting_force_n": judged.trial.resting_n}
    reason = aside_reason(judged)
    return content if reason is None else content | {"set_aside": reason}


def recorded_as(judged: JudgedTrial, protocol: Protocol) -> dict[str, Any] | None:
    """Return what a trial came to when it was recorded; None where nothing is stored, or nothing differs from now."""
    stored: Mapping[str, Any] = judged.trial.verdict or {}
    by = stored.get("protocol") or {}
    same = (stored.get("verdict"), by.get("hash")) == (judged.judgement.verdict, protocol.hash)
    if same or stored.get("verdict") is None or judged.cut_off is not None:
        return None
    return {"verdict": stored["verdict"], "protocol": dict(by)}


def aside_reason(judged: JudgedTrial) -> str | None:
    """Return why a trial is set aside, by somebody or by the program; None where it is not."""
    if judged.trial.is_aside:
        return remark_text(judged.trial.set_aside[-1].reason, ENGLISH)
    return None if judged.cut_off is None else remark_text(judged.cut_off, ENGLISH)


def verdict_word(judged: JudgedTrial) -> str:
    """Return the verdict; what the end of the recording cut off has none."""
    return judged.judgement.verdict if judged.cut_off is None else "set aside"
