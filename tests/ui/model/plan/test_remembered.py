"""What is kept between starts."""

import datetime as dt
import os
import stat

import msgspec
import pytest

from acquire.values.records import Person
from acquire.values.units import ForceUnit
from ui.model.plan.plan import PlanDraft
from ui.model.plan.remembered import BROKEN_SUFFIX, Remembered, state_file
from ui.session.crash import journal_path
from ui.words.words import Words, languages

ARMS = {"elbow-flexion": {"left": 0.22, "right": 0.225}}
DRAFT = PlanDraft(
    person=Person(code="P-014", sex="female", mass_kg=61.5),
    examiner="X01",
    examiner_limit_n=260.0,
    limit_measured=True,
    battery="arm",
    trials=4,
    lever_arms=ARMS,
    want_torque=True,
    unit=ForceUnit.POUND_FORCE,
    out="/data/p014.h5",
    cautions_acknowledged=dt.datetime(2026, 3, 2, tzinfo=dt.UTC),
)
replace = msgspec.structs.replace


@pytest.fixture
def file(tmp_path):
    return tmp_path / "state" / "remembered.json"


def told(draft, code):
    """Return the plan after a code was typed letter by letter."""
    memory, draft = draft
    for end in range(len(code) + 1):
        draft = memory.with_person(draft, code[:end])
    return draft


# where


def test_state_is_kept_where_the_system_wants_it(monkeypatch, tmp_path):
    monkeypatch.setenv("HOME", str(tmp_path))
    default = tmp_path / ".local" / "state" / "ramphold" / "remembered.json"
    assert state_file({}) == default
    assert state_file({"XDG_STATE_HOME": ""}) == default
    assert state_file({"XDG_STATE_HOME": "relative"}) == default
    assert state_file({"XDG_STATE_HOME": "/state"}).parts[-2:] == ("ramphold", "remembered.json")


def test_first_start_has_nothing_and_makes_nothing(file, monkeypatch, tmp_path):
    monkeypatch.setenv("HOME", str(tmp_path))
    memory = Remembered(file)
    assert memory.fresh_draft() == PlanDraft()
    assert (memory.trouble, memory.unfinished) == (None, None)
    assert memory.lever_arms("P-014") == {}
    assert memory.folder() == tmp_path / "ramphold"
    assert not file.exists()


# the last plan


def test_next_start_has_the_settings_but_not_the_person(file):
    Remembered(file).keep(DRAFT)
    fresh = Remembered(file).fresh_draft()
    assert (fresh.battery, fresh.trials, fresh.unit, fresh.examiner) == ("arm", 4, ForceUnit.POUND_FORCE, "X01")
    assert (fresh.examiner_limit_n, fresh.limit_measured) == (260.0, True)
    assert fresh.person == Person()
    assert (fresh.lever_arms, fresh.out, fresh.resume) == ({}, "", False)


def test_cautions_are_acknowledged_anew_for_each_session(file):
    Remembered(file).keep(DRAFT)
    assert Remembered(file).fresh_draft().cautions_acknowledged is None


def test_next_file_goes_where_the_last_one_went(file):
    Remembered(file).keep(DRAFT)
    assert Remembered(file).folder().as_posix() == "/data"


# lever arms and limits


def test_lever_arms_come_back_with_the_persons_code(file):
    Remembered(file).keep(DRAFT)
    memory = Remembered(file)
    draft = told((memory, memory.fresh_draft()), "P-014")
    assert (draft.person.code, draft.lever_arms) == ("P-014", ARMS)
    assert memory.with_person(PlanDraft(), " P-014 ").lever_arms == ARMS


def test_lever_arms_of_one_person_never_go_to_another(file):
    memory = Remembered(file)
    memory.keep(DRAFT)
    draft = memory.with_person(memory.fresh_draft(), "P-014")
    assert memory.with_person(draft, "P-0145").lever_arms == {}
    # nor when they were changed in between
    changed = replace(draft, lever_arms={"elbow-flexion": {"left": 0.3}})
    assert memory.with_person(changed, "P-015").lever_arms == {}


def test_lever_arms_typed_before_the_code_was_right_stay(file):
    memory = Remembered(file)
    typed = replace(memory.with_person(PlanDraft(), "P-0"), lever_arms=ARMS)
    assert memory.with_person(typed, "P-02").lever_arms == ARMS


def test_two_people_have_arms_of_their_own(file):
    memory = Remembered(file)
    memory.keep(DRAFT)
    other = {"elbow-flexion": {"left": 0.25}}
    memory.keep(replace(DRAFT, person=Person(code="P-015"), lever_arms=other))
    again = Remembered(file)
    assert (again.lever_arms("P-014"), again.lever_arms("P-015")) == (ARMS, other)


def test_arms_that_were_all_taken_out_are_forgotten(file):
    memory = Remembered(file)
    memory.keep(DRAFT)
    memory.keep(replace(DRAFT, lever_arms={}))
    assert Remembered(file).lever_arms("P-014") == {}


