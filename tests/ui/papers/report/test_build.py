"""What each part of a report says, of sessions whose numbers are known by hand."""

import datetime as dt
from dataclasses import replace

import msgspec
import pytest
from made_trials import CALIBRATED, DAY, NOMINAL, made_trial

from acquire.errors import ArchiveError
from acquire.values.calibration import Calibration, CalibrationPoint, fit_calibration
from acquire.values.records import Person
from acquire.values.units import ForceUnit
from analysis.references.tables import load_table
from ui.papers.report.build import Beside
from ui.papers.report.occasion import in_order

MONTH = dt.timedelta(days=365.25 / 12.0)


def both(elbow, left=(160.0, 164.0, 162.0), right=(200.0, 202.0, 204.0), **said):
    return [elbow(f, side, **said) for side, forces in (("left", left), ("right", right)) for f in forces]


# the whole


def test_title_footer_and_banner(built, elbow):
    report = built(elbow(160.0)).report
    assert (report.subtitle, report.banner, report.language) == ("P-1, 2026-03-02", "", "en")
    assert "2026-03-03 12:30" in report.footer
    assert "9.9" in report.footer
    assert "made.h5" in report.footer
    assert built(elbow(160.0), invented=True).report.banner
    assert built(elbow(160.0), person=Person()).report.subtitle.startswith("no code")


def test_sections_without_anything_to_say_are_not_there(built):
    report = built()
    assert report.notes("results.title") == ["The session holds no trials."]
    for key in ("ratios.title", "changes.title", "references.title", "uncertainty.title", "missing.title"):
        assert not report.notes(key)


# the head


def test_trials_are_counted_by_what_became_of_them(built, elbow):
    trials = [*both(elbow), elbow(150.0, ramp_s=0.3), elbow(150.0, aside="slipped"), elbow(150.0, aside="slipped")]
    assert built(*trials).facts()["Trials"] == "9: 6 accepted, 1 rejected, 2 set aside"


def test_person_of_whom_little_is_known(built, elbow):
    said = built(elbow(160.0), person=Person()).facts()["Person"]
    assert said == ("no code, sex not known, age not known, mass not known, height not known, dominant side not known")
    young = built(elbow(160.0), person=Person(code="P-0", age_years=0.0)).facts()["Person"]
    assert "0 years" in young


def test_examiners_are_named_once_each_in_order(built, elbow):
    trials = [elbow(160.0, examiner="X-2"), elbow(160.0, examiner="X-1"), elbow(160.0, examiner="X-2")]
    assert built(*trials).facts()["Examiner"] == "X-1, X-2"
    assert built(elbow(160.0), examiner=None).facts()["Examiner"] == "\u2013"


def test_cautions_are_dated_or_a_dash(built, elbow):
    read = DAY - dt.timedelta(minutes=5)
    assert built(elbow(160.0), cautions_acknowledged=read).facts()["Cautions read"] == "2026-03-02 08:55"
    assert built(elbow(160.0)).facts()["Cautions read"] == "\u2013"


def slower(trial, every):
    return replace(trial, time=trial.time[::every], counts=trial.counts[::every])


def test_sensor_says_its_limit_and_its_rate(built, elbow):
    plain = elbow(160.0)
    assert built(plain).facts()["Sensor"] == "bridge-320, rated 1000 N, 1000 Hz"
    assert built(plain, unit=ForceUnit.KILOGRAM_FORCE).facts()["Sensor"] == "bridge-320, rated 102 kgf, 1000 Hz"
    assert built(plain, slower(plain, 2), slower(plain, 10)).facts()["Sensor"].endswith(", 100\u20131000 Hz")
    assert built(elbow(160.0, calibration=NOMINAL), sensor="").facts()["Sensor"] == "\u2013, 1000 Hz"
    weak = msgspec.structs.replace(CALIBRATED, rated_force_n=500.0)
    assert "rated 500 N / 1000 N" in built(plain, elbow(160.0, calibration=weak)).facts()["Sensor"]


@pytest.mark.parametrize(("days", "state"), [(-1, "good until"), (0, "EXPIRED")])
def test_calibration_is_good_up_to_the_day_it_expires(built, elbow, days, state):
    until = CALIBRATED.date + dt.timedelta(days=CALIBRATED.valid_days)
    day = DAY.replace(year=until.year, month=until.month, day=until.day) + dt.timedelta(days=days)
    assert state in built(elbow(160.0), day=day).facts()["Calibration"]


