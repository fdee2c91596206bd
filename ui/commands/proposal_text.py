"""A proposed profile as a table, as JSON, and as the comments of its file."""

from __future__ import annotations

import shutil
import textwrap

from acquire.discovery import Finding, Proposal
from acquire.files.tomlfile import toml_value
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
