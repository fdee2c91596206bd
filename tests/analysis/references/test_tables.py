"""Reference tables: what comes with the program, digit by digit, and what a user gets wrong."""

import math
from pathlib import Path

import pytest

from analysis.errors import TableError
from analysis.references.tables import load_table, shipped_tables
from analysis.references.torque_model import peak_torque, share_of_peak
from analysis.results.quantities import Unit


def row_of(table, action, sex, age, angle=None):
    (row,) = (
        row
        for row in table.rows
        if (row.action, row.sex) == (action, sex)
        and row.age_from <= age <= (row.age_to or math.inf)
        and (angle is None or row.angle_from_deg <= angle <= row.angle_to_deg)
    )
    return row


def test_tables_that_come_along_say_where_they_are_from():
    for table in shipped_tables():
        assert len(table.about.source) > 60, table.name
        assert table.about.caution, table.name
        assert table.about.verified.endswith(("not in the printed table", "only", "were not read")), table.name


class TestAnderson:
    """Anderson, Madigan and Nussbaum 2007, Table 3, isometric part, as transcribed in a public library (rbdl)."""

    # c1, its SD, c2, c3 of rows spread over the table
    @pytest.mark.parametrize(
        ("action", "sex", "age", "expected"),
        [
            ("hip-extension", "male", 18, (0.161, 0.049, 0.958, 0.932)),
            ("hip-flexion", "female", 25, (0.127, 0.033, 0.65, -0.35)),
            ("knee-extension", "male", 20, (0.163, 0.04, 1.258, 1.133)),
            ("knee-extension", "female", 65, (0.128, 0.016, 1.286, 1.141)),
            ("knee-flexion", "female", 55, (0.06, 0.015, 0.967, 0.402)),
            ("ankle-plantarflexion", "female", 70, (0.125, None, 1.299, 0.58)),
            ("ankle-dorsiflexion", "female", 66, (0.022, None, 1.096, -0.369)),
        ],
    )
    def test_row_is_that_of_the_table(self, action, sex, age, expected):
        row = row_of(load_table("anderson-2007"), action, sex, age)
        assert (row.c1, row.c1_sd, row.c2_per_rad, row.c3_rad) == expected

    def test_all_of_the_table_is_there(self):
        rows = load_table("anderson-2007").rows
        assert len(rows) == 6 * 2 * 3
        assert len({(row.action, row.sex, row.age_from) for row in rows}) == 36

    # sums over the 36 rows of the transcription: a digit that was changed shows
    @pytest.mark.parametrize(("name", "total"), [("c1", 3.659), ("c2_per_rad", 38.559), ("c3_rad", 16.779)])
    def test_coefficients_sum_up_as_transcribed(self, name, total):
        assert sum(getattr(row, name) for row in load_table("anderson-2007").rows) == pytest.approx(total, abs=1e-9)

    def test_man_of_75_kg_has_the_worked_torque(self):
        # man of 18-25 years, 75 kg, 1.76 m: peak 0.163 x 9.81 x 75 x 1.76 = 211.07 N m at 64.9 degrees,
        # at 90 degrees x 0.8521 = 179.9 N m
        row = row_of(load_table("anderson-2007"), "knee-extension", "male", 20)
        peak = peak_torque(row.c1, mass_kg=75.0, height_m=1.76)
        assert peak == pytest.approx(211.07, abs=0.005)
        assert math.degrees(row.c3_rad) == pytest.approx(64.9, abs=0.05)
        assert peak * share_of_peak(row, 90.0) == pytest.approx(179.9, abs=0.05)

    # peaks read by eye off the figure that comes with the transcription; a man of 69.6 kg and 1.732 m is assumed
    @pytest.mark.parametrize(
        ("action", "plotted"),
        [
            ("hip-extension", 191),
            ("hip-flexion", 134),
            ("knee-extension", 194),
            ("knee-flexion", 103),
            ("ankle-plantarflexion", 113),
            ("ankle-dorsiflexion", 39),
        ],
    )
    def test_peak_is_near_that_of_the_plotted_curve(self, action, plotted):
        row = row_of(load_table("anderson-2007"), action, "male", 20)
        assert peak_torque(row.c1, mass_kg=69.6, height_m=1.732) == pytest.approx(plotted, abs=1.6)

    def test_torque_is_highest_at_c3_and_gone_a_quarter_turn_away(self):
        row = row_of(load_table("anderson-2007"), "knee-extension", "male", 20)
        top, quarter = math.degrees(row.c3_rad), math.degrees(math.pi / 2.0 / row.c2_per_rad)
        assert share_of_peak(row, top) == pytest.approx(1.0)
        assert share_of_peak(row, top + 30.0) == pytest.approx(share_of_peak(row, top - 30.0))
        assert share_of_peak(row, top + quarter + 0.01) == 0.0
        assert share_of_peak(row, top - 2.5 * quarter) == 0.0

    def test_hip_flexors_at_90_degrees_have_little_left(self):
        # 14 to 32 % of the peak over the six groups
        table = load_table("anderson-2007")
        shares = [share_of_peak(row, 90.0) for row in table.rows if row.action == "hip-flexion"]
        assert min(shares) == pytest.approx(0.14, abs=0.005)
        assert max(shares) == pytest.approx(0.32, abs=0.005)


