"""Tables of nobody, and the cases held against them."""

from pathlib import Path

import msgspec
import pytest

from acquire.values.records import Person
from analysis.battery.actions import load_actions
from analysis.references.lookup import Case
from analysis.references.tables import load_table

HEAD = """\
# title: Knee extension of a rowing club
# source: invented, of nobody
# population: invented
# verified: invented
# kind: mean
# unit: N m/kg
# method: make
# instrument: belt
# position: seated
# score: plateau
"""
COLUMNS = "action,sex,age_from,age_to,side,n,mean,sd,angle_from_deg,angle_to_deg\n"
ROWS = """\
knee-extension,female,18,29,any,25,2.5,0.5,80,100
knee-extension,male,18,29,any,25,3,0.6,80,100
"""


@pytest.fixture
def table(tmp_path):
    """Write a table and read it; what is given replaces parts of the plain one."""

    def written(rows=ROWS, *, columns=COLUMNS, replace=(), name="club.csv"):
        path: Path = tmp_path / name
        head = HEAD
        for old, new in replace:
            assert old in head
            head = head.replace(old, new)
        path.write_text(head + columns + rows, encoding="utf-8")
        return load_table(str(path))

    return written


@pytest.fixture
def case():
    """A woman of 24 years and 60 kg whose knee extension was tested with a belt; what is given is changed."""

    def of(action="knee-extension", **changes):
        person = Person(sex="female", age_years=24.0, mass_kg=60.0, height_m=1.7, dominant_side="right")
        names = set(Person.__struct_fields__)
        person = msgspec.structs.replace(person, **{name: changes.pop(name) for name in names & set(changes)})
        known = load_actions()[action] if isinstance(action, str) else action
        return Case(action=known, person=person, **{"side": "right", "method": "belt", "lever_arm_m": 0.35} | changes)

    return of
