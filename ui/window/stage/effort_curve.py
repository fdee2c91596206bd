"""Which curve is shown in a session: the effort against what is asked and the trials before, or the last minute."""

from __future__ import annotations

from collections.abc import Sequence

from ui.model.stage.earlier import Ghost, earlier_trials
from ui.model.stage.hint import hint
from ui.model.stage.target import target_of
from ui.model.stage.text import ASKS
from ui.session.cues import EFFORT, Cue
from ui.session.engine import View
from ui.session.live import LiveSession
from ui.window.stage.trace_view import EFFORT_SPAN, MINUTE_SPAN, TraceView

STILL = {*ASKS, Cue.LOST}
"""In these the last trial stays on the screen, in the band it had."""


class EffortCurve:
    """Draws the stream of a session on the examiner's curve, and on that of the person who pushes."""

    def __init__(self, curve: TraceView) -> None:
        self._curve = curve
        self._ghosts: tuple[object, tuple[Ghost, ...]] = (None, ())

    def show(self, session: LiveSession, view: View, others: Sequence[TraceView]) -> str | None:
        """Draw what there is now.

        Parameters
        ----------
        session : LiveSession
            Whose stream is drawn.
        view : View
            Where the session stands.
        others : sequence of TraceView
            Further curves that show the effort too.

        Returns
        -------
        str or None
            The hint that helps now, empty where none does; None where the effort was not looked at.
        """
        curve = self._curve
        if curve.span is MINUTE_SPAN:
            curve.show_trace(*session.view.recent(MINUTE_SPAN.length))
            return None
        if view.cue in STILL and curve.has_trace:
            return None
        seconds, force = session.view.recent(EFFORT_SPAN.length)
        seconds = seconds + session.into_effort()
        kept = seconds >= EFFORT_SPAN.start
        seconds, force = seconds[kept], force[kept]
        before = max(view.item.plateaus(), default=None)
        asked = session.engine.protocol
        pushed = force if view.cue in EFFORT else force * 0.0
        target = target_of(asked, seconds, pushed, level_s=view.level_s, before_n=before)
        shown = None if view.cue is Cue.HALTED else target  # of an effort that was ended, nothing is asked any more
        for each in (curve, *others):
            each.show_before(self._earlier(session, view), before)
            each.show_target(shown)
            each.show_trace(seconds, force)
        return hint(asked, seconds, force, target) if view.cue in {Cue.BUILD, Cue.HOLD} else ""

    def change_span(self) -> None:
        """Show the last minute of the stream, or the effort again."""
        self._curve.show_span(EFFORT_SPAN if self._curve.span is MINUTE_SPAN else MINUTE_SPAN)

    def _earlier(self, session: LiveSession, view: View) -> tuple[Ghost, ...]:
        """Return the last trials of the set, made anew only where they have changed."""
        results = view.item.results
        if self._ghosts[0] is not results:
            stored = [(at + 1, result.stored) for at, result in enumerate(results)]
            trials = [(number, session.store.session.trials[at]) for number, at in stored if at is not None]
            self._ghosts = (results, earlier_trials(trials, start=EFFORT_SPAN.start, stop=EFFORT_SPAN.stop))
        return self._ghosts[1]