class TestAlvarenga:
    """Alvarenga et al. 2019, Acta Ortop Bras 27:124-128: means and intervals of the authors' congress abstract."""

    @pytest.mark.parametrize(
        ("action", "mean", "low", "high"),
        [
            ("hip-flexion", 38.54, 37.06, 40.02),
            ("hip-extension", 27.04, 25.79, 28.30),
            ("hip-adduction", 16.89, 16.11, 17.68),
            ("hip-abduction", 16.85, 16.03, 17.66),
            ("hip-external-rotation", 17.09, 16.12, 18.07),
            ("hip-internal-rotation", 23.82, 22.18, 25.47),
        ],
    )
    def test_row_is_that_of_the_abstract(self, action, mean, low, high):
        row = row_of(load_table("alvarenga-2019"), action, "female", 20)
        assert (row.mean, row.mean_low, row.mean_high) == (mean, low, high)

    def test_deviations_that_were_never_printed_are_not_in_it(self):
        # half width / t(51; 0.975) x sqrt(52) would be 14 to 25 % of the mean, below the 20 to 30 % of Benfica 2018
        assert {row.sd for row in load_table("alvarenga-2019").rows} == {None}


class TestSarabon:
    """Šarabon, Kozinc and Perman 2021, Front Physiol 12:767941, abstract."""

    @pytest.mark.parametrize(
        ("action", "sex", "age", "angle", "expected"),
        [
            ("knee-extension", "male", 30, 10, (1.34, 2.23)),
            ("knee-extension", "male", 30, 60, (2.92, 3.45)),
            ("knee-extension", "male", 30, 90, (2.50, 3.06)),
            ("knee-flexion", "male", 30, 10, (0.85, 1.20)),
            ("knee-flexion", "male", 30, 60, (1.15, 1.62)),
            ("knee-flexion", "male", 30, 90, (0.96, 1.54)),
            ("knee-extension", "female", 30, 10, (1.01, 1.50)),
            ("knee-extension", "female", 30, 60, (2.08, 2.74)),
            ("knee-extension", "female", 30, 90, (2.04, 2.71)),
            ("knee-extension", "male", 70, 60, (1.74, 2.16)),
            ("knee-extension", "female", 70, 60, (1.40, 1.64)),
            ("knee-flexion", "male", 70, 60, (0.69, 0.89)),
            ("knee-flexion", "female", 70, 60, (0.46, 0.81)),
        ],
    )
    def test_interval_is_that_of_the_abstract(self, action, sex, age, angle, expected):
        row = row_of(load_table("sarabon-2021"), action, sex, age, angle)
        assert (row.low, row.high) == expected

    def test_nothing_else_is_in_it(self):
        assert len(load_table("sarabon-2021").rows) == 13


