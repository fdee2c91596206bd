"""The place Plan on the screen, and a plan with nothing missing."""

import pytest
from planned import NOW, PORTS

from acquire.values.records import Person
from acquire.values.units import ForceUnit
from ui.model.plan.plan import PlanDraft
from ui.model.plan.remembered import Remembered
from ui.model.theme import LIGHT
from ui.window.plan.place import PlanPlace
from ui.window.widgets.style import apply_style
from ui.words.words import Words


@pytest.fixture
def remembered(tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    return Remembered(tmp_path / "state" / "remembered.json")


@pytest.fixture
def placed(qtbot, qapp, remembered):
    """Show a place of its own."""

    def make(language="en", *, theme=LIGHT, unit=ForceUnit.NEWTON, memory=None, **more):
        apply_style(qapp, theme)
        more = {"now": lambda: NOW, "ports": lambda: PORTS, **more}
        place = PlanPlace(Words(language), theme, unit, memory or remembered, **more)
        qtbot.addWidget(place)
        place.resize(1280, 675)
        place.show()
        qtbot.waitExposed(place)
        place.activateWindow()
        qtbot.waitUntil(place.isActiveWindow)
        return place

    return make


@pytest.fixture
def place(placed):
    return placed()


@pytest.fixture
def good(tmp_path):
    return PlanDraft(
        person=Person(code="P-014"),
        examiner="X01",
        out=str(tmp_path / "p.h5"),
        cautions_acknowledged=NOW,
        language="en",
    )