def test_calibration_says_when_it_was_made_and_until_when_it_is_good(built, elbow):
    assert built(elbow(160.0)).facts()["Calibration"].startswith("2026-01-01, good until 2026-12-31, serial LC-1, ")
    late = built(elbow(160.0), day=DAY.replace(year=2027)).facts()["Calibration"]
    assert late.startswith("2026-01-01, EXPIRED, was good until 2026-12-31, ")


def test_calibration_says_what_it_rests_on(built, elbow):
    dated = {"rated_force_n": 1000.0, "date": dt.date(2026, 1, 1)}
    bare = Calibration(newtons_per_count=0.01, by="Lab", **dated)
    two = fit_calibration([CalibrationPoint(load_n=n, counts=100.0 * n) for n in (0.0, 200.0)], **dated)
    three = fit_calibration(
        [CalibrationPoint(load_n=n, counts=c) for n, c in [(0.0, 0.0), (-300.0, -30_000.0), (100.0, 10_000.0)]], **dated
    )
    wanted = {
        bare: "loads not on record",
        two: "from two loads only",
        three: "3 loads to 300 N, largest residual 0.00 N",
    }
    for calibration, says in wanted.items():
        assert says in built(elbow(160.0, calibration=calibration)).facts()["Calibration"]
    assert "by Lab" in built(elbow(160.0, calibration=bare)).facts()["Calibration"]
    said = built(elbow(160.0), unit=ForceUnit.KILOGRAM_FORCE).facts()["Calibration"]
    assert "3 loads to 20 kgf, largest residual 0.10 kgf" in said  # 200 N and 1 N


# results


def test_row_of_results_by_hand(built, elbow):
    """See the reckoning in test_report: 164 N and 204 N, 41 and 51 N m, 50 kg."""
    (cells,) = built(*both(elbow)).rows("results.title")
    assert cells[0].splitlines()[0] == "Elbow flexion"
    assert cells[3] == "left\nright"
    assert [line.split(" ")[0] for line in cells[4].splitlines()] == ["164.0", "204"]
    assert cells[5] == "33.4\n41.6"
    assert [line.split(" ")[0] for line in cells[6].splitlines()] == ["41.0", "51.0"]
    assert cells[7] == "0.82\n1.02"
    assert cells[8] == "3/3\n3/3"
    assert cells[9].startswith("▲ 19.6 ±")


def test_pictures_of_a_row_are_its_numbers(built, elbow):
    (cells,) = built(*both(elbow)).rows("results.title")
    curves, bars = cells[1:3]
    assert [(bar.label, bar.hatched) for bar in bars.bars] == [("164.0", False), ("204.0", True)]
    assert [bar.value for bar in bars.bars] == pytest.approx([164.0, 204.0], abs=0.1)
    assert all(bar.reach > 1.0 for bar in bars.bars)
    assert bars.top == pytest.approx(max(bar.value + bar.reach for bar in bars.bars))
    assert "left 164.0 N, right 204.0 N" in bars.about
    assert curves.about.endswith("trials 2, 6")  # the best of each side
    assert [curve.dashed for curve in curves.curves] == [False, True]
    for curve, peak in zip(curves.curves, (164.0 / 204.0, 1.0), strict=True):
        assert len(curve.seconds) == len(curve.share) == 90
        assert max(curve.share) == pytest.approx(peak, abs=1e-3)
        assert list(curve.seconds) == sorted(curve.seconds)


def test_bar_of_a_side_without_a_trial_that_counts_is_empty(built, elbow):
    rejected = [elbow(150.0, "right", ramp_s=0.3) for _ in range(3)]
    (cells,) = built(elbow(160.0), elbow(164.0), elbow(162.0), *rejected).rows("results.title")
    bar = cells[2].bars[1]
    assert (bar.value, bar.reach, bar.hatched) == (0.0, None, True)
    assert cells[4].splitlines()[1] == "none accepted"
    assert [cell.splitlines()[1] for cell in cells[5:9]] == ["\u2013", "\u2013", "\u2013", "0/3"]


def test_whisker_longer_than_its_bar_does_not_shrink_the_others(built, elbow):
    # two trials far apart: an uncertainty of many times the force
    (cells,) = built(elbow(100.0), elbow(160.0)).rows("results.title")
    bars = cells[2]
    assert bars.bars[0].reach > bars.bars[0].value
    assert bars.top == pytest.approx(1.6 * bars.bars[0].value)