def test_table_of_ones_own_is_read(table):
    found = table()
    assert found.name == "club"
    assert found.about.unit is Unit.NEWTON_METRE_PER_KG
    assert [(row.sex, row.mean, row.sd) for row in found.rows] == [("female", 2.5, 0.5), ("male", 3.0, 0.6)]


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("18,29,any,25,3", "30,29,any,25,3", "line 13: age_to is 29, below age_from, 30"),
        ("25,3,0.6,80,100", "25,3,0.6,80,", "line 13: angle_from_deg and angle_to_deg go together"),
        ("25,3,0.6,80,100", "25,3,0.6,80,70", r"line 13: angle_to_deg is 70\.0, below angle_from_deg, 80\.0"),
        ("25,3,", ",3,", "line 13: a row with an sd needs its n"),
        ("male,18,29,any,25,3,", "male,18,29,any,1,3,", "line 13, column n: '1': expected a whole number >= 2"),
        ("knee-extension,male", "knee-extension,man", "line 13, column sex: 'man': must be one of: female, male, both"),
    ],
)
def test_row_that_cannot_be_is_named(table, old, new, message):
    rows = "knee-extension,male,18,29,any,25,3,0.6,80,100\n"
    good = "knee-extension,female,18,29,any,25,2.5,0.5,80,100\n"
    assert old in rows
    with pytest.raises(TableError, match=f"club.csv, {message}"):
        table(good + rows.replace(old, new))


@pytest.mark.parametrize(
    "other",
    [
        "knee-extension,female,18,29,any,9,2,0.5,80,100",
        "knee-extension,both,29,40,any,9,2,0.5,80,100",
        "knee-extension,female,20,,left,9,2,0.5,80,100",
        "knee-extension,female,0,18,dominant,9,2,0.5,100,120",
        "knee-extension,female,18,29,any,9,2,0.5,,",
    ],
)
def test_rows_for_the_same_person_are_refused(table, other):
    with pytest.raises(TableError, match="line 13: fits the same persons as line 12: part them by"):
        table(f"knee-extension,female,18,29,any,25,2.5,0.5,80,100\n{other}\n")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("knee-extension,female,18,29,any,9,2,0.5,,", "knee-flexion,female,18,29,any,9,2,0.5,,"),
        ("knee-extension,female,18,29,any,9,2,0.5,,", "knee-extension,male,18,29,any,9,2,0.5,,"),
        ("knee-extension,female,18,29,any,9,2,0.5,,", "knee-extension,female,30,,any,9,2,0.5,,"),
        ("knee-extension,female,18,29,left,9,2,0.5,,", "knee-extension,female,18,29,right,9,2,0.5,,"),
        ("knee-extension,female,18,29,dominant,9,2,0.5,,", "knee-extension,female,18,29,nondominant,9,2,0.5,,"),
        ("knee-extension,female,18,29,any,9,2,0.5,0,40", "knee-extension,female,18,29,any,9,2,0.5,41,90"),
    ],
)
def test_rows_for_different_persons_stand_side_by_side(table, one, other):
    assert len(table(f"{one}\n{other}\n").rows) == 2
    assert len(table(f"{other}\n{one}\n").rows) == 2


def test_left_and_dominant_may_be_the_same_limb(table):
    rows = "knee-extension,female,18,29,left,9,2,0.5,,\nknee-extension,female,18,29,dominant,9,2,0.5,,\n"
    with pytest.raises(TableError, match="line 13: fits the same persons as line 12"):
        table(rows)


def test_interval_that_ends_before_it_begins_is_refused(table):
    with pytest.raises(TableError, match=r"line 12: high is 2\.0, below low, 3\.0"):
        table(
            "knee-extension,male,18,29,3,2\n",
            columns="action,sex,age_from,age_to,low,high\n",
            replace=[("kind: mean", "kind: pooled mean")],
        )


def test_torque_model_in_another_unit_is_refused(table):
    with pytest.raises(TableError, match=r"club\.csv: a torque model is in N m, not in N m/kg"):
        table(
            "knee-extension,male,18,29,0.1,1,1\n",
            columns="action,sex,age_from,age_to,c1,c2_per_rad,c3_rad\n",
            replace=[("kind: mean", "kind: torque model")],
        )


def test_table_that_is_not_there_names_those_that_are():
    with pytest.raises(TableError, match=r"no reference table called nobody-1999 .*alvarenga-2019, anderson-2007"):
        load_table("nobody-1999")


def test_example_of_the_page_beside_the_tables_is_read(tmp_path):
    page = (Path(__file__).parents[3] / "analysis/data/references/README.md").read_text(encoding="utf-8")
    path = tmp_path / "example.csv"
    path.write_text("\n".join(line[4:] for line in page.splitlines() if line.startswith("    ")), encoding="utf-8")
    table = load_table(str(path))
    assert table.about.caution == ("one club only",)
    assert [(row.action, row.n, row.mean, row.sd) for row in table.rows] == [("knee-extension", 41, 2.9, 0.5)]
