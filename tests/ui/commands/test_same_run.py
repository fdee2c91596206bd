"""The same command goes on, whatever happened between; another person, sensor or day is asked or refused."""

import datetime as dt
import io

import msgspec
import pytest
from journals import PERSON as EFFORT
from journals import SESSION, chunks, header, measured, profile

from acquire.storage.journal import JournalWriter
from acquire.storage.session_file import read_session, write_session
from acquire.values.records import Person, Session
from ui.session.crash import journal_path, unfinished_mark

SENSOR = "packets-1k"


def context(code):
    return msgspec.structs.replace(SESSION, sensor=SENSOR, person=Person(code=code))


@pytest.fixture
def plug(device, force, port):
    return lambda: device(SENSOR, force("good", rate_hz=1000.0), link=port)


@pytest.fixture
def port(tmp_path):
    return tmp_path / "ttySIM0"


@pytest.fixture
def killed(tmp_path):
    """A session of another day that was killed after two trials, none of them saved: its journal alone."""
    sensor, path = profile(SENSOR), tmp_path / "s.h5"

    def left(code):
        arrived = chunks(sensor, measured(sensor, EFFORT, EFFORT))
        with JournalWriter(journal_path(path), msgspec.structs.replace(header(sensor), session=context(code))) as kept:
            for arrival, data in arrived:
                kept.chunk(arrival, data)
        return path

    return left


@pytest.mark.parametrize("code", ["", "P-3"])
def test_same_command_goes_on_after_the_sensor_was_not_there(ramphold, plug, killed, port, code):
    path = killed(code)
    command = ("record", "--sensor", SENSOR, "--port", port, "--out", path, "--count", 2, "--person", code)
    without = ramphold(*command)
    assert (without.code, "recovered 2 trials" in without.out) == (1, True)
    assert "ttySIM0" in without.err
    assert not journal_path(path).exists()
    plug()
    again = ramphold(*command)
    assert (again.code, again.err.count("exists already")) == (0, 0)
    assert "all that was asked for is in" in again.out, "the two trials of before are the two of --count"
    assert [file.name for file in path.parent.glob("s.h5*")] == ["s.h5"]
    assert len(read_session(path).trials) == 2


def test_another_person_is_refused_after_the_crash(ramphold, killed):
    path = killed("P-3")
    refused = ramphold("record", "--sensor", "simulated", "--out", path, "--person", "P-4")
    assert (refused.code, "exists already; add --resume" in refused.err) == (1, True)
    assert unfinished_mark(path).exists()
    assert len(read_session(path).trials) == 2


@pytest.mark.parametrize(
    ("run", "goes_on"),
    [
        (("P-3", SENSOR, 0), True),
        (("P-4", SENSOR, 0), False),
        (("P-3", "bridge-80", 0), False),
        (("P-3", SENSOR, 1), False),
    ],
    ids=["same", "person", "sensor", "day"],
)
def test_run_of_the_same_person_sensor_and_day_goes_on(ramphold, tmp_path, run, goes_on):
    """A session that was ended in good order; the port is not there, so that it ends at once."""
    path, (code, sensor, days) = tmp_path / "s.h5", run
    begun = msgspec.structs.replace(context("P-3"), started=dt.datetime.now(dt.UTC) - dt.timedelta(days=days))
    write_session(path, Session(context=begun))
    before = path.read_bytes()
    result = ramphold("record", "--sensor", sensor, "--port", tmp_path / "none", "--out", path, "--person", code)
    assert result.code == 1
    assert (f"going on with {path}" in result.out) is goes_on
    assert ("exists already; add --resume" in result.err) is not goes_on
    assert path.read_bytes() == before


class Terminal(io.StringIO):
    """Somebody who can be asked."""

    def isatty(self):
        return True


@pytest.mark.parametrize(("answer", "told"), [("y\n", "none"), ("n\n", "exists already; add --resume")])
def test_any_other_run_is_asked_at_a_terminal(ramphold, tmp_path, answer, told):
    path = tmp_path / "s.h5"
    write_session(path, Session(context=context("P-3")))
    command = ("record", "--sensor", SENSOR, "--port", tmp_path / "none", "--out", path)
    result = ramphold(*command, stdin=Terminal(answer))
    assert "Go on with it (y/n)?" in result.err
    assert told in result.err.splitlines()[-1]
