"""The place Audit, shown with an archive of invented sessions."""

import pytest
from audit_window import done

from acquire.values.units import ForceUnit
from ui.model.plan.remembered import Remembered
from ui.model.theme import LIGHT
from ui.window.audit.place import AuditPlace
from ui.window.widgets.style import apply_style
from ui.words.words import Words


@pytest.fixture
def remembered(tmp_path):
    return Remembered(tmp_path / "state" / "remembered.json")


@pytest.fixture
def placed(qtbot, qapp, remembered):
    """Show a place of its own; what it does in threads is over at the end of the test."""
    places = []

    def make(language="en", *, theme=LIGHT, size=(1280, 668), unit=ForceUnit.NEWTON, **more):
        apply_style(qapp, theme)
        place = AuditPlace(Words(language), theme, unit, remembered, **{"mapper": map, **more})
        places.append(place)
        qtbot.addWidget(place)
        place.resize(*size)
        place.show()
        qtbot.waitExposed(place)
        place.activateWindow()
        qtbot.waitUntil(place.isActiveWindow)
        return place

    yield make
    for place in places:
        place.end()


@pytest.fixture
def audited(placed, archive, qtbot):
    """Show the archive, audited."""

    def make(*arguments, **options):
        place = placed(*arguments, **options)
        place.open_folder(archive)
        place.run()
        done(qtbot, place)
        return place

    return make


@pytest.fixture
def place(audited):
    return audited()
