"""What the examiner hears, and the verdict that stands in the place of the cue for a moment."""

from __future__ import annotations

from collections.abc import Callable

from analysis.trial.judged_trial import JudgedTrial
from ui.model.stage.hint import URGENT, HintWatch
from ui.model.stage.text import TestText
from ui.model.stage.verdict_text import Banner, banner_of
from ui.session.cues import ASKED, Cue
from ui.window.stage.sound import Sound, SoundState
from ui.words.fault_text import fault_advice
from ui.words.words import Words

NO_VERDICT = {*ASKED, Cue.HALTED, Cue.LOST, Cue.RECORD}
"""In these the cue is more urgent than the verdict of the last trial."""
VERDICT_S = 4.0
"""So long the verdict stands in the place of the cue, unless a key is pressed."""


class Announcer:
    """Says and sounds cues, hints and verdicts; the last verdict stays for a moment.

    Parameters
    ----------
    words : Words
        The language in which it speaks.
    sound : Sound
        What plays tones and speaks.
    clock : callable
        Monotonic seconds.
    """

    def __init__(self, words: Words, sound: Sound, clock: Callable[[], float]) -> None:
        self._words, self._sound, self._clock = words, sound, clock
        self._hints = HintWatch()
        self._banner: Banner | None = None
        self._until = 0.0
        self.banner_n: float | None = None
        """The force of the trial whose verdict was told last, N."""

    @property
    def sound_state(self) -> SoundState:
        """Whether tones and speech are heard."""
        return self._sound.state

    @property
    def hint(self) -> str:
        """The code of what helps now; empty where nothing does."""
        return self._hints.shown

    def cue(self, cue: Cue, what: str) -> None:
        """Announce another cue; `what` is the action and side of the trial."""
        self._sound.play(Cue.STOP.value if cue is Cue.HALTED else cue.value)
        if cue is not Cue.BUILD:
            self._sound.say(self._words(f"say.{cue.value}", what=what))

    def contact(self) -> None:
        """Announce that something pressed the pad."""
        self._sound.say(self._words("test.contact"))

    def see_hint(self, found: str) -> None:
        """Take what helps now; a hint that asks for a change is heard."""
        if self._hints.see(self._clock(), found):
            self._sound.play(URGENT[found])
            self._sound.say(self._words(f"hint.{found}"))

    def verdict(self, judged: JudgedTrial, text: TestText) -> None:
        """Announce a verdict, and let it stand in the place of the cue."""
        self._banner, self._until = banner_of(judged, text), self._clock() + VERDICT_S
        self.banner_n = _force_of(judged)
        good = self._banner.accepted
        why = "" if good else fault_advice(judged.judgement.faults[0], self._words)
        self._sound.play("accepted" if good else "rejected")
        self._sound.say(self._words("say.accepted" if good else "say.rejected", why=why))

    def banner(self, cue: Cue) -> Banner | None:
        """Return the verdict that stands in the place of a cue; None where its time is over or the cue is urgent."""
        if self._clock() >= self._until or cue in NO_VERDICT:
            self.drop_banner()
        return self._banner

    def drop_banner(self) -> None:
        """Let the cue stand in its place again."""
        self._banner = None


def _force_of(judged: JudgedTrial) -> float | None:
    """Return what a trial gave, N: its plateau, or where it has none its peak."""
    measures = judged.judgement.measures
    return measures.peak_force_n if measures.plateau_force_n is None else measures.plateau_force_n
