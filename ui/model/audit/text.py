"""The words of Audit: rows of its tables, what is said of an examiner, how far it is, what an archive holds."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from acquire.values.units import ForceUnit, from_newtons
from analysis.audit.archive_audit import Audit
from analysis.audit.compare import LEAST_SESSIONS, LEAST_TRIALS
from analysis.audit.examiners import REJECTED, ExaminerAudit, Number, Share
from analysis.reliability.retest import Reliability
from ui.model.audit.audit import AuditModel, Behind, BehindRead, findings
from ui.model.audit.findings_text import NUMBER_UNITS, day, finding_lines, number_name, says, sensor_lines
from ui.model.audit.run import Progress
from ui.model.audit.work import rough_time
from ui.model.review.text import ASIDE, BAD, GOOD, action_name, force
from ui.words.fault_text import fault_name
from ui.words.words import NOTHING, Words, Written

FINDING = "\u25b2"
"""Goes with every finding, so that colour is not needed."""

TOO_FEW = "?"


@dataclass(frozen=True, slots=True, kw_only=True)
class ExaminerRow:
    """One examiner in the table."""

    code: str
    cells: tuple[str, ...]
    """In the order of `ui.model.audit.audit.COLUMNS`."""
    kind: str
    """`finding`, `nothing` or `few`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareRow:
    """One fault or one number of an examiner."""

    key: str
    """The code of the fault, `REJECTED`, or the name of the number."""
    number: bool
    """Whether it is a number of the technique, not a share."""
    cells: tuple[str, ...]
    """In the order of `SHARE_COLUMNS`."""
    finding: bool


SHARE_COLUMNS = ("what", "theirs", "interval", "others")


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """What is said of one examiner."""

    title: str
    lines: tuple[str, ...]
    """Sentences of the findings, or why there are none."""
    finding: bool
    """Whether the lines are findings."""
    sets: tuple[str, ...]
    """How the sets go."""
    piled: bool
    """Whether plateaus pile up, so that there are trials behind it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A heading, and what stands below it: lines, or a table of names and values."""

    heading: str
    lines: tuple[str, ...] = ()
    pairs: tuple[tuple[str, str], ...] = ()


# where it stands


def title_of(model: AuditModel, words: Words) -> str:
    """Return what is open: the folder by its name, or that there is none."""
    return Path(model.choice.folder).name or model.choice.folder or words("audit.title")


def about(model: AuditModel, words: Words) -> tuple[str, ...]:
    """Return what was audited, a phrase each."""
    audit = model.audit
    if audit is None or model.audited is None:
        return (model.choice.folder,) if model.choice.folder else ()
    return (
        words("audit.about", sessions=audit.files, trials=len(audit.table)),
        words("audit.judged_by", name=audit.protocol.name, hash=audit.protocol.hash),
        *((words("audit.is_blind"),) if model.audited.blind else ()),
        *((words("audit.unreadable", count=len(audit.unreadable)),) if audit.unreadable else ()),
    )


def hint(model: AuditModel, words: Words) -> tuple[str, ...]:
    """Return what is said where there is no examiner to show, a paragraph each."""
    if not model.choice.folder:
        return words("audit.what"), words("audit.like")
    if model.audit is None:
        return words("audit.ready"), words("audit.like")
    if not model.audit.files:
        return (words("audit.empty"), *_unread_lines(model.audit))
    return (words("audit.no_names"),)


def notes(model: AuditModel, words: Words) -> tuple[str, ...]:
    """Return what must be known before the table is read, a sentence each."""
    found = []
    if model.stale:
        found.append(words("audit.stale", name=Path(model.choice.protocol).stem))
    if len(model.examiners) == 1:
        found.append(words("audit.one_only"))
    return tuple(found)


def progress_text(progress: Progress | None, *, stopping: bool, words: Words) -> str:
    """Return how far an audit has come."""
    if stopping:
        return words("audit.stopping")
    if progress is None:
        return words("audit.looking")
    if progress.measured:
        return words("audit.comparing")
    if progress.left_s is None:
        return words("audit.progress", done=progress.done, total=progress.total)
    left = rough_time(progress.left_s)
    return words("audit.progress_left", done=progress.done, total=progress.total, left=left)


# the tables


def rows(model: AuditModel, words: Words) -> tuple[ExaminerRow, ...]:
    """Return the table of examiners, in the order that was chosen."""
    return tuple(_row(examiner, words) for examiner in model.examiners)