def test_actions_of_a_joint_share_one_scale_under_its_name(built, elbow):
    knee = [made_trial(400.0, action="knee-extension", side="left", method="belt") for _ in range(3)]
    flexion = [made_trial(200.0, action="knee-flexion", side="left", method="belt") for _ in range(3)]
    report = built(elbow(160.0), *knee, *flexion)
    assert report.groups("results.title") == ["Elbow", "Knee"]
    tops = [cells[2].top for cells in report.rows("results.title")]
    assert tops[1] == tops[2] > 400.0 > tops[0]


def test_incomplete_set_has_a_mark_which_is_explained(built, elbow):
    report = built(elbow(160.0), elbow(164.0))
    assert report.rows("results.title")[0][8] == "2/2!"
    assert any(note.startswith("! the set") for note in report.notes("results.title"))
    whole = built(*(elbow(f) for f in (160.0, 164.0, 162.0)))
    assert whole.rows("results.title")[0][8] == "3/3"
    assert not any(note.startswith("! the set") for note in whole.notes("results.title"))


def test_value_without_an_interval_is_explained_where_there_is_one(built, elbow):
    def explained(report):
        return any(note.startswith("* without an interval") for note in report.notes("results.title"))

    nominal = built(*both(elbow, calibration=NOMINAL))
    assert explained(nominal)
    (cells,) = nominal.rows("results.title")
    assert (cells[4], cells[6]) == ("164.0*\n204.0*", "41.0*\n51.0*")
    assert [bar.reach for bar in cells[2].bars] == [0.0, 0.0]
    assert not explained(built(*both(elbow)))


def test_lever_arms_that_differ_are_a_range(built, elbow):
    arms = built(elbow(160.0, lever_arm_m=0.25), elbow(162.0, lever_arm_m=0.27)).rows("results.title")[0][0]
    assert "25.0\u201327.0 cm" in arms
    sides = built(elbow(160.0), elbow(162.0, "right", lever_arm_m=0.26)).rows("results.title")[0][0]
    assert "25.0 / 26.0 cm" in sides
    assert "no lever arm" in built(elbow(160.0, lever_arm_m=None)).rows("results.title")[0][0]


def test_difference_says_why_there_is_none(built, elbow):
    assert built(elbow(160.0)).rows("results.title")[0][9] == "other side not tested"
    assert built(elbow(160.0, side=None)).rows("results.title")[0][9] == "\u2013"


@pytest.mark.parametrize(
    ("right", "mark", "weaker"),
    [
        ((204.0, 204.2, 204.1), "=", False),
        ((230.0, 230.2, 230.1), "≈", True),
        ((300.0, 300.2, 300.1), "▲", True),
    ],
)
def test_difference_is_marked_by_what_it_means_and_a_side_is_weaker_beyond_error_only(
    built, elbow, right, mark, weaker
):
    cell = built(*both(elbow, left=(203.0, 203.2, 203.1), right=right)).rows("results.title")[0][9]
    assert cell.startswith(f"{mark} ")
    assert cell.endswith("left weaker") is weaker
    assert cell.endswith("%") is not weaker


# ratios


def test_ratio_by_hand(built):
    """Knee flexion 200 N over extension 400 N: 0.5 on the left; on the right nothing was tested."""
    said = {"side": "left", "method": "belt"}
    trials = [made_trial(f, action="knee-flexion", **said) for f in (198.0, 200.0, 199.0)]
    trials += [made_trial(f, action="knee-extension", **said) for f in (396.0, 400.0, 398.0)]
    rows = {row[0].split(" (")[0]: row for row in built(*trials).rows("ratios.title")}
    row = rows["Knee flexion : Knee extension"]
    assert row[1].startswith("0.500 ±")
    assert row[2] == "\u2013"
    assert "(force)" in row[0]


def test_no_ratio_without_two_actions_of_a_joint(built, elbow):
    assert built(elbow(160.0)).rows("ratios.title") == []


# changes


