import datetime as dt

import pytest
from made_trials import DAY, PROTOCOL, made_trial

from acquire.values.records import Person, Session, SessionContext
from acquire.values.units import ForceUnit
from ui.papers.report.build import Beside, build_report
from ui.papers.report.content import Facts, Group, Notes, Table
from ui.papers.report.occasion import occasion_of
from ui.words.words import Words

PERSON = Person(code="P-1", sex="female", age_years=24.0, mass_kg=50.0, height_m=1.6, dominant_side="right")
EN = Words("en")


@pytest.fixture
def occasion():
    """A session in numbers."""

    def make(*trials, person=PERSON, day=DAY, name="made.h5", **context):
        said = {"examiner": "X-1", "sensor": "bridge-320", **context}
        about = SessionContext(session=name, started=day, person=person, **said)
        return occasion_of(Session(context=about, trials=trials), PROTOCOL, name=name)

    return make


class Read:
    """A report by the titles of its sections."""

    def __init__(self, report):
        self.report = report
        self.sections = {section.title: section for section in report.sections}

    def blocks(self, key, kind):
        title = EN(f"report.{key}") if key else ""
        section = self.sections.get(title)
        return [] if section is None else [block for block in section.blocks if isinstance(block, kind)]

    def rows(self, key):
        return [row.cells for table in self.blocks(key, Table) for row in table.rows if not isinstance(row, Group)]

    def groups(self, key):
        return [row.title for table in self.blocks(key, Table) for row in table.rows if isinstance(row, Group)]

    def headings(self, key):
        return [column.heading for table in self.blocks(key, Table) for column in table.columns]

    def notes(self, key):
        return [sentence for notes in self.blocks(key, Notes) for sentence in notes.sentences]

    def facts(self):
        (facts,) = self.blocks("", Facts)
        return dict(facts.pairs)


@pytest.fixture
def built(occasion):
    """What a report of trials, or of an occasion, says."""

    def build(*trials, unit=ForceUnit.NEWTON, beside=None, **said):
        of = trials[0] if trials and hasattr(trials[0], "summary") else occasion(*trials, **said)
        made = dt.datetime(2026, 3, 3, 12, 30, tzinfo=dt.UTC)
        report = build_report(of, PROTOCOL, words=EN, unit=unit, made=made, version="9.9", beside=beside or Beside())
        return Read(report)

    return build


@pytest.fixture
def elbow():
    """A trial of the elbow by hand, with a lever arm."""

    def make(force, side="left", **said):
        fields = {"action": "elbow-flexion", "method": "hand", "lever_arm_m": 0.25, **said}
        return made_trial(force, side=side, **fields)

    return make
