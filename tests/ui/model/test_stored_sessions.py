"""The list of stored sessions: newest first, by person, and the one before."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from acquire.storage.session_file import write_session
from acquire.values.records import Person, Session, SessionContext
from ui.model.stored_sessions import StoredSession, matching, session_before, session_lines, stored_sessions
from ui.words.words import Words

DAY = datetime(2026, 3, 2, 9, 5, tzinfo=UTC)


def context(day=0, person="P-7", *, invented=False):
    started = DAY + timedelta(days=day)
    return SessionContext(session=f"{day}-{person}", started=started, person=Person(code=person), invented=invented)


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "2026").mkdir()
    for name, day in (("b.h5", 3), ("2026/a.h5", 9), ("c.h5", 1)):
        write_session(tmp_path / name, Session(context=context(day)))
    (tmp_path / "broken.h5").write_bytes(b"no session")
    return tmp_path


def test_newest_comes_first_and_what_cannot_be_read_is_passed_over(folder):
    assert [each.path.name for each in stored_sessions(folder)] == ["a.h5", "b.h5", "c.h5"]


def test_file_that_has_changed_is_read_anew(folder):
    assert len(stored_sessions(folder)) == 3
    write_session(folder / "broken.h5", Session(context=context(20, "P-8")))
    assert stored_sessions(folder)[0].person == "P-8"


def test_folder_that_is_not_there_has_none(tmp_path):
    assert stored_sessions(tmp_path / "none") == ()


def stored(day, person="P-7", *, trials=3, name="s.h5", invented=False):
    return StoredSession(path=Path(name), context=context(day, person, invented=invented), trials=trials)


def test_person_is_found_by_the_beginning_of_the_code_and_a_file_by_any_part():
    sessions = [stored(0, "P-7"), stored(1, "P-71"), stored(2, "Q-7", name="crew-p-7.h5")]
    assert [each.person for each in matching(sessions, " p-7 ")] == ["P-7", "P-71", "Q-7"]
    assert [each.person for each in matching(sessions, "7")] == ["Q-7"]
    assert len(matching(sessions, "")) == 3


def test_session_before_is_the_last_one_of_the_same_person():
    sessions = [stored(0), stored(5), stored(8), stored(6, "P-8"), stored(7, trials=0), stored(7, invented=True)]
    assert session_before(sessions, context(8)).started == DAY + timedelta(days=5)
    assert session_before(sessions, context(0)) is None
    assert session_before([stored(0, "")], context(8, "")) is None


def test_session_is_told_in_two_lines():
    session = stored(0, invented=True)
    assert session_lines(session, Words("de")) == ("P-7   02.03.2026 09:05", "3 Versuche, s.h5, erfundene Daten")