def _row(examiner: ExaminerAudit, words: Words) -> ExaminerRow:
    share = examiner.shares[REJECTED].found
    kind = "few" if not examiner.enough else "finding" if findings(examiner) else "nothing"
    mark = {"few": TOO_FEW, "finding": FINDING, "nothing": GOOD}[kind]
    return ExaminerRow(
        code=examiner.code,
        cells=(
            examiner.code,
            str(examiner.sessions),
            str(examiner.trials),
            _percent(share.share, words),
            _between(*share.interval, words),
            _percent(share.expected, words),
            f"{mark} {says(examiner, words, lambda code: fault_name(code, words))}",
        ),
        kind=kind,
    )


def share_rows(examiner: ExaminerAudit | None, words: Words) -> tuple[ShareRow, ...]:
    """Return the shares of one examiner, findings and what happened most often first, then the numbers."""
    if examiner is None:
        return ()
    faults = {code: share for code, share in examiner.shares.items() if code != REJECTED and share.found.count}
    often = sorted(faults, key=lambda code: (not faults[code].finding, -faults[code].found.count))
    return (
        _share_row(REJECTED, examiner.shares[REJECTED], words),
        *(_share_row(code, faults[code], words) for code in often),
        *(_number_row(name, number, words) for name, number in examiner.numbers.items()),
    )


def _share_row(code: str, share: Share, words: Words) -> ShareRow:
    found = share.found
    name = words("audit.rejected") if code == REJECTED else fault_name(code, words)
    cells = (
        _marked(name, share.finding),
        f"{found.count} ({_percent(found.share, words)} %)",
        _between(*found.interval, words),
        NOTHING if math.isnan(found.expected) else f"{_percent(found.expected, words)} %",
    )
    return ShareRow(key=code, number=False, cells=cells, finding=share.finding)


def _number_row(name: str, number: Number, words: Words) -> ShareRow:
    low, median, high = (_figures(each, words) for each in number.found.quartiles)
    others, unit = number.found.others, NUMBER_UNITS[name]
    cells = (
        _marked(number_name(name, words), number.finding),
        f"{median} {unit}",
        words("audit.agreement.range", low=low, high=high),
        NOTHING if math.isnan(others) else f"{_figures(others, words)} {unit}",
    )
    return ShareRow(key=name, number=True, cells=cells, finding=number.finding)


def _marked(name: str, finding: bool) -> str:
    return f"{FINDING} {name}" if finding else name


def _figures(value: float, words: Words) -> str:
    """Return a number with as many figures as matter: two after the point below ten, one below a hundred."""
    digits = 2 if abs(value) < 10.0 else 1 if abs(value) < 100.0 else 0
    return words.number(value, digits)


def _percent(share: float, words: Words) -> str:
    return words.number(100.0 * share, 0)


def _between(low: float, high: float, words: Words) -> str:
    return words("audit.agreement.range", low=_percent(low, words), high=_percent(high, words))


# one examiner


def page(examiner: ExaminerAudit | None, words: Words) -> Page | None:
    """Return what is said of an examiner; None for none."""
    if examiner is None:
        return None
    found = finding_lines(
        examiner, words, lambda code: fault_name(code, words), lambda action: action_name(action, words)
    )
    none = (
        words("audit.no_findings")
        if examiner.enough
        else words("audit.too_few_why", trials=LEAST_TRIALS, sessions=LEAST_SESSIONS)
    )
    return Page(
        title=examiner.code,
        lines=tuple(f"{line[0].upper()}{line[1:]}" for line in found) or (none,),
        finding=bool(found),
        sets=tuple(_sets(examiner, words)),
        piled=examiner.enough and examiner.ceiling is not None,
    )


def _sets(examiner: ExaminerAudit, words: Words) -> Iterator[str]:
    sets = examiner.sets
    if sets.trials_median is not None:
        yield words("audit.trials_median", number=Written(f"{sets.trials_median:.3g}"))
    if sets.spread_pct_median is not None:
        yield words("audit.spread_median", number=words.number(sets.spread_pct_median, 1))
    if sets.rest_kept_pct is not None:
        yield words("audit.rest_kept", number=words.number(sets.rest_kept_pct, 0))


def behind_title(code: str, behind: Behind, words: Words, unit: ForceUnit) -> str:
    """Return whose trials are shown, and what they have in common."""
    what = words(behind.what.key, **_filled(behind, words, unit))
    title = words("audit.behind.title", code=code, what=what)
    shown = len(behind.trials)
    many = words("audit.behind.some", shown=shown, count=behind.count)
    return f"{title}: {many if shown < behind.count else words('audit.behind.all', count=behind.count)}"


def _filled(behind: Behind, words: Words, unit: ForceUnit) -> dict[str, object]:
    """Return the gaps of a phrase as words: a fault by its name, a time as a day, a force in its unit."""
    shown: dict[str, Callable[[Any], str]] = {
        "fault": lambda code: f"\u201c{words('audit.rejected') if code == REJECTED else fault_name(code, words)}\u201d",
        "number": lambda name: number_name(name, words),
        "day": lambda at_s: words.day(day(at_s)),
        "person": str,
        "force": lambda newtons: force(newtons, unit, words),
    }
    return {"unit": unit.symbol, **{key: shown[key](value) for key, value in behind.what.values.items()}}


