"""A picture of the list of people, with those of invented sessions, who are in no real list."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from PyQt6.QtWidgets import QApplication, QWidget

from acquire.storage.session_file import read_index
from analysis.battery.actions import load_actions
from ui.model.plan.people import KnownPerson
from ui.model.stored_sessions import stored_sessions
from ui.window.plan.people import PeopleDialog
from ui.words.words import Words

LIMIT_S = 60.0


def people_tour(place: QWidget, words: Words, folder: Path, grab: Callable[[str, QWidget], None]) -> None:
    """Show the list of people, and grab it once it is read."""
    dialog = PeopleDialog(words, folder, load_actions(), place, read=_invented_people)
    dialog.show()
    until = time.monotonic() + LIMIT_S
    while not dialog.list.count() and time.monotonic() < until:
        QApplication.processEvents()
        time.sleep(0.01)
    grab("plan-people", dialog)
    dialog.reject()
    dialog.deleteLater()


def _invented_people(folder: Path) -> tuple[KnownPerson, ...]:
    sessions = stored_sessions(folder)
    codes = dict.fromkeys(each.person for each in sessions)
    found = {code: [each for each in sessions if each.person == code] for code in codes}
    return tuple(
        KnownPerson(
            person=each[0].context.person,
            last=each[0].started,
            sessions=len(each),
            items=tuple(trial.context for trial in read_index(each[0].path).trials),
        )
        for each in found.values()
    )