def test_limit_comes_back_with_the_examiners_code(file):
    Remembered(file).keep(DRAFT)
    draft = Remembered(file).with_examiner(PlanDraft(), "X01")
    assert (draft.examiner, draft.examiner_limit_n, draft.limit_measured) == ("X01", 260.0, True)


def test_limit_of_one_examiner_never_goes_to_another(file):
    memory = Remembered(file)
    memory.keep(DRAFT)
    known = memory.with_examiner(PlanDraft(), "X01")
    assert memory.with_examiner(known, "X012").examiner_limit_n is None
    typed = replace(memory.with_examiner(PlanDraft(), "X0"), examiner_limit_n=200.0)
    assert memory.with_examiner(typed, "X02").examiner_limit_n == 200.0


def test_limit_that_was_emptied_leaves_the_one_that_is_known(file):
    memory = Remembered(file)
    memory.keep(DRAFT)
    memory.keep(replace(DRAFT, examiner_limit_n=None))
    assert memory.with_examiner(PlanDraft(), "X01").examiner_limit_n == 260.0


# a session that was not ended


@pytest.mark.parametrize("left", ["file", "journal"])
def test_session_not_ended_is_offered_at_the_next_start(file, tmp_path, left):
    draft = replace(DRAFT, out=str(tmp_path / "p014.h5"))
    path = tmp_path / "p014.h5"
    (path if left == "file" else journal_path(path)).touch()
    Remembered(file).begun(draft)
    found = Remembered(file).unfinished
    assert (found.path, found.draft) == (draft.out, draft)


def test_session_that_left_nothing_is_not_offered(file, tmp_path):
    Remembered(file).begun(replace(DRAFT, out=str(tmp_path / "p014.h5")))
    assert Remembered(file).unfinished is None


def test_session_that_was_ended_is_not_offered(file, tmp_path):
    memory = Remembered(file)
    (tmp_path / "p014.h5").touch()
    memory.begun(replace(DRAFT, out=str(tmp_path / "p014.h5")))
    memory.ended()
    assert memory.unfinished is None
    assert Remembered(file).unfinished is None


# the file


def test_file_is_the_users_alone(file):
    Remembered(file).keep(DRAFT)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    Remembered(file).ended()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert [each.name for each in file.parent.iterdir()] == ["remembered.json"]


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"\xff\xfe",
        b"[]",
        b'{"version": 1, "draft": {"trials": "three"}}',
        b'{"version": 1, "surprise": 1}',
        b'{"version": 2, "draft": {"from": "a newer program"}}',
    ],
)
def test_broken_file_is_set_aside_and_said(file, content):
    file.parent.mkdir()
    file.write_bytes(content)
    memory = Remembered(file)
    aside = file.with_name(file.name + BROKEN_SUFFIX)
    assert memory.fresh_draft() == PlanDraft()
    assert aside.read_bytes() == content
    assert not file.exists()
    for language in languages():
        assert str(aside) in memory.trouble.said(Words(language))
    memory.keep(DRAFT)
    again = Remembered(file)
    assert (again.trouble, again.fresh_draft().battery) == (None, "arm")


@pytest.mark.parametrize("change", ["truncate", "garble"])
def test_damaged_file_never_ends_the_program(file, change):
    Remembered(file).keep(DRAFT)
    whole = file.read_bytes()
    for place in range(0, len(whole), 7):
        damaged = whole[:place] if change == "truncate" else whole[:place] + b"\x00" + whole[place + 1 :]
        file.write_bytes(damaged)
        assert Remembered(file).trouble.key == "plan.remembered.broken"


def test_folder_in_the_place_of_the_file_is_said(file):
    file.mkdir(parents=True)
    memory = Remembered(file)
    assert memory.trouble.key == "plan.remembered.unreadable"
    memory.keep(DRAFT)
    assert memory.trouble.key == "plan.remembered.unwritten"
    for language in languages():
        assert str(file) in memory.trouble.said(Words(language))


def test_place_that_cannot_be_written_costs_only_the_next_start(tmp_path):
    blocked = tmp_path / "file"
    blocked.touch()
    memory = Remembered(blocked / "remembered.json")
    memory.keep(DRAFT)
    assert memory.trouble.key == "plan.remembered.unwritten"
    assert memory.lever_arms("P-014") == ARMS


def test_broken_file_that_cannot_be_moved_is_said_too(file, monkeypatch):
    file.parent.mkdir()
    file.write_text("{")

    def refuse(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "replace", refuse)
    monkeypatch.setattr(type(file), "replace", refuse)
    memory = Remembered(file)
    assert memory.trouble.values["file"] == file
    assert memory.fresh_draft() == PlanDraft()


def test_language_that_is_not_known_is_english(file):
    Remembered(file).keep(replace(DRAFT, language="xx"))
    memory = Remembered(file)
    assert (memory.fresh_draft().language, memory.fresh_draft().battery) == ("en", "arm")


def test_file_that_is_no_text_is_put_aside(tmp_path):
    path = tmp_path / "remembered.json"
    path.write_bytes(b'{"draft": {"examiner": "\xff"}}')
    assert Remembered(path).trouble is not None
    assert not path.exists()
