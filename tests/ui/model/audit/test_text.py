"""The words of Audit, in both languages: tables, pages, progress, and what an archive holds."""

import math
from dataclasses import replace

import pytest
from made_trials import cut_off, judged, made_trial

from acquire.values.units import ForceUnit
from analysis.audit.examiners import REJECTED
from ui.model.audit.audit import COLUMNS, AuditModel, Behind, BehindRead
from ui.model.audit.run import AuditRun, Progress
from ui.model.audit.text import (
    about,
    behind_gone,
    behind_title,
    hint,
    notes,
    page,
    progress_text,
    rows,
    sections,
    share_rows,
    title_of,
    trial_line,
)
from ui.model.plan.remembered import AuditChoice
from ui.words.phrase import Phrase
from ui.words.words import Words, languages

EN = Words("en")


@pytest.fixture(scope="module")
def found(archive):
    return AuditRun(AuditChoice(folder=str(archive)), mapper=map)()


@pytest.fixture
def model(archive, found):
    model = AuditModel(AuditChoice(folder=str(archive)))
    model.found(found, model.choice)
    return model


def row_of(model, code, words=EN):
    (row,) = [row for row in rows(model, words) if row.code == code]
    return dict(zip(COLUMNS, row.cells, strict=True)) | {"kind": row.kind}


def test_row_of_an_examiner_has_the_numbers_of_the_audit(model):
    share = model.selected.shares[REJECTED].found
    row = row_of(model, "EX-1")
    low, high = (f"{100.0 * limit:.0f}" for limit in share.interval)
    assert row["interval"] == f"{low} to {high}"
    assert row["rejected"] == f"{100.0 * share.count / share.trials:.0f}"
    assert row["says"].startswith("\u25b2 ramp too fast")
    assert (row["sessions"], row["trials"], row["kind"]) == ("8", "48", "finding")


def test_too_few_to_tell_is_said_and_marked(model):
    assert row_of(model, "EX-4")["says"] == "? too few to tell"
    (examiner,) = [each for each in model.examiners if each.code == "EX-4"]
    told = page(examiner, EN)
    assert told.lines[0].startswith("Fewer than 20 trials or 5 sessions")
    assert not told.finding


def test_one_of_whom_nothing_stands_out_is_said_so(model):
    quiet = next(each for each in model.examiners if each.enough and row_of(model, each.code)["kind"] == "nothing")
    assert row_of(model, quiet.code)["says"] == "\u2713 nothing stands out"


@pytest.mark.parametrize("language", languages())
def test_every_line_is_in_the_language(model, language):
    words = Words(language)
    told = page(model.selected, words)
    assert any({"en": "build up", "de": "aufbauen"}[language] in line for line in told.lines)
    assert {"en": "trials a set", "de": "je Satz"}[language] in " ".join(told.sets)
    assert {"en": "ramp too fast", "de": "Anstieg zu schnell"}[language] in row_of(model, "EX-1", words)["says"]
    assert sections(model.audit, words, ForceUnit.NEWTON)


def test_shares_begin_with_rejected_then_findings_then_numbers(model):
    lines = share_rows(model.selected, EN)
    assert lines[0].key == REJECTED
    assert lines[1].key == "fast-ramp"
    assert lines[1].cells[0] == "\u25b2 ramp too fast"
    found = model.selected.shares["fast-ramp"].found
    assert lines[1].cells[1] == f"{found.count} ({100.0 * found.share:.0f} %)"
    assert [line.number for line in lines] == sorted(line.number for line in lines)
    assert share_rows(None, EN) == ()
    assert page(None, EN) is None


def test_share_without_others_has_no_expectation(model):
    examiner = model.selected
    alone = {
        code: replace(share, found=replace(share.found, expected=math.nan)) for code, share in examiner.shares.items()
    }
    assert share_rows(replace(examiner, shares=alone), EN)[0].cells[3] == "\u2013"


def test_what_was_audited_is_said(model, archive):
    assert title_of(model, EN) == archive.name
    said = " ".join(about(model, EN))
    assert "34 sessions, 200 trials" in said
    assert model.audit.protocol.hash in said
    assert "! 1 not read" in said
    assert "blind" not in said
    assert notes(model, EN) == ()


