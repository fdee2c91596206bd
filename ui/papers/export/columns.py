"""The columns of the tables that are exported: one list from which the tables and their dictionary are made."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, Literal, TypeAlias, TypeVar

from acquire.values.calibration import CalibrationState
from acquire.values.records import Person, SessionContext, TrialContext
from analysis.results.action_result import ActionResult, TrialNumbers, Value
from analysis.results.body_size import RelativeToBody, relative_to_body
from analysis.results.sides import SideComparison
from analysis.statistics.uncertainty import Budget
from analysis.trial.faults import Severity
from analysis.trial.judged_trial import JudgedTrial
from analysis.trial.measures import Measures
from analysis.trial.rfd import BANDS_MS
from ui.papers.report.occasion import Occasion
from ui.words.calibration_text import calibration_sentence
from ui.words.judgement_json import aside_reason
from ui.words.withheld_text import withheld_sentence
from ui.words.words import ENGLISH

Kind: TypeAlias = Literal["text", "number", "whole number", "yes or no", "time"]
CellValue: TypeAlias = str | float | int | bool | None

SEPARATOR = ";"
"""Between several words in one cell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialRow:
    """One trial with all that its row is made from."""

    file: str
    occasion: Occasion
    judged: JudgedTrial
    numbers: TrialNumbers | None
    """Its force and torque; None when it does not count."""

    @property
    def session(self) -> SessionContext:
        """What holds for the whole session."""
        return self.occasion.session.context

    @property
    def person(self) -> Person:
        """The person tested."""
        return self.session.person

    @property
    def context(self) -> TrialContext:
        """What the trial was."""
        return self.judged.trial.context

    @property
    def measures(self) -> Measures:
        """What was measured of it."""
        return self.judged.judgement.measures

    @property
    def torque_reach_nm(self) -> float | None:
        """The expanded uncertainty of its torque, N m."""
        budget = None if self.numbers is None else self.numbers.torque_budget
        return None if budget is None else _known(budget)

    @property
    def body(self) -> RelativeToBody:
        """Force and torque relative to the size of the body."""
        if self.numbers is None:
            return RelativeToBody()
        person, settings = self.person, self.occasion.summary.settings
        return relative_to_body(
            self.numbers.force_n,
            self.numbers.torque_nm,
            mass_kg=person.mass_kg or None,
            height_m=person.height_m or None,
            gravity_m_s2=settings.body_weight.gravity_m_s2,
            exponent=settings.allometry.exponent,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultRow:
    """What one action and side came to, with all that its row is made from."""

    file: str
    occasion: Occasion
    result: ActionResult

    @property
    def session(self) -> SessionContext:
        """What holds for the whole session."""
        return self.occasion.session.context

    @property
    def value(self) -> Value | None:
        """What stands for the set, by the result settings."""
        return self.result.value(self.occasion.summary.settings.score.of)

    @property
    def trials(self) -> list[JudgedTrial]:
        """Those that count, or all where none does."""
        numbers = self.result.set.used or tuple(each.trial for each in self.result.set.unused)
        return [self.occasion.trials[number - 1] for number in sorted(numbers)]

    @property
    def sides(self) -> SideComparison | None:
        """The comparison with the other side."""
        wanted = (self.result.action, self.result.method)
        found = (each for each in self.occasion.summary.sides if (each.action, each.method) == wanted)
        return next(found, None) if self.result.side else None


Row = TypeVar("Row", TrialRow, ResultRow)


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportColumn(Generic[Row]):
    """One column of a table."""

    name: str
    """Ends in its unit, where it has one."""
    unit: str
    """As UCUM writes it; empty where there is none, or UCUM has no way to write it."""
    kind: Kind
    about: str
    of: Callable[[Row], CellValue]


def trial_facts(file: str, occasion: Occasion) -> tuple[TrialRow, ...]:
    """Return every trial of a session, those set aside too."""
    numbers = {each.trial: each for result in occasion.summary.actions for each in result.trials}
    return tuple(
        TrialRow(file=file, occasion=occasion, judged=judged, numbers=numbers.get(judged.number))
        for judged in occasion.trials
    )


def result_facts(file: str, occasion: Occasion) -> tuple[ResultRow, ...]:
    """Return what every action and side of a session came to."""
    return tuple(ResultRow(file=file, occasion=occasion, result=each) for each in occasion.summary.actions)


def _text(name: str, about: str, of: Callable[[Row], CellValue]) -> ExportColumn[Row]:
    return ExportColumn(name=name, unit="", kind="text", about=about, of=of)


def _number(name: str, unit: str, about: str, of: Callable[[Row], CellValue]) -> ExportColumn[Row]:
    return ExportColumn(name=name, unit=unit, kind="number", about=about, of=of)


def _codes(facts: TrialRow, severity: Severity) -> str:
    return SEPARATOR.join(fault.code for fault in facts.judged.faults if fault.severity is severity)


def _band(milliseconds: int) -> ExportColumn[TrialRow]:
    return _number(
        f"rfd_0_{milliseconds}_n_per_s",
        "N/s",
        f"mean rate of force development, the first {milliseconds} ms from the onset; empty when withheld",
        lambda row: row.measures.rfd_n_per_s.get(f"0-{milliseconds}"),
    )


def _relative_band(milliseconds: int) -> ExportColumn[TrialRow]:
    return _number(
        f"rfd_0_{milliseconds}_pct_per_s",
        "%/s",
        f"mean rate of force development, the first {milliseconds} ms, as a share of the plateau; empty when withheld",
        lambda row: row.measures.rfd_pct_per_s.get(f"0-{milliseconds}"),
    )


def _known(budget: Budget) -> float | None:
    """Return an expanded uncertainty; None where a source of error could not be evaluated."""
    return budget.expanded if budget.complete else None


def _withheld(facts: TrialRow) -> str:
    reasons = facts.judged.judgement.withheld.items()
    return SEPARATOR.join(f"{name}: {withheld_sentence(reason, ENGLISH)}" for name, reason in reasons)


def _decision(facts: TrialRow) -> str:
    return aside_reason(facts.judged) or ""


def _verdict(facts: TrialRow) -> str:
    return facts.judged.judgement.verdict if facts.judged.cut_off is None else ""


def _notes(facts: TrialRow) -> str:
    return SEPARATOR.join(note.text for note in facts.judged.trial.notes)


_CALIBRATED = "yes, expired (by the day of the session), no (newtons are nominal), or mixed"


def _calibrated(trials: Sequence[JudgedTrial], session: SessionContext) -> str:
    named = {
        CalibrationState.CURRENT: "yes",
        CalibrationState.EXPIRED: "expired",
        CalibrationState.MISSING: "no",
    }
    states = {named[each.trial.calibration.state(session.started.date())] for each in trials}
    return states.pop() if len(states) == 1 else "mixed"


def _serials(trials: Sequence[JudgedTrial]) -> list[str]:
    return [each.trial.calibration.serial for each in trials if each.trial.calibration.serial]


def _distinct(words: Sequence[str]) -> str:
    return SEPARATOR.join(dict.fromkeys(words))


def _started(judged: JudgedTrial) -> str:
    began = judged.trial.context.started
    return "" if began is None else began.isoformat()


def _score(row: ResultRow) -> float | None:
    return None if row.value is None else row.value.force_n


TRIAL_COLUMNS: tuple[ExportColumn[TrialRow], ...] = (
    _text("file", "name of the session file", lambda row: row.file),
    _text("session", "identifier of the session", lambda row: row.session.session),
    ExportColumn(
        name="session_started",
        unit="",
        kind="time",
        about="beginning of the session, ISO 8601 with its offset from UTC",
        of=lambda row: row.session.started.isoformat(),
    ),
    ExportColumn(
        name="invented",
        unit="",
        kind="yes or no",
        about="demo data, of nobody",
        of=lambda row: row.session.invented,
    ),
    _text("person", "code of the person, never a name", lambda row: row.person.code),
    _text("sex", "female, male, or empty when not known", lambda row: row.person.sex),
    _number("age_years", "a", "age of the person", lambda row: row.person.age_years),
    _number("mass_kg", "kg", "mass of the person", lambda row: row.person.mass_kg),
    _number("height_m", "m", "height of the person", lambda row: row.person.height_m),
    _text("dominant_side", "left, right, or empty", lambda row: row.person.dominant_side),
    _text("affected_side", "injured or ill side: left, right, or empty", lambda row: row.person.affected_side),
    ExportColumn(
        name="trial",
        unit="",
        kind="whole number",
        about="number in the session, from 1",
        of=lambda row: row.judged.number,
    ),
    _text("action", "key of the action, such as knee-extension", lambda row: row.context.action),
    _text("side", "left, right, or empty", lambda row: row.context.side),
    _text("method", "what held the sensor: hand or belt", lambda row: row.context.method),
    _text("examiner", "code of the examiner", lambda row: row.context.examiner or row.session.examiner),
    _text(
        "sensor",
        "profile of the sensor; which one, where there were two",
        lambda row: row.context.sensor or row.session.sensor,
    ),
    _text(
        "calibration",
        "what the newtons rest on, one sentence",
        lambda row: calibration_sentence(row.judged.trial.calibration, row.session.started.date(), ENGLISH),
    ),
    _text("calibrated", _CALIBRATED, lambda row: _calibrated([row.judged], row.session)),
    _text("serial", "serial number of the sensor", lambda row: row.judged.trial.calibration.serial),
    ExportColumn(
        name="trial_started",
        unit="",
        kind="time",
        about="beginning of the trial, ISO 8601 with its offset from UTC; empty where it was not kept",
        of=lambda row: _started(row.judged),
    ),
    _number("lever_arm_m", "m", "from the joint to the middle of the pad", lambda row: row.context.lever_arm_m),
    _number("examiner_limit_n", "N", "force that the examiner can hold", lambda row: row.context.examiner_limit_n),
    _number("resting_force_n", "N", "force of the relaxed limb on the pad", lambda row: row.context.resting_force_n),
    _text("protocol", "name of the protocol that judged", lambda row: row.occasion.summary.protocol),
    _text("protocol_hash", "hash of its limits", lambda row: row.occasion.summary.protocol_hash),
    _text("results", "name of the result settings", lambda row: row.occasion.summary.settings.name),
    _text("results_hash", "hash of these settings", lambda row: row.occasion.summary.settings.hash),
    _text("verdict", "accepted or rejected, by the protocol; empty when the recording ended too early", _verdict),
    ExportColumn(
        name="counts",
        unit="",
        kind="yes or no",
        about="accepted, not set aside, and with a plateau force",
        of=lambda row: row.judged.counts,
    ),
    _text(
        "left_out",
        "why it does not count: set-aside, cut-off, rejected, withheld; empty when it counts",
        lambda row: getattr(row.judged.excluded, "value", ""),
    ),
    _text("set_aside_reason", "what the person said who set it aside, or what ended the recording", _decision),
    _text("notes", "what was noted with the trial, parted by ;", _notes),
    _text("faults", "codes of the faults that reject it, parted by ;", lambda row: _codes(row, Severity.REJECT)),
    _text("warnings", "codes of the faults that only warn, parted by ;", lambda row: _codes(row, Severity.WARN)),
    _number(
        "plateau_force_n",
        "N",
        "mean of the best 3 s of the hold, the limb's weight still in it",
        lambda row: row.measures.plateau_force_n,
    ),
    _number("peak_force_n", "N", "highest mean of 20 ms", lambda row: row.measures.peak_force_n),
    _number(
        "force_n",
        "N",
        "score of the trial, as the result settings say, without the limb's weight where a resting force was recorded; "
        "empty when it does not count",
        lambda row: None if row.numbers is None else row.numbers.force_n,
    ),
    _number(
        "force_uncertainty_n",
        "N",
        "expanded uncertainty of force_n of this trial alone, at the level of the result settings (95 %); empty where "
        "a source of error is not known",
        lambda row: None if row.numbers is None else _known(row.numbers.force_budget),
    ),
    _number(
        "torque_nm",
        "N.m",
        "force_n times lever_arm_m",
        lambda row: None if row.numbers is None else row.numbers.torque_nm,
    ),
    _number(
        "torque_uncertainty_nm",
        "N.m",
        "expanded uncertainty of torque_nm of this trial alone; empty as above",
        lambda row: row.torque_reach_nm,
    ),
    _number("force_n_per_kg", "N/kg", "force_n / mass", lambda row: row.body.n_per_kg),
    _number("force_pct_body_weight", "%", "force_n / (mass x 9.80665 m/s2)", lambda row: row.body.pct_body_weight),
    _number(
        "force_n_per_kg_067", "", "force_n / mass^0.67, in N/kg^0.67 (Jaric 2002)", lambda row: row.body.n_per_kg_067
    ),
    _number(
        "mass_exponent",
        "",
        "exponent of the mass in force_n_per_kg_b, by the result settings",
        lambda row: row.occasion.summary.settings.allometry.exponent,
    ),
    _number(
        "force_n_per_kg_b",
        "",
        "force_n / mass^mass_exponent, in N/kg^mass_exponent",
        lambda row: row.body.n_per_kg_b,
    ),
    _number("torque_nm_per_kg", "N.m/kg", "torque_nm / mass", lambda row: row.body.nm_per_kg),
    _number("torque_nm_per_kg_m", "N.m/kg/m", "torque_nm / (mass x height)", lambda row: row.body.nm_per_kg_m),
    _number(
        "onset_s",
        "s",
        "when the effort begins, from the first sample of the trial",
        lambda row: row.measures.onset_s,
    ),
    _number("time_to_peak_s", "s", "from the onset to the peak", lambda row: row.measures.time_to_peak_s),
    _number("ramp_time_s", "s", "from the onset to 90 % of the plateau", lambda row: row.measures.ramp_time_s),
    _number("rise_10_90_s", "s", "from 10 to 90 % of the plateau", lambda row: row.measures.rise_10_90_s),
    _number(
        "time_to_50_pct_s", "s", "from the onset to 50 % of the plateau", lambda row: row.measures.time_to_50_pct_s
    ),
    _number(
        "ramp_slope_n_per_s",
        "N/s",
        "straight line through 20 to 80 % of the plateau",
        lambda row: row.measures.ramp_slope_n_per_s,
    ),
    _number(
        "hold_time_s",
        "s",
        "longest stretch within the protocol's band about its own mean",
        lambda row: row.measures.hold_time_s,
    ),
    _number(
        "hold_cv_pct",
        "%",
        "standard deviation of the hold as a share of its mean",
        lambda row: row.measures.hold_cv_pct,
    ),
    _number("hold_trend_pct_per_s", "%/s", "how fast the hold rises", lambda row: row.measures.hold_trend_pct_per_s),
    _number(
        "fatigue_index_pct",
        "%",
        "by how much the hold falls from its first second to its last, as a share of the first; empty when withheld",
        lambda row: row.measures.fatigue_index_pct,
    ),
    *(_band(milliseconds) for milliseconds in BANDS_MS),
    *(_relative_band(milliseconds) for milliseconds in BANDS_MS),
    _number("peak_rfd_n_per_s", "N/s", "steepest 20 ms of the ramp", lambda row: row.measures.peak_rfd_n_per_s),
    _number("impulse_n_s", "N.s", "force times time from onset to release", lambda row: row.measures.impulse_n_s),
    _number("baseline_n", "N", "the unloaded sensor, as recorded", lambda row: row.measures.baseline_n),
    _number("release_s", "s", "when the force falls through half of the plateau", lambda row: row.measures.release_s),
    _text("withheld", "measures that the data cannot support, each with its reason, parted by ;", _withheld),
)
"""One row a trial."""


RESULT_COLUMNS: tuple[ExportColumn[ResultRow], ...] = (
    _text("file", "name of the session file", lambda row: row.file),
    _text("session", "identifier of the session", lambda row: row.session.session),
    ExportColumn(
        name="session_started",
        unit="",
        kind="time",
        about="beginning of the session, ISO 8601 with its offset from UTC",
        of=lambda row: row.session.started.isoformat(),
    ),
    ExportColumn(
        name="invented", unit="", kind="yes or no", about="demo data, of nobody", of=lambda row: row.session.invented
    ),
    _text("person", "code of the person, never a name", lambda row: row.session.person.code),
    _text("action", "key of the action, such as knee-extension", lambda row: row.result.action),
    _text("side", "left, right, or empty", lambda row: row.result.side),
    _text("method", "what held the sensor: hand or belt", lambda row: row.result.method),
    _text("sensor", "profile of the sensor", lambda row: row.result.sensor or row.session.sensor),
    _text("serial", "serial number of the sensor", lambda row: _distinct(_serials(row.trials))),
    _text("calibrated", _CALIBRATED, lambda row: _calibrated(row.trials, row.session)),
    _text("protocol", "name of the protocol that judged", lambda row: row.occasion.summary.protocol),
    _text("protocol_hash", "hash of its limits", lambda row: row.occasion.summary.protocol_hash),
    _text("results", "name of the result settings", lambda row: row.occasion.summary.settings.name),
    _text("results_hash", "hash of these settings", lambda row: row.occasion.summary.settings.hash),
    _text(
        "score_trial",
        "which force of a trial is its score: plateau, best-1s, best-0.5s or peak",
        lambda row: row.occasion.summary.settings.score.trial.value,
    ),
    _text(
        "score_of",
        "which of the trials stands for the set: best, mean or median",
        lambda row: row.occasion.summary.settings.score.of.value,
    ),
    _number("score_n", "N", "the score, without the limb's weight where a resting force was recorded", _score),
    _number(
        "score_uncertainty_n",
        "N",
        "expanded uncertainty of score_n (95 %); empty where a source of error is not known",
        lambda row: None if row.value is None else _known(row.value.force_budget),
    ),
    _number("score_nm", "N.m", "the same as torque", lambda row: None if row.value is None else row.value.torque_nm),
    _number(
        "score_pct_body_weight",
        "%",
        "score_n / (mass x 9.80665 m/s2)",
        lambda row: None if row.value is None else row.value.body.pct_body_weight,
    ),
    ExportColumn(
        name="trials_counted",
        unit="",
        kind="whole number",
        about="accepted trials that the score is of",
        of=lambda row: len(row.result.set.used),
    ),
    ExportColumn(
        name="trials_left_out",
        unit="",
        kind="whole number",
        about="rejected or set aside",
        of=lambda row: len(row.result.set.unused),
    ),
    ExportColumn(
        name="set_complete",
        unit="",
        kind="yes or no",
        about="as many accepted trials as the protocol asks for, that agree",
        of=lambda row: row.result.set.complete,
    ),
    _number(
        "cv_pct",
        "%",
        "coefficient of variation across the trials that count; empty for one",
        lambda row: None if row.result.force is None else row.result.force.cv_pct,
    ),
    _number(
        "limb_symmetry_pct",
        "%",
        "the affected side as a share of the other, or the weaker of the stronger; the same in both rows",
        lambda row: None if row.sides is None else row.sides.symmetry_pct,
    ),
    _text("sides", "what the comparison of sides came to", lambda row: "" if row.sides is None else row.sides.finding),
    _text(
        "trial_numbers",
        "numbers of the trials that count, or of all where none does, parted by ;",
        lambda row: SEPARATOR.join(str(each.number) for each in row.trials),
    ),
    _text(
        "trials_started",
        "beginning of each of them, ISO 8601, parted by ;",
        lambda row: SEPARATOR.join(_started(each) for each in row.trials),
    ),
)
"""One row an action, side and method."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """A column without a getter: of the table of samples, and of a trace."""

    name: str
    unit: str
    kind: Kind
    about: str


SAMPLE_COLUMNS: tuple[Described, ...] = (
    Described(name="session", unit="", kind="text", about="identifier of the session"),
    Described(name="trial", unit="", kind="whole number", about="number in the session, from 1"),
    Described(name="time_s", unit="s", kind="number", about="from the first sample of the trial"),
    Described(name="force_n", unit="N", kind="number", about="zero removed; empty for a lost sample"),
    Described(
        name="clipped",
        unit="",
        kind="yes or no",
        about="the sensor was at its limit; empty when the limit is not known",
    ),
)
"""One row a sample."""

TRACE_COLUMNS: tuple[Described, ...] = (
    Described(name="time_s", unit="s", kind="number", about="from the first sample of the trial"),
    Described(name="force_n", unit="N", kind="number", about="zero removed; empty for a lost sample"),
)
"""One file a trial, which `ramphold analyse` reads."""

DICTIONARY_COLUMNS = ("table", "column", "unit_ucum", "kind", "about")


def dictionary() -> tuple[tuple[str, str, str, str, str], ...]:
    """Return a row for each column of each table.

    Examples
    --------
    >>> next(row for row in dictionary() if row[1] == "torque_nm")
    ('trials.csv', 'torque_nm', 'N.m', 'number', 'force_n times lever_arm_m')
    """
    tables: tuple[tuple[str, Sequence[ExportColumn[TrialRow] | ExportColumn[ResultRow] | Described]], ...] = (
        ("results.csv", RESULT_COLUMNS),
        ("trials.csv", TRIAL_COLUMNS),
        ("samples.csv", SAMPLE_COLUMNS),
        ("traces", TRACE_COLUMNS),
    )
    return tuple((table, each.name, each.unit, each.kind, each.about) for table, columns in tables for each in columns)
