"""A sensor that nobody has described is described in a dialog: it says what to do, step by step, while it listens."""

from __future__ import annotations

import queue
import re
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import msgspec
from PyQt6.QtCore import QTimer, pyqtSignal
from PyQt6.QtWidgets import QComboBox, QDialog, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from acquire.discovery import Known, Legibility, Proposal
from acquire.discovery.listening import Attempt
from acquire.errors import AcquireError
from acquire.links.base import Link
from acquire.sensor.profile_text import save_profile
from acquire.values.units import ForceUnit
from ui.session.describe_sensor import Observation, baud_finding, open_bluetooth, open_serial, watched
from ui.session.proposal_file import guesses, proposal_file
from ui.words.numbers import parse_number
from ui.words.words import Words

if TYPE_CHECKING:
    from acquire.links.bluetooth_services import Notifier

LOOK_MS = 40
UNNAMED = "new-sensor"

Asks = Literal["nothing", "done", "number", "unit"]


class GivenUpError(Exception):
    """The dialog was closed."""


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that the person is told or asked."""

    key: str
    values: dict[str, object] = field(default_factory=dict)
    asks: Asks = "nothing"


class WindowGuide:
    """A `ui.session.describe_sensor.Guide` for a thread: steps go into one queue, answers come out of another."""

    silent = False

    def __init__(self) -> None:
        self.steps: queue.SimpleQueue[Step] = queue.SimpleQueue()
        self.answers: queue.SimpleQueue[object] = queue.SimpleQueue()
        self.given_up = threading.Event()
        self._missed = False

    def attempted(self, attempt: Attempt) -> None:
        """Say what a baud rate gave."""
        self._say(Step("attempted", {"baud": attempt.baud}))

    def notified(self, notifier: Notifier, heard: Legibility) -> None:
        """Say nothing of a characteristic: the window names none."""
        del notifier, heard
        self._say(Step("listening"))

    def lay_down(self) -> None:
        """Ask to leave the sensor alone, and wait until it is."""
        self._ask(Step("again" if self._missed else "lay_down", asks="done"))

    def quiet(self, seconds: float) -> None:
        """Say that the unloaded sensor is looked at for so long."""
        self._say(Step("quiet", {"seconds": seconds}))

    def push(self) -> None:
        """Ask for a push."""
        self._say(Step("push"))

    def let_go(self) -> None:
        """Ask to let go."""
        self._say(Step("let_go"))

    def again(self) -> None:
        """Say that no push was seen, once it is to be laid down again."""
        self._missed = True

    def weight(self) -> float | None:
        """Ask for the mass of a known weight, kg."""
        return self._number(Step("weight", asks="number"))

    def hang(self, mass_kg: float) -> None:
        """Ask to hang a weight, and wait until it hangs."""
        self._ask(Step("hang", {"mass": mass_kg}, asks="done"))

    def rated(self) -> float | None:
        """Ask for the most the sensor may carry, N."""
        return self._number(Step("rated", asks="number"))

    def unit(self) -> ForceUnit | None:
        """Ask for the unit of the numbers that are sent."""
        answer = self._ask(Step("unit", asks="unit"))
        return answer if isinstance(answer, ForceUnit) else None

    def _say(self, step: Step) -> None:
        if self.given_up.is_set():
            raise GivenUpError
        self.steps.put(step)

    def _ask(self, step: Step) -> object:
        self._say(step)
        answer = self.answers.get()
        if self.given_up.is_set():
            raise GivenUpError
        return answer

    def _number(self, step: Step) -> float | None:
        answer = self._ask(step)
        return answer if isinstance(answer, float) else None


class Describing(threading.Thread):
    """Looks at a sensor and lets the guide lead the person; it touches no widget."""

    def __init__(self, port: str, guide: WindowGuide, *, bluetooth: bool) -> None:
        super().__init__(name="describe a sensor", daemon=True)
        self._port, self._guide, self._bluetooth = port, guide, bluetooth
        self.proposal: Proposal | None = None
        self.error: BaseException | None = None

    def run(self) -> None:
        """Go through all of it, and keep what came of it."""
        try:
            self.proposal = self._described()
        except GivenUpError:
            pass
        except BaseException as error:  # noqa: BLE001 - told, or raised, in the window's thread
            self.error = error

    def _described(self) -> Proposal:
        guide = self._guide
        if self._bluetooth:
            link, findings = open_bluetooth(self._port, start="", stop="", guide=guide)
            with link:
                return self._watched(link, Known(name=UNNAMED, link=findings))
        serial = open_serial(self._port, baud=None, start="", stop="")
        with serial:
            baud, tried = baud_finding(serial, given=None, starts=False, guide=guide)
            return self._watched(serial, Known(name=UNNAMED, link=(baud,), tried=tried))

    def _watched(self, link: Link, known: Known) -> Proposal:
        return watched(Observation(link=link, guide=self._guide, known=known, clock=time.monotonic))


class DescribeDialog(QDialog):
    """Leads through the steps and saves the profile; `described` gives its file.

    Parameters
    ----------
    words : Words
        Language.
    port : str
        Where the sensor is.
    folder : Path
        Where the profile is saved.
    today : date
        The day, for the file.
    parent : QWidget
        The place.
    bluetooth : bool
        Whether it is a Bluetooth sensor.
    """

    described = pyqtSignal(str)

    def __init__(
        self, words: Words, port: str, folder: Path, today: date, parent: QWidget, *, bluetooth: bool = False
    ) -> None:
        super().__init__(parent)
        self._words, self._port, self._folder, self._today = words, port, folder, today
        self._asks: Asks = "nothing"
        self._proposal: Proposal | None = None
        self._guide = WindowGuide()
        self._build()
        self._show(Step("listening"))
        self._work = Describing(port, self._guide, bluetooth=bluetooth)
        self._work.start()
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._look)
        self._timer.start(LOOK_MS)

    def done(self, result: int) -> None:
        """Close, and let go of the sensor at the next step."""
        self._timer.stop()
        self._guide.given_up.set()
        self._guide.answers.put(None)
        super().done(result)

    def go_on(self) -> None:
        """Take the answer, or save."""
        if self._proposal is not None:
            self._save(self._proposal)
            return
        takes: dict[Asks, Callable[[], object]] = {
            "nothing": lambda: None,
            "done": lambda: None,
            "number": self._typed,
            "unit": self.unit.currentData,
        }
        if self._asks != "nothing":
            answer = takes[self._asks]()
            self._ask("nothing")
            self._guide.answers.put(answer)

    def _look(self) -> None:
        while not self._guide.steps.empty():
            self._show(self._guide.steps.get())
        if self._work.is_alive():
            return
        self._timer.stop()
        error = self._work.error
        if isinstance(error, AcquireError):
            self.say.setText(str(error))
            self._ask("nothing")
        elif error is not None:
            raise error
        elif self._work.proposal is not None:
            self._propose(self._work.proposal)

    def _show(self, step: Step) -> None:
        self.say.setText(self._words(f"describe.{step.key}", **step.values))
        self._ask(step.asks)

    def _ask(self, asks: Asks) -> None:
        """Show the field that an answer needs."""
        self._asks = asks
        self.field.clear()
        self.field.setVisible(asks == "number")
        self.unit.setVisible(asks == "unit")
        self.next.setEnabled(asks != "nothing")
        (self.field if asks == "number" else self.next).setFocus()

    def _propose(self, proposal: Proposal) -> None:
        """Say what was found, and ask for its name."""
        self._proposal = proposal
        profile = proposal.profile
        said = [self._words("describe.found", what=self._words(f"describe.{profile.framing}"), rate=profile.rate_hz)]
        if not proposal.push_seen:
            said.append(self._words("describe.no_push"))
        if "counts_per_newton" in guesses(proposal):
            said.append(self._words("describe.guess"))
        self.say.setText(" ".join([*said, self._words("describe.name")]))
        self.field.setText(UNNAMED)
        self.field.show()
        self.field.setFocus()
        self.next.setText(self._words("describe.save"))
        self.next.setEnabled(True)

    def _save(self, proposal: Proposal) -> None:
        name = "-".join(re.findall(r"[a-z0-9]+", self.field.text().lower())) or UNNAMED
        path = self._folder / f"{name}.toml"
        if path.exists():
            self.say.setText(self._words("describe.exists", file=path.name))
            return
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            named = replace(proposal, profile=msgspec.structs.replace(proposal.profile, name=name))
            save_profile(path, proposal_file(named, source=self._port, on=self._today))
        except (AcquireError, OSError) as error:
            self.say.setText(str(error))
            return
        self.described.emit(str(path))
        self.accept()

    def _typed(self) -> float | None:
        try:
            value = parse_number(self.field.text())
        except ValueError:
            return None
        return value if value is not None and value > 0.0 else None

    def _build(self) -> None:
        words = self._words
        self.setWindowTitle(words("describe.title"))
        self.say, self.field, self.unit = QLabel(), QLineEdit(), QComboBox()
        self.say.setWordWrap(True)
        self.say.setMinimumHeight(5 * self.fontMetrics().height())
        self.unit.addItem(words("describe.unit_unknown"), None)
        for unit in ForceUnit:
            self.unit.addItem(unit.symbol, unit)
        self.next, self.cancel = QPushButton(words("describe.next")), QPushButton(words("describe.cancel"))
        self.next.setDefault(True)
        for widget, key in ((self.field, "field"), (self.unit, "unit"), (self.next, "next"), (self.cancel, "cancel")):
            widget.setToolTip(words(f"describe.tip_{key}"))
            widget.setAccessibleName(words(f"describe.tip_{key}"))
        self.next.clicked.connect(self.go_on)
        self.cancel.clicked.connect(self.reject)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(self.next)
        row.addWidget(self.cancel)
        column = QVBoxLayout(self)
        for each in (self.say, self.field, self.unit):
            column.addWidget(each)
        column.addStretch(1)
        column.addLayout(row)
        self.resize(520, 240)
