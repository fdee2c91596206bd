"""A judgement as other programs read it: codes and numbers of the analysis, with the English sentence of each fault."""

from __future__ import annotations

from typing import Any

from acquire.values.units import ForceUnit
from analysis.trial.judged_trial import JudgedTrial
from ui.words.fault_text import fault_sentence
from ui.words.words import Words


def judgement_json(judged: JudgedTrial) -> dict[str, Any]:
    """Return a judgement as plain JSON values: as `JudgedTrial.as_json`, and each fault with its `text`, in newtons."""
    content, english = judged.as_json(), Words()
    for fault, said in zip(judged.judgement.faults, content["faults"], strict=True):
        said["text"] = fault_sentence(fault, english, ForceUnit.NEWTON)
    return content
