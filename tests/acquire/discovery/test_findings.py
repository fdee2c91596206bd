"""A finding, and a proposal made of findings."""

import pytest
from pushed import captured, text_frames

from acquire.discovery import Confidence, Finding, Known, discover
from acquire.errors import DiscoveryError, DiscoveryFailure


def test_finding_of_no_number():
    finding = Finding(key="framing", value="lines", confidence=Confidence.SURE, why="")
    with pytest.raises(TypeError, match="framing is 'lines', not a number"):
        _ = finding.number


def test_proposal_knows_what_it_found():
    proposal = discover(captured(text_frames(lambda row: f"{row.counts}")))
    assert proposal.finding("rate_hz").number == 80.0
    with pytest.raises(KeyError, match="tick_hz"):
        proposal.finding("tick_hz")


def test_what_makes_no_profile_says_which_key():
    capture = captured(text_frames(lambda row: f"{row.counts}"))
    with pytest.raises(
        DiscoveryError, match="what was found makes no profile: key characteristic: a bluetooth"
    ) as caught:
        discover(capture, Known(link=(Finding(key="link", value="bluetooth", confidence=Confidence.GIVEN, why=""),)))
    assert caught.value.reason is DiscoveryFailure.UNUSABLE
