"""A sensor that is found is put into the plan, unless the user has chosen another one."""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtCore import QObject, QTimer

from acquire.links.ports import PortInfo
from ui.model.plan.edits import with_port
from ui.model.plan.plan import PlanDraft
from ui.session.find_sensor import Seen
from ui.session.open_sensor import SIMULATED
from ui.window.plan.finder import SensorFinder, Wanted
from ui.window.plan.port import Ports
from ui.window.plan.sensor import SensorCard
from ui.window.plan.table import Edit

BLUETOOTH_AFTER_MS = 4000
"""Where no cable has brought a sensor by then, Bluetooth is listened to: that takes longer, and needs more of the
computer."""


class PlanFinding(QObject):
    """Finds sensors for a plan.

    Parameters
    ----------
    card : SensorCard
        Where it is said.
    draft, edit : callable
        The plan, and how it is changed.
    ports : callable
        The ports there are.
    """

    def __init__(self, card: SensorCard, draft: Callable[[], PlanDraft], edit: Edit, *, ports: Ports) -> None:
        super().__init__(card)
        self._card, self._draft, self._edit = card, draft, edit
        self.by_hand = False
        """Whether the user has chosen port or kind of sensor: then neither is changed."""
        self.kept_from_looking = False
        """Whether a session is being recorded, which holds the sensor."""
        self.seen: Seen | None = None
        self._finder = SensorFinder(ports, self._wanted, self)
        self._finder.plugged.connect(self._plugged)
        self._finder.looking.connect(card.show_looking)
        self._finder.found.connect(self._found)
        self._later = QTimer(self)
        self._later.setSingleShot(True)
        self._later.setInterval(BLUETOOTH_AFTER_MS)
        self._later.timeout.connect(self._listen)
        card.chosen_by_hand.connect(self._chosen)
        card.refresh.clicked.connect(self._finder.look_again)
        card.in_range.connect(self._in_range)

    def start(self) -> None:
        """Look for sensors from now on."""
        if not self.kept_from_looking:
            self._finder.start()
            if self.seen is None:
                self._later.start()

    def stop(self) -> None:
        """Let go of whatever is being looked at."""
        self._later.stop()
        self._finder.stop()

    def _wanted(self) -> Wanted:
        draft = self._draft()
        profile = draft.sensor if draft.sensor != SIMULATED else self._card.real_sensor[0]
        return Wanted(draft.port, profile, bluetooth=self._card.port.is_bluetooth(draft.port))

    def _plugged(self, ports: tuple[PortInfo, ...]) -> None:
        self._card.port.look()
        gone = self.seen is not None and self._card.port.is_gone(self.seen.port)
        if gone:
            self.seen = None
            self._card.show_seen(None, ports)

    def _found(self, seen: Seen) -> None:
        draft = self._draft()
        own = seen.port == draft.port
        if seen.profile is None and not own and self.seen is not None:
            return  # something else than a sensor, beside a sensor
        free = draft.port is None or own or self._card.port.is_gone(draft.port)
        if seen.profile is not None and free and not self.by_hand:
            profile, calibration = self._card.real_sensor
            known = calibration if profile == seen.source else ""
            self._edit(lambda plan: with_port(plan, seen.port, sensor=seen.source, calibration=known))
        if seen.profile is not None or own or self.seen is None:
            self.seen = seen
            self._card.show_seen(seen, self._finder.ports)

    def _chosen(self) -> None:
        self.by_hand, self.seen = True, None
        self._finder.look_again()
        self._card.show_seen(None, self._finder.ports)

    def _listen(self) -> None:
        if self.seen is None or self.seen.profile is None:
            self._card.listen_quietly()

    def _in_range(self, port: str, profile: str) -> None:
        """Take the one Bluetooth sensor in range whose profile is known."""
        draft = self._draft()
        free = draft.port is None or self._card.port.is_gone(draft.port)
        if free and not self.by_hand:
            self._edit(lambda plan: with_port(plan, port, sensor=profile))
