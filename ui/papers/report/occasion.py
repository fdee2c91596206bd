"""One session as a report needs it: its trials judged, what they come to, and the scores to compare."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from pathlib import Path

import msgspec

from acquire.errors import ArchiveError
from acquire.storage.session_file import read_session
from acquire.storage.walk import shown_name
from acquire.values.records import Method, Session
from analysis.reliability.side_index import SideError
from analysis.results.quantities import Unit
from analysis.results.ratios import load_pairs
from analysis.results.scores import Score, ScoreKind
from analysis.results.session_scores import session_scores
from analysis.results.settings import ResultSettings, ScoreOf, TrialScore
from analysis.results.summary import SessionSummary, summarise
from analysis.stored.results import summarise_session
from analysis.trial.judged_trial import JudgedTrial, judge_session
from analysis.trial.protocol import Protocol


@dataclass(frozen=True, kw_only=True, eq=False)
class Occasion:
    """One session, in numbers."""

    session: Session
    trials: tuple[JudgedTrial, ...]
    summary: SessionSummary
    protocol: Protocol
    """What it was judged by."""
    name: str = ""
    """What to call it: the name of its file."""
    side_errors: Mapping[tuple[str, Method], SideError] = field(default_factory=dict)
    """What a difference between sides was held against, where not against the uncertainty of the session."""

    @cached_property
    def scores(self) -> dict[ScoreKind, Score]:
        """The forces and torques of the session by their kind."""
        held = {each.number: each.trial.context.examiner for each in self.trials}
        return session_scores(self.summary, held)

    @cached_property
    def _summaries(self) -> dict[tuple[TrialScore, ScoreOf], SessionSummary]:
        score = self.summary.settings.score
        return {(score.trial, score.of): self.summary}

    def scored_as(self, trial: TrialScore, of: ScoreOf) -> SessionSummary:
        """Return the session by another score, with all else as its settings say: the traces are at hand."""
        if (trial, of) not in self._summaries:
            score = msgspec.structs.replace(self.summary.settings.score, trial=trial, of=of)
            settings = msgspec.structs.replace(self.summary.settings, score=score)
            self._summaries[trial, of] = summarise(
                self.session.context, self.trials, protocol=self.protocol, settings=settings
            )
        return self._summaries[trial, of]

    def beside(self, others: Iterable[Occasion], side_errors: Mapping[tuple[str, Method], SideError]) -> Occasion:
        """Return the session with its errors worked out from other sessions too, scored alike.

        Parameters
        ----------
        others : iterable of Occasion
            How much the trials of a set differ is pooled over their sets and its own.
        side_errors : mapping
            What a difference between sides must exceed, by action and method.
        """
        summary = summarise(
            self.session.context,
            self.trials,
            protocol=self.protocol,
            settings=self.summary.settings,
            pairs=load_pairs(),
            detectable_pct={key: each.points for key, each in side_errors.items()},
            others=[result for other in others for result in other.summary.actions],
        )
        return replace(self, summary=summary, side_errors=side_errors)

    def force_scores(self) -> dict[ScoreKind, Score]:
        """The forces alone."""
        return {kind: score for kind, score in self.scores.items() if kind.unit is Unit.NEWTON}


def occasion_of(
    session: Session, protocol: Protocol, *, settings: ResultSettings | None = None, name: str = ""
) -> Occasion:
    """Return a session in numbers, every trial judged by the protocol and scored by the settings given."""
    trials = judge_session(session, protocol)
    summary = summarise_session(session, protocol, trials=trials, settings=settings)
    return Occasion(session=session, trials=trials, summary=summary, protocol=protocol, name=name)


def read_occasion(path: Path, protocol: Protocol, settings: ResultSettings | None = None) -> Occasion:
    """Return a stored session in numbers.

    Raises
    ------
    ArchiveError
        If it cannot be read.
    """
    return occasion_of(read_session(path), protocol, settings=settings, name=shown_name(path.name))


def in_order(latest: Occasion, earlier: Iterable[Occasion]) -> tuple[Occasion, ...]:
    """Return the earlier sessions, the first one first.

    Raises
    ------
    ArchiveError
        If one did not begin before the session that is reported, is of another person, or is there twice.
    """
    ordered = sorted(earlier, key=lambda each: each.session.context.started)
    for each in ordered:
        _check_earlier(latest, each)
    _check_twice(ordered)
    return tuple(ordered)


def _check_earlier(latest: Occasion, other: Occasion) -> None:
    mine, theirs = latest.session.context, other.session.context
    if theirs.started >= mine.started:
        raise ArchiveError(
            f"{other.name}: began {theirs.started.isoformat(sep=' ', timespec='minutes')}, not before {latest.name}"
            f" ({mine.started.isoformat(sep=' ', timespec='minutes')}): give sessions from before with --earlier"
        )
    if theirs.person.code != mine.person.code:
        raise ArchiveError(
            f"{other.name}: is of person {theirs.person.code or 'without a code'}, {latest.name} of"
            f" {mine.person.code or 'a person without a code'}: give sessions of the same person"
        )


def _check_twice(ordered: Sequence[Occasion]) -> None:
    for one, other in pairwise(ordered):
        if one.session.context.started == other.session.context.started:
            raise ArchiveError(f"{one.name} and {other.name} began at the same time: give each session once")