def test_change_and_trend_by_hand(built, occasion, elbow):
    """Torques 40, 41 and 42 N m a month apart; the trend is 1.0 N m a month."""
    before = [
        occasion(*(elbow(force - less) for less in (1.0, 0.0, 2.0)), day=DAY + number * MONTH, name=f"{number}.h5")
        for number, force in enumerate((160.0, 164.0))
    ]
    now = occasion(*(elbow(168.0 - less) for less in (1.0, 0.0, 2.0)), day=DAY + 2 * MONTH, name="now.h5")
    report = built(now, beside=Beside(earlier=tuple(reversed(before))))
    (cells,) = report.rows("changes.title")
    assert cells[0].startswith("Elbow flexion\nN m, ")
    assert cells[1:3] == ("left", "40.0 → 41.0 → 42.0")
    assert "+1.0 (+2.4 %)" in cells[3]
    (line,) = cells[5].lines
    assert line.months == pytest.approx((0.0, 1.0, 2.0))
    assert line.values == pytest.approx((40.0, 41.0, 42.0), abs=0.01)
    assert line.dashed is False
    assert cells[6] == "+1.0 (+1.0 to +1.0)"
    assert len(report.headings("changes.title")) == 7


def test_two_sessions_have_a_change_and_no_trend(built, occasion, elbow):
    before = occasion(*both(elbow), day=DAY - 2 * MONTH, name="before.h5")
    report = built(occasion(*both(elbow)), beside=Beside(earlier=(before,)))
    (cells,) = report.rows("changes.title")
    assert len(cells) == len(report.headings("changes.title")) == 5
    assert cells[1] == "left\nright"
    assert not any("Per month" in note for note in report.notes("changes.title"))


def test_action_not_tested_before_is_named(built, occasion, elbow):
    before = occasion(elbow(160.0), day=DAY - MONTH, name="before.h5")
    knee = made_trial(400.0, action="knee-extension", side="right", method="belt")
    report = built(occasion(elbow(160.0), knee), beside=Beside(earlier=(before,)))
    (new,) = [note for note in report.notes("changes.title") if "Not tested before" in note]
    assert "Knee extension, right" in new
    assert "Elbow" not in new
    only = built(occasion(knee), beside=Beside(earlier=(before,)))
    assert only.rows("changes.title") == []


def test_force_is_compared_where_one_session_has_no_lever_arm(built, occasion, elbow):
    before = occasion(elbow(160.0, lever_arm_m=None), day=DAY - MONTH, name="before.h5")
    (cells,) = built(occasion(elbow(176.0)), beside=Beside(earlier=(before,))).rows("changes.title")
    assert cells[0].startswith("Elbow flexion\nN, ")
    assert cells[2] == "160.0 → 176.0"
    assert "+16.0 (+10.0 %)" in cells[3]


def test_person_without_a_code_cannot_be_compared(built, occasion, elbow):
    before = occasion(elbow(160.0), day=DAY - MONTH, name="before.h5", person=Person())
    (cells,) = built(occasion(elbow(176.0), person=Person()), beside=Beside(earlier=(before,))).rows("changes.title")
    assert cells[3:5] == ("not comparable", "the person has no code")


def test_sessions_are_put_in_order_and_none_may_be_later_or_twice(occasion, elbow):
    now = occasion(elbow(1.0), name="now.h5")
    first, second = (occasion(elbow(1.0), day=DAY - n * MONTH, name=f"{n}.h5") for n in (2, 1))
    assert in_order(now, [second, first]) == (first, second)
    with pytest.raises(ArchiveError, match=r"again\.h5: began .* not before now\.h5"):
        in_order(now, [occasion(elbow(1.0), name="again.h5")])
    with pytest.raises(ArchiveError, match="began at the same time"):
        in_order(now, [first, second, occasion(elbow(1.0), day=DAY - MONTH, name="copy.h5")])
    with pytest.raises(ArchiveError, match="without a code"):
        in_order(now, [occasion(elbow(1.0), day=DAY - MONTH, person=Person())])


# what does not count, what is missing, and the uncertainty


def test_left_out_trials_by_number_with_the_reason(built, elbow):
    trials = [elbow(160.0), elbow(150.0, ramp_s=0.3), elbow(150.0, aside="slipped")]
    rows = built(*trials).rows("left_out.title")
    assert [row[0] for row in rows] == ["2", "3"]
    assert [row[1] for row in rows] == ["Elbow flexion, left"] * 2
    assert rows[1][3] == "slipped (X-1, 2026-03-02 09:00)"
    assert built(elbow(160.0)).notes("left_out.title") == ["No trial was rejected or set aside."]


def test_trial_with_several_faults_names_the_others(built, elbow):
    (row,) = built(elbow(150.0, ramp_s=0.05, rest_before_s=0.01)).rows("left_out.title")
    assert row[2] == "rejected"
    assert "Also: " in row[3]


