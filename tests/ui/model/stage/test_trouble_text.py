"""Each way a link can fail has a sentence in each language."""

import pytest

from acquire.errors import ArchiveError, LinkDetail, LinkError, LinkFailure
from ui.model.stage.trouble_text import trouble_sentence
from ui.words.words import Words


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("reason", LinkFailure)
def test_each_failure_has_a_sentence_of_its_own(reason, language):
    words = Words(language)
    sentence = trouble_sentence(LinkError("cause", port="COM3", reason=reason), words)
    others = {
        trouble_sentence(LinkError("cause", port="COM3", reason=other), words)
        for other in LinkFailure
        if other is not reason
    }
    assert sentence.strip()
    assert sentence not in others


def test_error_that_is_not_the_links_is_quoted():
    assert "disk full" in trouble_sentence(ArchiveError("disk full"), Words())


VALUES = {
    "error": "e-1",
    "baud": 9600,
    "megabytes": 1.5,
    "names": "one, other",
    "name": "one",
    "sensor": "s-1",
    "seconds": 2.5,
}


@pytest.mark.parametrize("language", ["en", "de"])
def test_each_detail_has_a_sentence_of_its_own_and_never_the_english_of_the_error(language):
    words = Words(language)
    said = [
        trouble_sentence(LinkError("cause", port="COM3", reason=LinkFailure.FAILED, detail=detail, **VALUES), words)
        for detail in LinkDetail
    ]
    assert len(set(said)) == len(said)
    assert not [sentence for sentence in said if "cause" in sentence]
    assert [sentence for sentence in said if "1.5" in sentence or "2.5" in sentence] == [
        sentence for sentence in said if language == "en" and ("1.5" in sentence or "2.5" in sentence)
    ]
