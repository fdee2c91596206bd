"""What the program itself writes beside a trial.

A session file holds the values, which never change; who reads them asks for the member, never for its words.
"""

from __future__ import annotations

import enum


class TrialEnd(enum.StrEnum):
    """What ended the record of a trial before the trial did, among the damage of the trial."""

    LINK_LOST = "the link to the sensor was lost during the trial"
    STOPPED = "the recording was stopped during the trial"
    CRASHED = "the program ended during the trial"
    ENDED = "the recording ended during the trial"


class ProgramReason(enum.StrEnum):
    """Why the program set a trial aside or took it back, as the reason of the decision."""

    STRAY = "pushed while no trial was asked for"
    HALTED = "ended by the examiner before its time"
    UNDONE = "taken back"
