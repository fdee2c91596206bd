"""`ramphold references`: an empty table, filled in, with what is wrong in it named line by line."""

import pytest

from analysis.references.tables import load_table, shipped_tables
from analysis.references.typed_in import EMPTY, doubts

CHOSEN = {
    "N | kgf | lbf | N/kg | % body weight | N m | N m/kg": "N m/kg",
    "make | break | not stated": "make",
    "hand-held | belt | fixed | several | not stated": "belt",
    "supine | seated | prone | side-lying | standing | not stated": "seated",
    "peak | plateau | best-1s | best-0.5s | not stated": "peak",
    "best | mean | median | not stated": "best",
}
ROWS = (
    "knee-extension,female,18,29,any,41,2.9,0.6",
    "knee-extension,female,30,39,any,40,2.7,0.6",
    "knee-extension,male,18,29,any,38,3.4,0.8",
    "knee-extension,male,30,39,any,35,3.2,0.7",
)


@pytest.fixture
def typed(tmp_path):
    def write(*rows):
        text = EMPTY
        for choices, word in CHOSEN.items():
            text = text.replace(choices, word, 1)
        path = tmp_path / "ours.csv"
        path.write_text(text + "\n".join(rows) + "\n", encoding="utf-8")
        return path

    return write


def test_list_is_of_those_that_come_along(ramphold):
    out = ramphold("references").out
    for table in shipped_tables():
        assert table.name in out


def test_empty_table_is_written_once_and_asks_for_a_choice(ramphold, tmp_path):
    path = tmp_path / "new.csv"
    begun = ramphold("references", "--new", path)
    assert (begun.code, str(path) in begun.out) == (0, True)
    again = ramphold("references", "--new", path)
    assert (again.code, "is there already" in again.err) == (1, True)
    assert path.read_text(encoding="utf-8") == EMPTY
    unchosen = ramphold("references", path)
    assert (unchosen.code, "line 6: key unit" in unchosen.err, "must be one of: N, kgf" in unchosen.err) == (
        1,
        True,
        True,
    )


def test_table_that_is_filled_in_is_right(ramphold, typed):
    found = ramphold("references", typed(*ROWS))
    assert found.code == 0
    assert "ours: 4 rows can be read" in found.out
    assert "compare the line" not in found.out


def test_every_line_that_cannot_be_read_is_named(ramphold, typed):
    rows = (
        ROWS[0],
        ROWS[1].replace("40,2.7", "40,2,7"),
        ROWS[2].replace("male", "man"),
        ROWS[3].replace("35,", ",", 1),
    )
    found = ramphold("references", typed(*rows))
    assert found.code == 1
    for phrase in ("line 16: has 9 cells", "line 17, column sex: 'man'", "line 18: a row with an sd needs its n"):
        assert phrase in found.err


def test_many_wrong_lines_are_counted(ramphold, typed):
    found = ramphold("references", typed(*[ROWS[0].replace("female", "she")] * 13))
    assert found.err.count("column sex") == 10
    assert "and 3 more lines" in found.err


def test_slips_of_the_key_are_doubted(ramphold, typed):
    # 29 for 2.9, and a deviation of 0.06 for 0.6: right in form
    found = ramphold("references", typed(ROWS[0].replace("2.9,0.6", "29,6"), ROWS[1].replace("0.6", "0.06"), *ROWS[2:]))
    assert found.code == 0
    assert "knee-extension, female, 18-29 years: the mean is 29, those of the other lines about 3.2" in found.out
    assert "knee-extension, female, 30-39 years: the SD is 2 % of the mean" in found.out
    assert found.out.count("compare the line with the print") == 2


def test_action_that_the_program_does_not_have_is_told(ramphold, typed):
    found = ramphold("references", typed(ROWS[0].replace("knee-extension", "knee-extention")))
    assert "no action is called knee-extention" in found.out


@pytest.mark.parametrize("table", shipped_tables(), ids=lambda table: table.name)
def test_nothing_that_comes_along_is_doubted(table):
    assert doubts(load_table(table.name)) == ()


def test_report_uses_it(ramphold, typed, tmp_path):
    from made_trials import DAY, EXACT, made_trial  # noqa: PLC0415

    from acquire.storage.session_file import write_session  # noqa: PLC0415
    from acquire.values.records import Person, Session, SessionContext  # noqa: PLC0415

    person = Person(code="P-1", sex="female", age_years=24.0, mass_kg=60.0)
    context = SessionContext(session="made", started=DAY, person=person)
    trials = tuple(made_trial(force, lever_arm_m=0.3, calibration=EXACT) for force in (580.0, 560.0))
    write_session(tmp_path / "made.h5", Session(context=context, trials=trials))
    out = ramphold("report", tmp_path / "made.h5", "--references", typed(*ROWS))
    assert out.code == 0, out.err
    page = (tmp_path / "made-report.html").read_text(encoding="utf-8")
    # 580 N x 0.3 m / 60 kg = 2.9 N m/kg, the very mean: 100 %, z 0.0, the middle of all
    assert "100 % of the mean, z 0.0, percentile 50" in page
    assert "peak, best trial" in page
