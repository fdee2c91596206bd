"""What the program writes beside a trial: fixed in files, in the reader's language on the screen."""

import pytest

from acquire.decoders import PARTIAL_FIRST, Reason
from acquire.values.remarks import ProgramReason, TrialEnd
from ui.words.remark_text import KNOWN, remark_text
from ui.words.words import Words

EVERY = [*Reason, *TrialEnd, *ProgramReason]


@pytest.mark.parametrize("remark", EVERY)
def test_every_remark_is_said_in_both_languages(remark):
    assert remark_text(remark.value, Words("en")) == remark.value
    assert remark_text(remark.value, Words("de")) not in {remark.value, ""}


def test_no_two_remarks_are_the_same_in_a_file():
    assert len(KNOWN) == len(EVERY)
    assert len({remark_text(each, Words("de")) for each in EVERY}) == len(EVERY)


@pytest.mark.parametrize("written", ["the pad slipped", "2 packets failed their checksum", ""])
def test_what_a_person_or_an_older_program_wrote_is_shown_as_it_is(written):
    assert remark_text(written, Words("de")) == written


def test_a_stream_that_is_opened_in_the_middle_is_not_damaged():
    assert {each.value for each in PARTIAL_FIRST} == {"partial first line", "partial first packet"}
