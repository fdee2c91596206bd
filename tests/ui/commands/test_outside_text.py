"""Names and texts from outside, all the way to terminal, tables and papers: shown, never obeyed, never a formula."""

import csv
import datetime as dt
import os
import stat
from dataclasses import replace

import msgspec
import pytest
from pypdf import PdfReader

from acquire.storage.session_file import read_session, write_session
from acquire.values.records import Note, Person

EVIL = "=cmd|'/C calc'!A0\x1b[2J\u202e$^{"
OBEYED = ("\x1b", "\u202e", "\t")


@pytest.fixture
def evil(session_file):
    """A session whose every free text is an attack."""
    session = read_session(session_file)
    note = Note(text="+1\x1b]0;owned\x07", by="-2+3", at=dt.datetime(2026, 3, 2, 10, 5, tzinfo=dt.UTC))
    context = msgspec.structs.replace(
        session.context, person=Person(code=EVIL), examiner="@SUM(1)\t", sensor="+\x1b[8m", invented=False
    )
    trials = tuple(
        replace(trial, context=msgspec.structs.replace(trial.context, action=EVIL, examiner="@SUM(1)\t")).noted(note)
        for trial in session.trials
    )
    write_session(session_file, replace(session, context=context, trials=trials))
    return session_file


@pytest.mark.parametrize("command", ["analyse", "report"])
def test_terminal_obeys_no_text_of_a_session(ramphold, evil, command):
    result = ramphold(command, evil)
    assert result.code == 0, result.err
    assert not any(sign in result.out + result.err for sign in OBEYED)


def test_report_shows_the_codes(ramphold, evil):
    assert ramphold("report", evil).code == 0
    page = evil.with_name(f"{evil.stem}-report.html").read_text(encoding="utf-8")
    text = "".join(each.extract_text() for each in PdfReader(evil.with_name(f"{evil.stem}-report.pdf")).pages)
    for shown in (page, text):
        assert r"A0\x1b[2J\u202e$^{" in shown
        assert not any(sign in shown for sign in OBEYED)


def formulas(folder):
    """Return the cells that a spreadsheet would run."""
    found = []
    for path in folder.rglob("*.csv"):
        with path.open(newline="", encoding="utf-8") as file:
            cells = [cell for row in csv.reader(file) for cell in row]
        found += [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r")) and not number(cell)]
    return found


def number(cell):
    try:
        float(cell)
    except ValueError:
        return False
    return True


def test_no_cell_of_an_export_or_of_an_audit_is_a_formula(ramphold, evil, tmp_path):
    assert ramphold("export", evil, "--to", "csv", "--out", tmp_path / "out").code == 0
    (tmp_path / "archive").mkdir()
    evil.rename(tmp_path / "archive" / "=1+1.h5")
    result = ramphold("audit", tmp_path / "archive", "--processes", "1", "--csv", tmp_path / "tables")
    assert result.code == 0, result.err
    assert not any(sign in result.out for sign in OBEYED)
    assert formulas(tmp_path / "out") == formulas(tmp_path / "tables") == []
    assert "'=1+1.h5" in (tmp_path / "tables" / "trials.csv").read_text(encoding="utf-8")


@pytest.mark.slow
def test_pages_and_sheet_of_an_audit_take_any_text(ramphold, evil, tmp_path):
    (tmp_path / "archive").mkdir()
    evil.rename(tmp_path / "archive" / "$^{.h5")
    pages = ("--pdf", tmp_path / "audit.pdf", "--coach", r"@SUM(1)\t", "--sheet", tmp_path / "sheet.pdf")
    result = ramphold("audit", tmp_path / "archive", "--processes", "1", *pages)
    assert result.code == 0, result.err


def test_name_of_a_file_that_is_left_out_is_shown(ramphold, tmp_path):
    (tmp_path / "\x1b[2Jp.h5").write_bytes(b"no session")
    result = ramphold("audit", tmp_path, "--processes", "1")
    assert r"not read: \x1b[2Jp.h5" in result.out
    assert "\x1b" not in result.out + result.err
    refused = ramphold("analyse", tmp_path / "\x1b[2Jp.h5")
    assert (refused.code, "\x1b" in refused.err) == (1, False)


@pytest.mark.parametrize("text", ["../x", "=cmd", "a\nb", "two words", "x" * 33, "x" * 100_000])
@pytest.mark.parametrize("option", ["--person", "--examiner"])
def test_code_without_the_form_of_one_is_refused(ramphold, tmp_path, option, text):
    result = ramphold("record", "--sensor", "simulated", "--out", tmp_path / "a.h5", option, text)
    assert result.code == 2
    assert "must be letters, digits, '.', '-' and '_', 32 at most" in result.err
    assert len(result.err) < 6000
    assert list(tmp_path.iterdir()) == []


def test_all_that_is_made_is_for_this_account_alone(ramphold, session_file, tmp_path):
    before = set(tmp_path.rglob("*"))
    old = os.umask(0o022)
    try:
        assert ramphold("report", session_file, "--out", tmp_path / "reports" / "one").code == 0
        assert ramphold("export", session_file, "--to", "csv", "--out", tmp_path / "out").code == 0
        assert ramphold("audit", tmp_path, "--processes", "1", "--csv", tmp_path / "tables").code == 0
    finally:
        os.umask(old)
    made = [path for path in tmp_path.rglob("*") if path not in before]
    assert len(made) > 10
    modes = {path: stat.S_IMODE(path.stat().st_mode) for path in made}
    assert {mode for path, mode in modes.items() if path.is_dir()} == {0o700}
    assert {mode for path, mode in modes.items() if path.is_file()} == {0o600}
