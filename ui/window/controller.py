"""What happens between the places: a plan begins a session, a finished session is reviewed."""

from __future__ import annotations

from pathlib import Path

from PyQt6.QtCore import QObject

from acquire.errors import AcquireError
from acquire.simulation.efforts import Effort
from analysis.battery.actions import load_actions
from analysis.errors import AnalysisError
from analysis.results.settings import ResultSettings, load_result_settings
from analysis.sensor_check import load_check_limits
from ui.model.check.note import SensorWatch, known_as, sensor_name
from ui.model.plan.plan import PlanDraft
from ui.model.plan.remembered import Remembered
from ui.model.plan.starting import start_session
from ui.papers.report.occasion import occasion_of
from ui.papers.report.write import make_report, places_of, write_report
from ui.session.live import LiveSession
from ui.session.simulated_person import DEMO_EFFORTS
from ui.window.main_window import MainWindow
from ui.window.widgets.connecting import opened_aside
from ui.window.widgets.replacing import may_replace
from ui.words.error_text import error_text
from ui.words.local_time import local_now


class Controller(QObject):
    """Connects the places of a window.

    Parameters
    ----------
    window : MainWindow
        The places.
    remembered : Remembered
        What the program remembers between starts.
    efforts : tuple of Effort
        What the invented person on the simulated sensor does.
    speed : float
        How fast that person lives.
    """

    def __init__(
        self,
        window: MainWindow,
        remembered: Remembered,
        *,
        efforts: tuple[Effort, ...] = DEMO_EFFORTS,
        speed: float = 1.0,
    ) -> None:
        super().__init__(window)
        self._window, self._remembered = window, remembered
        self._efforts, self._speed = efforts, speed
        self._watch: SensorWatch | None = None
        self._settings: ResultSettings | None = None
        self._warned = False
        """Whether it was shown that the session cannot be saved."""
        window.plan.begin.connect(self.begin)
        window.test.finished.connect(self.finish)
        window.test.report_asked.connect(self.make_report)
        window.test.next_asked.connect(self.next_person)
        window.on_close = self.close

    def begin(self, draft: PlanDraft) -> None:
        """Begin the session of a plan, or say in Plan why it cannot; a session that is being recorded goes on."""
        if self._window.test.session is not None:
            self._window.plan.show_trouble(self._window.words("plan.recording"))
            return
        try:
            self._settings = load_result_settings(draft.results)
            session = opened_aside(
                lambda cancelled: start_session(draft, efforts=self._efforts, speed=self._speed, cancelled=cancelled),
                draft,
                self._window.words,
                self._window,
            )
        except (AcquireError, AnalysisError, OSError) as error:
            self._window.plan.show_trouble(error_text(error, self._window.words))
            return
        self._watch = None if session.store.session.context.invented else self._watch_of(draft)
        self._remembered.begun(draft)
        self._window.plan.keep_look(kept=True)
        self._window.test.view.hide_number(draft.hide_number)
        self._window.test.begin(session, load_actions(draft.actions), self._settings)
        self._window.go("test")

    def finish(self) -> None:
        """Show what was recorded; the session is complete, or stays where it is while it cannot be saved."""
        path = self._end()
        if path is not None:
            self._review(path)

    def next_person(self) -> None:
        """End the session and plan that of the next person."""
        if self._end() is not None:
            self._window.plan.show_draft(self._remembered.fresh_draft())
            self._window.go("plan")

    def make_report(self) -> None:
        """Write the report of the session that is done; one that is there is replaced only where that is confirmed."""
        session = self._window.test.session
        if session is None:
            return
        places, words = places_of(session.store.path, None), self._window.words
        if not may_replace(places, words, self._window):
            return
        try:
            occasion = occasion_of(
                session.store.session,
                session.store.protocol,
                settings=self._settings,
                name=session.store.path.name,
            )
            write_report(
                make_report(occasion, session.store.protocol, words=words, unit=self._window.plan.draft.unit), places
            )
        except (AcquireError, AnalysisError) as error:
            self._window.test.tell(str(error))
            return
        self._window.test.tell(words("stage.report_is", pdf=places.pdf))

    def _end(self) -> Path | None:
        """End the session and return where its file is; None where it cannot be saved yet."""
        session = self._window.test.session
        path = session.store.path if session is not None else None
        if not self._window.test.end():
            return None
        self._note_zero(session)
        self._remembered.ended()
        self._window.plan.keep_look(kept=False)
        self._window.plan.renew()
        return path

    def _watch_of(self, draft: PlanDraft) -> SensorWatch | None:
        """Return what keeps the zero of a session's sensor; None when it cannot be told which one it is."""
        log = self._window.plan.checks.log
        sensor = sensor_name(draft.sensor, draft.calibration)
        return None if sensor is None else SensorWatch(log, known_as(log, sensor), load_check_limits())

    def _note_zero(self, session: LiveSession | None) -> None:
        """Keep the zero of a session: Plan says when it has moved since the last check."""
        if self._watch is not None and session is not None and session.trials:
            self._watch.see(session.trials[-1].trial.zero_counts, local_now())

    def close(self) -> bool:
        """Save what is under way, and return whether the window may close; the next start offers to go on.

        Where it cannot be saved, that is shown first; the second time the window closes all the same, since the
        journal has everything and the next start takes it from there.
        """
        if not self._window.test.end() and not self._warned:
            self._warned = True
            self._window.go("test")
            return False
        self._window.test.be_silent()
        return True

    def _review(self, path: Path) -> None:
        if path.exists():
            self._window.review.show_session(path)
        self._window.go("review")
