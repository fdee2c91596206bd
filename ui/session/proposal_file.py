"""A proposed profile as a file: of each key, how sure it is and why."""

from __future__ import annotations

from datetime import date

from acquire.discovery import Confidence, Proposal
from acquire.sensor.profile_text import profile_text


def proposal_file(proposal: Proposal, *, source: str, on: date) -> str:
    """Return the profile as a TOML file that says of each key how sure it is and why.

    Parameters
    ----------
    proposal : Proposal
        What was found.
    source : str
        Where the bytes came from.
    on : date
        The day.
    """
    heading = (
        f"Found by 'ramphold sensors --new' on {on} from {source}.\n"
        "Above each key stands how sure it is (given, sure, likely, guess) and why; replace what is a guess.\n"
        "All keys are explained in hardware_notes/profiles.md."
    )
    comments = {finding.key: f"{finding.confidence}: {finding.why}" for finding in proposal.findings}
    return profile_text(proposal.profile, comments=comments, heading=heading)


def guesses(proposal: Proposal) -> list[str]:
    """Return the keys whose values nobody has seen."""
    return [finding.key for finding in proposal.findings if finding.confidence is Confidence.GUESS]
