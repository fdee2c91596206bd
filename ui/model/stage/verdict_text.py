"""The verdict in giant letters: one to three words, and what to do now."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.trial.judged_trial import JudgedTrial
from ui.model.stage.text import NOTHING, TestText
from ui.words.fault_text import fault_name


@dataclass(frozen=True, slots=True)
class Banner:
    """A verdict, to be read from three metres."""

    word: str
    """The force of a trial that was accepted, or what was wrong."""
    advice: str
    """What to do now; of an accepted trial its warning, where it has one."""
    accepted: bool


def banner_of(judged: JudgedTrial, text: TestText) -> Banner:
    """Return the verdict on a trial; without its force where the person tested must see none."""
    judgement, words = judged.judgement, text.words
    if judgement.verdict == "rejected":
        code = judgement.faults[0].code
        return Banner(words(f"verdict.word.{code}"), words(f"verdict.advice.{code}"), accepted=False)
    force = text.force(judgement.measures.plateau_force_n)
    accepted = words("test.accepted")
    warning = "".join(f": {fault_name(fault.code, words)}" for fault in judgement.faults[:1])
    if judged.trial.resting_n and force != NOTHING:
        rested = f"{text.force(judged.trial.resting_n)} {text.unit.symbol}"
        warning += f"; {words('test.resting', force=rested)}"
    if force == NOTHING:
        return Banner(accepted.upper(), warning.removeprefix(": "), accepted=True)
    return Banner(f"{force} {text.unit.symbol}", accepted + warning, accepted=True)
