"""A judgement as other programs read it: codes and numbers of the analysis, with the English sentences."""

from __future__ import annotations

from typing import Any

from acquire.values.units import ForceUnit
from analysis.trial.judged_trial import JudgedTrial
from ui.words.fault_text import fault_sentence
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
