"""What a journal holds, after a crash: its bytes go through the pipeline again, and give the trials that they gave."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import msgspec

from acquire.errors import ArchiveError
from acquire.sensor.profile import Profile
from acquire.storage.journal import ChunkRecord, JournalReader
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import ENDS, TrialPlan
from acquire.values.calibration import Calibration
from acquire.values.outside_text import all_visible
from acquire.values.records import SessionContext, Trial, TrialContext
from acquire.values.remarks import TrialEnd

MOST_S = 1e9
"""An arrival is a second of the computer's steady clock: another one is damage, and its chunk is taken as it stands."""


class JournalHeader(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a journal needs to be turned into trials again."""

    session: SessionContext
    profile: Profile
    calibration: Calibration
    began: datetime
    """The wall clock at arrival 0."""
    epoch: float | None = None
    """The arrival from which the times of trials count; None for a stream by itself."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recovery:
    """What a journal held."""

    session: SessionContext
    trials: tuple[Trial, ...]
    """All of them, those that were saved too; the last may be unfinished, and says so in its damage."""
    torn: int
    """Bytes at the end of the journal that could not be read."""


def recover(path: Path) -> Recovery:
    """Return the trials that a journal holds, by the very path that they took when recorded.

    Raises
    ------
    ArchiveError
        If the file is no journal, or its header cannot be read.
    """
    with JournalReader(path) as reader:
        header = read_header(reader.header, path)
        pipeline = Pipeline(header.profile, header.calibration, epoch=header.epoch)
        plan, trials, arrival = TrialPlan(), list[Trial](), 0.0
        for record in reader:
            found: list[Trial] = []
            if isinstance(record, ChunkRecord):
                arrival = record.arrival if abs(record.arrival) <= MOST_S else arrival  # NaN is not either
                found = pipeline.feed(arrival, record.data)
            else:
                found = _replayed(record.content, pipeline)
                plan = _planned(record.content, plan)
            trials += [_placed(trial, plan.next(), header, arrival - pipeline.age(trial)) for trial in found]
        last = pipeline.finish(TrialEnd.CRASHED)
        trials += [_placed(trial, plan.next(), header, arrival - pipeline.age(trial)) for trial in last]
        return Recovery(session=header.session, trials=tuple(trials), torn=reader.torn)


def read_header(content: Mapping[str, Any], path: Path) -> JournalHeader:
    """Return the header of a journal as a value."""
    try:
        return msgspec.convert(all_visible(content), JournalHeader)
    except msgspec.ValidationError as error:
        raise ArchiveError(f"{path}: the header of this journal cannot be used: {error}") from error


def _replayed(content: Mapping[str, Any], pipeline: Pipeline) -> list[Trial]:
    what = content.get("link")
    if not isinstance(what, str):
        return []
    if what == "back":
        pipeline.reconnected()
    return pipeline.finish(ENDS[what]) if what in ENDS else []


def _planned(content: Mapping[str, Any], plan: TrialPlan) -> TrialPlan:
    """Return the plan that an event says; the one before where it says none that can be understood."""
    try:
        return TrialPlan(*msgspec.convert(content["plan"], tuple[TrialContext, ...])) if "plan" in content else plan
    except msgspec.ValidationError:
        return plan


def _placed(trial: Trial, context: TrialContext, header: JournalHeader, arrival: float) -> Trial:
    started = header.began + timedelta(seconds=arrival)
    return replace(trial, context=msgspec.structs.replace(context, started=started))
