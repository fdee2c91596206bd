"""A proposed profile as a table, as JSON, and as the comments of its file."""

from __future__ import annotations

import shutil
import textwrap
from datetime import date

from acquire.discovery import Confidence, Finding, Proposal
from acquire.files.tomlfile import toml_value
from acquire.sensor.profile_text import profile_text
from analysis.trial.protocol import load_protocol
from ui.papers.tables import text_table

LEAST_WIDTH = 30
"""Characters for the reasons, in a narrow terminal."""


def proposal_table(proposal: Proposal, *, width: int | None = None) -> str:
    """Return one row a key: its value, how sure it is and why, wrapped to a width.

    Parameters
    ----------
    proposal : Proposal
        What was found.
    width : int, optional
        Characters of a line; those of the terminal where left out.
    """
    cells = [(f.key, toml_value(f.value), str(f.confidence)) for f in proposal.findings]
    before = sum(max(map(len, column)) + 2 for column in zip(*cells, ("key", "value", "confidence"), strict=True))
    room = max(LEAST_WIDTH, (width or shutil.get_terminal_size((110, 24)).columns) - before)
    rows = [
        (*(head if at == 0 else ("", "", "")), line)
        for head, finding in zip(cells, proposal.findings, strict=True)
        for at, line in enumerate(textwrap.wrap(finding.why, room, break_long_words=False))
    ]
    return text_table(rows, ("key", "value", "confidence", "why"))


def proposal_notes(proposal: Proposal) -> list[str]:
    """Return what was measured besides, and what the user should know, one line each."""
    return [
        *(f"{name}: {value}" for name, value in proposal.measured),
        *(f"! {sentence}" for sentence in (*proposal.advice, *_slow(proposal.profile.rate_hz))),
    ]


def _slow(rate_hz: float) -> list[str]:
    """Return what the protocol makes of a rate."""
    limits = load_protocol("ramp-and-hold").slow_sensor
    if rate_hz < limits.reject_below_hz:
        return [f"Below {limits.reject_below_hz:g} Hz every trial is rejected: raise the sensor's rate."]
    if rate_hz < limits.warn_below_hz:
        return [f"Below {limits.warn_below_hz:g} Hz every trial is warned of: raise the sensor's rate if it can."]
    return []


def proposal_json(proposal: Proposal) -> dict[str, object]:
    """Return a proposal as plain JSON values."""
    return {
        "name": proposal.profile.name,
        "title": proposal.profile.title,
        "findings": [_finding(finding) for finding in proposal.findings],
        "measured": dict(proposal.measured),
        "advice": [*proposal.advice, *_slow(proposal.profile.rate_hz)],
        "push_seen": proposal.push_seen,
    }


def _finding(finding: Finding) -> dict[str, object]:
    value = list(finding.value) if isinstance(finding.value, tuple) else finding.value
    return {"key": finding.key, "value": value, "confidence": str(finding.confidence), "why": finding.why}


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
