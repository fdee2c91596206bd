"""An audit for programs: every number of the JSON and of the tables is that of the audit."""

import csv
import json
import math
from dataclasses import replace

import numpy as np
import pytest
from audited import DAY, small_audit

from acquire.errors import ArchiveError
from analysis.audit.ceilings import Ceiling
from ui.papers.audit.files import audit_json, write_csv


@pytest.fixture(scope="module")
def audit():
    return small_audit()


@pytest.fixture(scope="module")
def told(audit):
    return json.loads(json.dumps(audit_json(audit), allow_nan=False))


def of(told, code):
    (found,) = [each for each in told["examiners"] if each["examiner"] == code]
    return found


def test_whole_archive(audit, told):
    assert told["protocol"] == {"name": "ramp-and-hold", "hash": audit.protocol.hash}
    assert (told["sessions"], told["trials"]) == (96, 222)
    assert told["unreadable"] == [{"file": "bad.h5", "why": "damaged"}]


def test_numbers_of_an_examiner(audit, told):
    hasty, found = of(told, "HASTY"), next(each for each in audit.examiners if each.code == "HASTY")
    assert (hasty["trials"], hasty["sessions"], hasty["enough"]) == (100, 25, True)
    share = hasty["shares"]["fast-ramp"]
    assert (share["count"], share["share"], share["finding"]) == (75, 0.75, True)
    assert share["p"] == found.shares["fast-ramp"].found.p
    assert share["q"] == found.shares["fast-ramp"].q
    assert share["interval"] == list(found.shares["fast-ramp"].found.interval)
    assert share["expected"] == pytest.approx(3 / 122)
    assert share["effective_trials"] == found.shares["fast-ramp"].found.effective
    number = hasty["numbers"]["ramp_time_s"]
    assert number["quartiles"] == list(found.numbers["ramp_time_s"].found.quartiles)
    assert number["others_median"] == found.numbers["ramp_time_s"].found.others
    assert (number["p"], number["q"]) == (found.numbers["ramp_time_s"].found.p, found.numbers["ramp_time_s"].q)
    assert hasty["sets"] == {"trials_median": 4.0, "spread_pct_median": None, "rest_kept_pct": 100.0}
    assert hasty["ceiling"] is None


def test_what_is_not_known_is_null(told):
    new = of(told, "NEW")
    assert (new["enough"], new["shares"]["rejected"]["q"], new["courses"]) == (False, None, {})


def test_ceiling_is_told(audit):
    pile = Ceiling(force_n=300.0, count=9, of=40, expected_above=4.0, others_n=410.0, actions=("knee-extension",))
    (first, *_) = audit.examiners
    told = audit_json(replace(audit, examiners=(replace(first, ceiling=pile),)))
    assert told["examiners"][0]["ceiling"] == {
        "force_n": 300.0,
        "count": 9,
        "of": 40,
        "others_n": 410.0,
        "actions": ("knee-extension",),
    }


def test_course_is_told_with_its_signals_and_days(audit, told):
    (sensor,) = [each for each in told["sensors"] if each["sensor"] == "drifting"]
    course, found = sensor["zero_n"], next(each for each in audit.sensors if each.sensor == "drifting").zero
    assert (sensor["sessions"], sensor["newtons_per_count"]) == (30, None)
    assert course["day"][:2] == ["1970-01-01", "1970-01-02"]
    for name in ("value", "average", "low", "high"):
        assert course[name] == getattr(found, name).tolist()
    assert course["since"] == "1970-01-26"
    assert {(s["chart"], s["change"]) for s in course["signals"]} == {("ewma", "above"), ("cusum", "above")}
    assert all("1970-01-26" <= s["day"] <= "1970-01-30" for s in course["signals"])
    quiet = replace(found, since_s=None)
    sensors = (replace(audit.sensors[0], zero=quiet),)
    assert audit_json(replace(audit, sensors=sensors))["sensors"][0]["zero_n"]["since"] is None


def test_study_is_told(audit, told):
    (study,), (found,) = told["agreement"], audit.agreement
    assert (study["examiners"], study["action"], study["side"], study["method"]) == (
        ["B", "C"],
        "hip-flexion",
        "left",
        "hand",
    )
    icc = found.numbers.icc["ICC(2,1)"]
    assert (study["persons"], study["icc_2_1"], study["icc_2_1_interval"]) == (12, icc.value, [icc.low, icc.high])
    assert (study["sem_n"], study["mdc95_n"]) == (found.numbers.sem.value, found.numbers.mdc95)
    assert study["bias_n"] == pytest.approx(3.0)
    assert study["limits_n"] == [found.numbers.agreement.low, found.numbers.agreement.high]
    bare = replace(found, numbers=replace(found.numbers, agreement=None))
    told = audit_json(replace(audit, agreement=(bare,)))["agreement"][0]
    assert (told["bias_n"], told["limits_n"]) == (None, None)


