"""Each way a link can fail has a sentence in each language."""

import pytest

from acquire.errors import ArchiveError, LinkError, LinkFailure
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