def test_missing_is_told_once_for_all_or_by_name(built, elbow):
    all_of_them = built(*both(elbow, lever_arm_m=None)).notes("missing.title")
    assert any(note.endswith("no torque: all results.") for note in all_of_them)
    some = built(*(elbow(f, lever_arm_m=None) for f in (160.0, 164.0, 162.0)), *both(elbow, left=())).notes(
        "missing.title"
    )
    assert any(note.endswith("no torque: Elbow flexion, left.") for note in some)
    single = built(*(elbow(f, lever_arm_m=None) for f in (160.0, 164.0, 162.0))).notes("missing.title")
    assert any(note.endswith("no torque: Elbow flexion, left.") for note in single)


def test_what_lacks_of_the_person_is_said_once(built, elbow):
    notes = built(*both(elbow), person=Person(code="P-1")).notes("missing.title")
    assert sum("mass" in note for note in notes) == 2  # the mass itself, and torque per mass and height
    assert sum(note.startswith("The mass of the person") for note in notes) == 1


def test_sources_of_uncertainty_from_the_least_to_the_most(built, elbow):
    (told, _) = built(*both(elbow, calibration=NOMINAL)).notes("uncertainty.title")
    parts = dict(part.partition(" 0.")[::2] for part in told.rstrip(".").split("; "))
    # the angle of the push: 0.0873^2 / 2 / root 5 of 164 and 204 N
    assert parts["angle of the push"] == "28\u20130.35"
    assert "slope of the calibration (not calibrated in 2)" in told
    (told, _) = built(*both(elbow, calibration=NOMINAL), unit=ForceUnit.POUND_FORCE).notes("uncertainty.title")
    assert "angle of the push 0.063\u20130.078" in told


# references

CLUB = """\
# title: Elbow of one club
# source: our own, spring
# population: 40 women who row
# verified: typed twice
# kind: mean
# unit: N
# method: make
# instrument: hand-held
# position: supine
# score: plateau
action,sex,age_from,age_to,n,mean,sd
"""


@pytest.fixture
def club(tmp_path):
    """A table of one's own; the rows are given."""

    def make(*rows):
        path = tmp_path / "club.csv"
        path.write_text(CLUB + "\n".join(rows) + "\n", encoding="utf-8")
        return Beside(tables=(load_table(str(path)),))

    return make


def test_standing_by_hand_of_both_sides(built, elbow, club):
    """(164 - 180) / 16 = -1.0 and (204 - 180) / 16 = 1.5; 91 and 113 % of the mean; a t distribution for 40 persons."""
    (cells,) = built(*both(elbow), beside=club("elbow-flexion,female,18,29,40,180,16")).rows("references.title")
    assert cells[0].startswith("Elbow flexion\n")
    assert cells[1:4] == ("left\nright", "164.0 N\n204.0 N", "mean 180.0, SD 16.0\nmean 180.0, SD 16.0")
    left, right = cells[4].splitlines()
    assert left == "91 % of the mean, z \u22121.0, percentile 16"
    assert right.startswith("113 % of the mean, z +1.5, percentile 9")


def test_table_that_does_not_fit_says_why_and_for_which(built, elbow, club):
    report = built(*both(elbow), beside=club("elbow-flexion,male,18,29,40,180,16"))
    assert report.rows("references.title") == []
    notes = report.notes("references.title")
    assert notes[0] == "No table fits this person and these positions."
    assert "does not have the sex: all results." in notes[-1]


def test_results_that_a_table_does_not_have_are_named_up_to_four_and_counted_beyond(built, elbow, club):
    beside = club("elbow-flexion,female,18,29,40,180,16")
    others = [
        made_trial(200.0, action=action, side=side, method="belt")
        for action in ("knee-extension", "knee-flexion")
        for side in ("left", "right")
    ]
    four = built(elbow(160.0), *others, beside=beside).notes("references.title")[-1]
    assert "Knee flexion, left; Knee flexion, right; Knee extension, left; Knee extension, right" in four
    more = made_trial(200.0, action="knee-extension", side="left", method="hand")
    five = built(elbow(160.0), *others, more, beside=beside).notes("references.title")[-1]
    assert "5 results" in five


def test_no_force_no_reference(built, elbow, club):
    rejected = elbow(150.0, ramp_s=0.3)
    report = built(rejected, beside=club("elbow-flexion,female,18,29,40,180,16"))
    assert report.rows("references.title") == []


def test_action_that_is_not_named_is_held_against_no_table(built, elbow, club):
    report = built(elbow(160.0, action=None), beside=club("elbow-flexion,female,18,29,40,180,16"))
    assert report.rows("references.title") == []