def test_file_that_was_not_read_is_named_with_the_reason(model):
    unread = sections(model.audit, EN, ForceUnit.NEWTON)[-1]
    (line,) = unread.lines
    assert unread.heading == "Not read"
    assert "00009.h5" in line
    assert line.startswith("\u2717 ")


def test_another_protocol_asks_for_another_audit(model):
    model.judge_by("/own/strict.toml")
    assert notes(model, EN) == ("Chosen: strict. Press Audit to judge by it.",)


def test_one_examiner_only_has_nobody_to_compare_with(model, found):
    model.found(replace(found, examiners=found.examiners[:1]), model.choice)
    assert "only one examiner" in notes(model, EN)[0]


def test_each_empty_state_says_what_to_do(model, found, archive):
    assert "Choose the folder" in hint(AuditModel(), EN)[0]
    assert hint(AuditModel(AuditChoice(folder=str(archive))), EN)[0].startswith("Not audited yet")
    model.found(replace(found, examiners=()), model.choice)
    assert hint(model, EN) == (EN("audit.no_names"),)
    model.found(replace(found, examiners=(), files=0), model.choice)
    assert hint(model, EN)[0] == "There are no sessions in this folder."
    assert "00009.h5" in hint(model, EN)[1]
    assert title_of(AuditModel(), EN) == "No archive is chosen."
    assert about(AuditModel(), EN) == ()


@pytest.mark.parametrize(
    ("progress", "stopping", "said"),
    [
        (None, False, "Looking for sessions \u2026"),
        (Progress(0, 10, None), False, "0 of 10 sessions"),
        (Progress(4, 10, 200.0), False, "4 of 10 sessions, about 3 min left"),
        (Progress(10, 10, 0.0), False, "Comparing examiners \u2026"),
        (Progress(4, 10, 200.0), True, "Stopping; what was measured is being kept \u2026"),
    ],
)
def test_progress_is_said(progress, stopping, said):
    assert progress_text(progress, stopping=stopping, words=EN) == said


def test_trials_behind_are_named(model):
    behind = model.behind_share("fast-ramp")
    read = model.read(behind)
    title = behind_title("EX-1", behind, EN, ForceUnit.NEWTON)
    assert title.startswith("EX-1: trials with \u201cramp too fast\u201d: ")
    line = trial_line(read, 0, EN)
    assert line.startswith(f"1 of {len(read.trials)}: EX-1/")
    assert line.endswith("\u2717 rejected")
    assert behind_gone(read, EN) == ""


def test_trial_that_the_recording_cut_off_is_set_aside_and_not_rejected(model):
    read = model.read(model.behind_share("fast-ramp"))
    (ended,) = judged(cut_off(made_trial(200.0), 4.0))
    cut = replace(read, trials=(replace(read.trials[0], judged=ended),))
    assert trial_line(cut, 0, EN).endswith("\u2298 set aside")


@pytest.mark.parametrize(
    ("what", "said"),
    [
        (Phrase("audit.behind.session", {"day": 86_400.0}), "E: session of 1970-01-02: 3 trials"),
        (Phrase("audit.behind.number", {"number": "shake_pct"}), "E: trials near the median, tremor: 3 trials"),
        (Phrase("audit.behind.ceiling", {"force": 444.822}), "E: plateaus near 100.0 lbf: 3 trials"),
        (Phrase("audit.behind.share", {"fault": REJECTED}), "E: trials with \u201crejected\u201d: 3 trials"),
    ],
)
def test_what_trials_have_in_common_is_said(what, said):
    behind = Behind(what=what, trials=(("f", 1),) * 3, files=("f",) * 3, count=3)
    assert behind_title("E", behind, EN, ForceUnit.POUND_FORCE) == said


def test_more_trials_than_are_shown_are_counted():
    behind = Behind(what=Phrase("audit.behind.session", {"day": 0.0}), trials=(("f", 1),), files=("f",), count=7)
    assert behind_title("E", behind, EN, ForceUnit.NEWTON).endswith("1 of 7 trials")


def test_what_could_not_be_read_again_is_named():
    assert behind_gone(BehindRead(trials=(), gone=("a.h5", "b.h5")), EN) == (
        "\u2717 Could not be read again: a.h5, b.h5"
    )
