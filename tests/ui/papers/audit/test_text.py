"""An audit as text: every number of a table, and the sentences that go with it."""

import re
from dataclasses import replace

import pytest
from audited import small_audit

from ui.papers.audit.text import audit_text
from ui.words.words import ENGLISH, Words


def english(audit):
    return audit_text(audit, ENGLISH)


@pytest.fixture(scope="module")
def audit():
    return small_audit()


@pytest.fixture(scope="module")
def text(audit):
    return english(audit)


def cells(text, first):
    (row,) = [line for line in text.splitlines() if line.startswith(f"{first} ")]
    return re.split(r"\s{2,}", row)


def test_head_says_what_was_audited_by_what(audit, text):
    head = text.split("\n\n")[0].splitlines()
    assert head == [
        f"96 sessions, 222 trials, judged by ramp-and-hold ({audit.protocol.hash})",
        "not read: bad.h5: damaged",
    ]


def test_row_of_an_examiner_by_hand(text):
    # 75 of 100 rejected; alike within a session, they are worth 38 trials, of which Wilson's interval is 59 to 86 %;
    # the others' 3 of 122 are 2 % (the trials that name nobody too)
    assert cells(text, "HASTY") == ["HASTY", "25", "100", "75", "59 to 86", "2", "0.55", "ramp too fast, ramp"]
    assert cells(text, "NEW")[-1] == "too few to tell"


def test_examiner_with_nothing_to_compare_has_dashes(audit):
    (examiner,) = [each for each in audit.examiners if each.code == "NEW"]
    nan = float("nan")
    shares = {code: replace(each, found=replace(each.found, expected=nan)) for code, each in examiner.shares.items()}
    alone = replace(audit, examiners=(replace(examiner, shares=shares, numbers={}),))
    assert cells(english(alone), "NEW")[5:7] == ["\u2013", "\u2013"]


def test_findings_are_listed_under_their_examiner(text):
    (part,) = [part.splitlines() for part in text.split("\n\n") if part.startswith("HASTY\n")]
    assert part[1].startswith("  - ramp too fast: 75 of 100 trials (75 %), where 2 % would be usual with others: ")
    assert all(line.startswith("  - ") for line in part[1:])
    assert len(part) == 5


def test_examiners_with_too_few_trials_are_named(audit, text):
    assert "fewer than 20 trials or 5 sessions, too few to tell: NEW" in text
    enough = replace(audit, examiners=tuple(each for each in audit.examiners if each.enough))
    assert "fewer than" not in english(enough)


def test_sensor_that_moved_is_told(text):
    assert "sensor drifting: its zero has moved since 1970-01-26" in text
    assert "sensor cell" not in text


def test_agreement_is_a_table(audit, text):
    (study,) = audit.agreement
    limits = study.numbers.agreement
    assert limits.bias == pytest.approx(3.0)  # 2 N and 4 N less in turn
    row = cells(text, "B and C")
    assert row[:4] == ["B and C", "Hip flexion, left, by hand", "12", f"{study.numbers.icc['ICC(2,1)'].value:.2f}"]
    icc = study.numbers.icc["ICC(2,1)"]
    assert row[4:7] == [f"{icc.low:.2f} to {icc.high:.2f}", "0.7", f"{study.numbers.mdc95:.1f}"]
    assert row[7] == "+1 to +5"  # 3 -+ 1.96 x 1.04
    bare = replace(study, numbers=replace(study.numbers, agreement=None))
    assert cells(english(replace(audit, agreement=(bare,))), "B and C")[7] == "\u2013"


def test_study_without_numbers_has_no_row(audit):
    (study,) = audit.agreement
    with pytest.raises(ValueError, match="without numbers"):
        english(replace(audit, agreement=(replace(study, numbers=None),)))


def test_audit_of_nobody_says_so(audit):
    nobody = replace(audit, examiners=(), sensors=(), agreement=(), unreadable=())
    assert english(nobody).split("\n\n")[1:] == ["no trial names its examiner"]


def test_german_text_has_german_words_and_decimal_commas(audit):
    text = audit_text(audit, Words("de"))
    assert cells(text, "HASTY") == ["HASTY", "25", "100", "75", "59 bis 86", "2", "0,55", "Anstieg zu schnell, Anstieg"]
    assert text.startswith("96 Sitzungen, 222 Versuche, beurteilt nach ramp-and-hold (")
    assert "hat sich seit dem 26.01.1970 verschoben" in text
    plain = re.sub(r"\d\d\.\d\d\.\d{4}|.*damaged", "", text)
    assert re.findall(r"\d\.\d|\b(?:the|trials|sessions|others)\b", plain) == []