@pytest.fixture
def tables(audit, tmp_path):
    read = {}
    for path in write_csv(audit, tmp_path / "new" / "tables"):
        with path.open(newline="", encoding="utf-8") as file:
            read[path.stem] = list(csv.DictReader(file))
    return read


def test_shares_as_a_table(audit, tables):
    (row,) = [r for r in tables["examiners"] if (r["examiner"], r["fault"]) == ("HASTY", "fast-ramp")]
    found = next(each for each in audit.examiners if each.code == "HASTY").shares["fast-ramp"]
    assert (row["count"], row["trials"], row["share"], row["finding"]) == ("75", "100", "0.75", "1")
    assert (row["low95"], row["high95"]) == tuple(f"{limit:.6g}" for limit in found.found.interval)
    assert (row["expected"], row["p"], row["q"]) == tuple(
        f"{value:.6g}" for value in (found.found.expected, found.found.p, found.q)
    )
    assert len(tables["examiners"]) == 4 * 2  # rejected and one fault
    (new,) = [r for r in tables["examiners"] if (r["examiner"], r["fault"]) == ("NEW", "fast-ramp")]
    assert (new["q"], new["finding"]) == ("", "0")


def test_numbers_as_a_table(audit, tables):
    (row,) = [r for r in tables["technique"] if r["examiner"] == "HASTY"]
    found = next(each for each in audit.examiners if each.code == "HASTY").numbers["ramp_time_s"]
    wanted = (*found.found.quartiles, found.found.others, found.found.p, found.q)
    assert list(row.values()) == ["HASTY", "ramp_time_s", *(f"{value:.6g}" for value in wanted), "1"]


def test_signals_as_a_table(audit, tables):
    examiners = [s for each in audit.examiners for course in each.courses.values() for s in course.signals]
    sensors = [s for each in audit.sensors for c in (each.zero, each.sensitivity) if c is not None for s in c.signals]
    assert len(tables["signals"]) == len(examiners) + len(sensors)
    drift = [row for row in tables["signals"] if row["of"] == "drifting"]
    assert {(row["what"], row["change"]) for row in drift} == {("zero_n", "above")}
    assert {row["what"] for row in tables["signals"] if row["of"] == "HASTY"} == {"rejected", "ramp_time_s"}


def test_trials_as_a_table(tables):
    rows = tables["trials"]
    assert len(rows) == 222
    (row,) = [r for r in rows if (r["file"], r["trial"]) == ("HASTY/02.h5", "2")]
    assert {name: row[name] for name in ("person", "examiner", "side", "sensor", "rejected", "faults")} == {
        "person": "P HASTY/02.h5",
        "examiner": "HASTY",
        "side": "left",
        "sensor": "cell",
        "rejected": "1",
        "faults": "fast-ramp",
    }
    assert float(row["started_s"]) == 2 * DAY + 60.0
    assert (row["plateau_n"], row["rest_s"], row["ramp_time_s"]) == ("135", "90", "0.516")
    (last,) = [r for r in rows if (r["file"], r["trial"]) == ("HASTY/02.h5", "4")]
    assert (last["rejected"], last["faults"]) == ("0", "")
    (first,) = [r for r in rows if (r["file"], r["trial"]) == ("HASTY/02.h5", "1")]
    assert first["rest_s"] == ""


def test_all_faults_of_a_trial_are_in_its_cell(audit, tmp_path):
    both = replace(audit.table, faults={"a": np.ones(222, dtype=bool), "b": np.arange(222) == 0})
    write_csv(replace(audit, table=both), tmp_path)
    with (tmp_path / "trials.csv").open(newline="", encoding="utf-8") as file:
        faults = [row["faults"] for row in csv.DictReader(file)]
    assert faults == ["a b"] + ["a"] * 221


def test_tables_are_written_over_those_of_before(audit, tmp_path):
    first = write_csv(audit, tmp_path)
    assert write_csv(replace(audit, examiners=()), tmp_path) == first
    assert len((tmp_path / "examiners.csv").read_text(encoding="utf-8").splitlines()) == 1


def test_folder_that_cannot_be_made_is_told(audit, tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(ArchiveError, match="the tables cannot be written: File exists"):
        write_csv(audit, tmp_path / "file")


def test_no_number_of_the_json_is_not_finite(told):
    def numbers(value):
        if isinstance(value, dict):
            value = list(value.values())
        return [n for each in value for n in numbers(each)] if isinstance(value, list) else [value]

    assert all(math.isfinite(n) for n in numbers(told) if isinstance(n, float))