def behind_gone(read: BehindRead, words: Words) -> str:
    """Return what could not be read again; empty when all could."""
    return f"{BAD} {words('audit.behind.gone', files=', '.join(read.gone))}" if read.gone else ""


def trial_line(read: BehindRead, at: int, words: Words) -> str:
    """Return which of the trials is looked at, what it was, and what was wrong with it."""
    trial = read.trials[at]
    context, judged = trial.judged.trial.context, trial.judged
    place = words("audit.behind.trial", at=at + 1, of=len(read.trials), file=trial.file, number=trial.number)
    side = words(f"test.{context.side}") if context.side else ""
    verdict = f"{ASIDE} {words('review.is_aside')}"
    if judged.cut_off is None:
        accepted = judged.judgement.verdict == "accepted"
        verdict = f"{GOOD if accepted else BAD} {words(f'review.{judged.judgement.verdict}')}"
    what = [action_name(context.action, words), side, words(f"test.{context.method}"), verdict]
    return ", ".join([place, *(word for word in what if word)])


# the archive


def sections(audit: Audit, words: Words, unit: ForceUnit) -> tuple[Section, ...]:
    """Return what an audit says of the archive as a whole: agreement, sensors, files that were not read."""
    studies = [_study(study, words, unit) for study in audit.agreement]
    moved = [line for sensor in audit.sensors for line in sensor_lines(sensor, words)]
    steady = words("audit.sensor.steady")
    heading = words("audit.agreement.heading")
    found = [
        Section(heading=heading, lines=() if studies else (words("audit.agreement.none"),)),
        *studies,
        Section(heading=words("audit.sensor.heading"), lines=tuple(f"{FINDING} {line}" for line in moved) or (steady,)),
    ]
    if audit.unreadable:
        found.append(Section(heading=words("audit.unread.heading"), lines=_unread_lines(audit)))
    return tuple(found)


def _unread_lines(audit: Audit) -> tuple[str, ...]:
    return tuple(f"{BAD} {why if file in why else f'{file}: {why}'}" for file, why in audit.unreadable)


def _study(study: Reliability, words: Words, unit: ForceUnit) -> Section:
    heading, numbers = study_title(study, words), study.numbers
    if numbers is None:
        return Section(heading=heading)
    icc, limits = numbers.icc["ICC(2,1)"], numbers.agreement
    interval = words("audit.agreement.range", low=words.number(icc.low, 2), high=words.number(icc.high, 2))
    pairs = [
        (words("audit.agreement.icc"), words.number(icc.value, 2)),
        (words("audit.agreement.interval"), interval),
        (words("audit.agreement.sem", unit=unit.symbol), force(numbers.sem.value, unit, words)),
        (words("audit.agreement.mdc", unit=unit.symbol), force(numbers.mdc95, unit, words)),
    ]
    if limits is not None:
        low, high = (words.number(from_newtons(each, unit), 1, signed=True) for each in (limits.low, limits.high))
        pairs += [
            (
                words("audit.agreement.bias", unit=unit.symbol),
                words.number(from_newtons(limits.bias, unit), 1, signed=True),
            ),
            (words("audit.agreement.limits", unit=unit.symbol), words("audit.agreement.range", low=low, high=high)),
        ]
    return Section(heading=heading, pairs=tuple(pairs))


def study_title(study: Reliability, words: Words) -> str:
    """Return which examiners a study is of, what they tested, and how many persons."""
    kind = study.kind
    side = words(f"test.{kind.side}") if kind.side else ""
    what = ", ".join(word for word in (action_name(kind.action, words), side, words(f"test.{kind.method}")) if word)
    return words("audit.agreement.pair", pair=pair_name(study, words), what=what, persons=len(study.persons))


def pair_name(study: Reliability, words: Words) -> str:
    """Return whom a study is of."""
    return words("audit.agreement.and", one=study.ratings[0], other=study.ratings[-1])


def study_about(studies: Sequence[Reliability], at: int, words: Words) -> str:
    """Return what is said above the plot of one of some studies; that there is none, when there is none."""
    if not studies:
        return words("audit.agreement.none")
    title = study_title(studies[at], words)
    return words("audit.agreement.about", title=title, at=at + 1, of=len(studies))


def pair_line(study: Reliability, index: int, words: Words, unit: ForceUnit) -> str:
    """Return the two scores of one person."""
    one, other = (f"{force(value, unit, words)} {unit.symbol}" for value in study.values[index])
    return words("audit.agreement.person", person=study.persons[index], one=one, other=other)
