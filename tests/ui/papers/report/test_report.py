"""Reports of small sessions whose numbers are known by hand, from forces to the printed page."""

import base64
import datetime as dt
import json
import re
import subprocess
import sys
from html import unescape
from pathlib import Path

import pytest
from made_trials import DAY, EXACT, NOMINAL, made_trial
from pypdf import PdfReader

from acquire.storage.session_file import write_session
from acquire.values.calibration import Calibration
from acquire.values.records import Person, Session, SessionContext
from analysis.results.settings import load_result_settings
from ui.cli import main
from ui.words.words import Words

ROOT = Path(__file__).parents[4]
PERSON = Person(code="P-1", sex="female", age_years=24.0, mass_kg=50.0, height_m=1.6, dominant_side="right")
ELBOW = {"action": "elbow-flexion", "method": "hand", "lever_arm_m": 0.25}


def sides(left=(160.0, 164.0, 162.0), right=(200.0, 202.0, 204.0), **context):
    """Return trials of one action on both sides."""
    fields = {**ELBOW, **context}
    both = (("left", left), ("right", right))
    return tuple(made_trial(force, side=side, **fields) for side, forces in both for force in forces)


@pytest.fixture
def stored(tmp_path):
    """Store a session; return its path."""

    def store(*trials, person=PERSON, day=DAY, name="made.h5"):
        path = tmp_path / name
        context = SessionContext(session=name, started=day, person=person, examiner="X-1", sensor="bridge-320")
        write_session(path, Session(context=context, trials=trials))
        return path

    return store


@pytest.fixture
def report(ramphold):
    """Make a report; return the text of its PDF and of its page, as one line each."""

    def make(path, *options):
        result = ramphold("report", path, "--json", *options)
        assert result.code == 0, result.err
        places = json.loads(result.out)
        pages = [page.extract_text() for page in PdfReader(places["pdf"]).pages]
        page = re.sub(r"<(style|title).*?</\1>", "", Path(places["html"]).read_text(encoding="utf-8"), flags=re.DOTALL)
        return one_line(" ".join(pages)), one_line(unescape(re.sub(r"<[^>]*>", " ", page)))

    return make


def one_line(text):
    return re.sub(r"\s+", " ", text)


def both_say(texts, *phrases):
    for phrase in phrases:
        for kind, text in zip(("PDF", "HTML"), texts, strict=True):
            assert phrase in text, f"{phrase!r} is not in the {kind}: {text}"


def test_newtons_by_hand(stored, report):
    """Best of 160, 164, 162 N: 164 N. Times 0.25 m: 41.0 N m. Over 50 kg: 0.82 N m/kg; 164/(50 g) = 33.4 %.

    The other side has 204 N, 51.0 N m, 1.02 N m/kg, 41.6 %. (51 - 41)/51 = 19.6 %.
    """
    found = report(stored(*sides()))
    both_say(found, "33.4", "41.6", "0.82", "1.02", "left weaker", "3/3", "25.0 cm", "supine, by hand")
    both_say(found, "▲ 19.6 ±", "164.0 ±", "204 ±")


def test_uncertainty_by_hand(stored, report):
    """With a calibration that is off no line: the spread, the angle of the push, the loads; the lever arm for torque.

    Trial to trial 2 N with 2 degrees of freedom; angle within 5 degrees: 0.0873^2 / 2 / root 5 of 164 N = 0.28 N;
    loads within 0.5 %: 0.82 N / root 3 = 0.47 N; together 2.07 N with 2.3 degrees of freedom, cut to 2, t = 4.303:
    8.9 N. Torque: 0.5 N m of the trials, 0.07 of the angle, 0.12 of the loads, 164 N x 5 mm / root 3 = 0.473 of the
    lever arm; together 0.70 with 7.8, t(7) = 2.365: 1.7 N m.
    """
    both_say(report(stored(*sides(calibration=EXACT))), "164.0 ± 8.9", "204.0 ± 9.1", "41.0 ± 1.7")


def test_settings_of_ones_own_are_named_hashed_and_used(stored, report, tmp_path):
    """The mean of 160, 164 and 162 N is 162 N; the file has the score alone, all else is that of standard."""
    mine = tmp_path / "mine.toml"
    mine.write_text('name = "mine"\nversion = 1\n[score]\nof = "mean"\nreason = "ours"\n', encoding="utf-8")
    found = report(stored(*sides(calibration=EXACT)), "--results", mine)
    both_say(
        found, "162.0 ±", f"scored by mine, {load_result_settings(str(mine)).hash}", "the mean of the accepted trials"
    )
    both_say(report(stored(*sides(calibration=EXACT))), f"scored by standard, {load_result_settings().hash}")


def test_settings_that_are_none_are_named(stored, ramphold):
    result = ramphold("report", stored(*sides()), "--results", "nope")
    assert (result.code, "no file of result settings called nope" in result.err) == (1, True)


def test_without_a_calibration_no_interval_is_shown(stored, report):
    """What is known, the spread alone, would make the uncalibrated look the surest."""
    found = report(stored(*sides(calibration=NOMINAL)))
    both_say(found, "164.0*", "204.0*", "41.0*", "19.6 %*", "* without an interval:")
    assert "164.0 ±" not in found[0]


@pytest.mark.parametrize(
    ("unit", "left", "right"),
    [("N", "164.0 ± 8.9", "204.0 ± 9.1"), ("kgf", "16.72 ± 0.91", "20.80 ± 0.93"), ("lbf", "36.9 ± 2.0", "45.9 ± 2.0")],
)
def test_forces_in_each_unit_and_torque_in_newton_metres(stored, report, unit, left, right):
    """1 kgf = 9.80665 N, 1 lbf = 4.4482216 N: 8.92 N are 0.910 kgf or 2.01 lbf; 9.10 N are 0.928 or 2.05."""
    found = report(stored(*sides(calibration=EXACT)), "--unit", unit)
    both_say(found, f"force, {unit}", "torque, N m", left, right, "41.0 ± 1.7")


def test_head_says_who_how_and_with_what(stored, report):
    found = report(stored(*sides()))
    both_say(
        found,
        "P-1, female, 24 years, 50.0 kg, 1.60 m, dominant side right",
        "2026-03-02 09:00",
        "ramp-and-hold, ",
        "X-1",
        "6: 6 accepted, 0 rejected, 0 set aside",
        "bridge-320, rated 1000 N, 1000 Hz",
        "2026-01-01, good until 2026-12-31, serial LC-1, 3 loads to 200 N, largest residual 1.00 N",
        "Name:",
        "Signature:",
        "not a medical device",
        "Stop at once on pain",
        "normal differences reach 23 to 40 %",
        "Bohannon & Andrews 1999",
    )


def test_pdf_and_page_say_the_same(stored, report):
    """Every word of the page is in the PDF, whatever order the two lay them out in."""
    pdf, page = report(stored(*sides()))
    missing = set(page.split()) - set(pdf.split())
    assert {word for word in missing if word not in pdf.replace(" ", "")} == set()


def test_rejected_and_set_aside_trials_are_named_with_the_reason(stored, report):
    trials = (
        *sides(),
        made_trial(150.0, side="left", ramp_s=0.3, **ELBOW),
        made_trial(170.0, side="left", aside="the pad slipped", **ELBOW),
    )
    found = report(stored(*trials))
    both_say(
        found, "8: 6 accepted, 1 rejected, 1 set aside", "3/5", "ramp too fast: The ramp took", "the pad slipped (X-1,"
    )
    assert "ask the person to build up" not in found[1], "advice is for the next trial, not for the record"


def test_change_by_hand_with_whose_detectable_change(stored, report):
    """Knee extension: 41 to 45.1 N m, +4.1, +10.0 %. Published: 23.91 to 43.26 % of 43.05: 10.3 to 18.6 N m."""
    before = stored(*sides(action="knee-extension"), day=DAY - dt.timedelta(days=60), name="before.h5")
    now = stored(*sides(left=(176.0, 180.4, 178.0), action="knee-extension"), name="now.h5")
    found = report(now, "--earlier", before)
    both_say(
        found, "41.0 → 45.1", "= +4.1 (+10.0 %)", "10.3\u201318.6 [", "Chamorro 2017", "Earlier sessions: 2026-01-01"
    )
    both_say(found, "= 0.0 (0.0 %)")
    assert "per month" not in found[1], "two sessions are no trend"


def test_smallest_change_that_matters_stands_beside_and_apart(stored, report):
    """Knee by hand without lever arms: 164 to 180.4 N, +16.4 N; 5.2 kgf are 51.0 N."""
    knee = {"action": "knee-extension", "lever_arm_m": None}
    before = stored(*sides(**knee), day=DAY - dt.timedelta(days=60), name="before.h5")
    found = report(stored(*sides(left=(176.0, 180.4, 178.0), **knee), name="now.h5"), "--earlier", before)
    both_say(found, "Knee extension, left: +16.4 N is less than the MCID of 51.0 N", "MCID: the smallest change")
    elbows = stored(*sides(), day=DAY - dt.timedelta(days=60), name="before.h5")
    assert "MCID" not in report(stored(*sides(), name="now.h5"), "--earlier", elbows)[1]


def test_trend_of_three_sessions_by_hand(stored, report):
    """40, 41, 42 N m at months 0, 1, 2: a straight line, 1.0 N m a month, its limits 1.0 too."""
    month = dt.timedelta(days=365.25 / 12.0)
    paths = [
        stored(*sides(left=(f - 1.0, f, f - 2.0)), day=DAY + number * month, name=f"{number}.h5")
        for number, f in enumerate((160.0, 164.0, 168.0))
    ]
    found = report(paths[2], "--earlier", paths[1], paths[0])
    both_say(found, "40.0 → 41.0 → 42.0", "+1.0 (+1.0 to +1.0)")


def test_own_data_come_before_published(stored, report):
    """Nine persons, tested twice, each 4 N more or less the second time: their error is one's own."""
    own = []
    for number in range(9):
        person = Person(code=f"R-{number}")
        for again in (0, 1):
            force = 150.0 + 10.0 * number + (4.0 if (number + again) % 2 else 0.0)
            trial = made_trial(force, side="left", **ELBOW)
            own.append(
                stored(trial, person=person, day=DAY - dt.timedelta(days=40 - 7 * again), name=f"r{number}{again}.h5")
            )
    before = stored(*sides(), day=DAY - dt.timedelta(days=60), name="before.h5")
    found = report(stored(*sides(), name="now.h5"), "--earlier", before, "--own", *own)
    both_say(found, "own data, 9 persons")


def test_reference_that_fits_and_why_others_do_not(stored, report):
    """Hip flexion, woman of 24: mean 38.54 % of body weight; 196.133 N on 50 kg are 40.0 %, 104 % of it."""
    hip = made_trial(196.133, action="hip-flexion", side="left", method="hand")
    found = report(stored(hip))
    both_say(found, "40.0 % body weight", "mean 38.5", "104 % of the mean", "Alvarenga G")
    both_say(found, "No row fits in: Knee strength, pooled over studies", "does not have the action: all results")


def test_age_outside_every_table_says_so(stored, report):
    child = Person(code="P-2", sex="female", age_years=9.0, mass_kg=30.0, height_m=1.3)
    hip = made_trial(90.0, action="hip-flexion", side="left", method="hand")
    both_say(report(stored(hip, person=child)), "No table fits this person", "does not have the age")


def test_reference_table_of_ones_own(stored, report, tmp_path):
    table = tmp_path / "club.csv"
    table.write_text(
        "# title: Elbow of one club\n# source: our own, spring\n# population: 40 women who row\n"
        "# verified: typed twice\n"
        "# kind: mean\n# unit: N\n# method: make\n# instrument: hand-held\n# position: supine\n# score: plateau\n"
        "action,sex,age_from,age_to,n,mean,sd\nelbow-flexion,female,18,29,40,180,16\n",
        encoding="utf-8",
    )
    found = report(stored(*sides()), "--references", table)
    # (164 - 180) / 16 = -1.0; by a t distribution for 40 persons about 16 of 100 are below
    both_say(found, "mean 180.0, SD 16.0", "91 % of the mean, z \u22121.0, percentile 16", "our own, spring")


@pytest.mark.parametrize(
    ("change", "person", "says"),
    [
        ({"lever_arm_m": None}, PERSON, "The lever arm, so there is no torque: all results."),
        (
            {},
            Person(code="P-1", sex="female", age_years=24.0),
            "The mass of the person: nothing is shown per body mass.",
        ),
        ({}, Person(code="P-1", mass_kg=50.0), "The sex of the person: most references need it."),
        ({}, Person(code="P-1"), "The age of the person"),
        ({"calibration": NOMINAL}, PERSON, "A calibration; newtons are nominal: all results."),
        ({"calibration": NOMINAL}, PERSON, "none: newtons come from the nominal sensitivity"),
    ],
)
def test_what_is_missing_is_said_and_the_rest_is_there(stored, report, change, person, says):
    found = report(stored(*sides(**change), person=person))
    both_say(found, says, "164")


def test_expired_calibration_is_said(stored, report):
    old = Calibration(newtons_per_count=0.01, rated_force_n=1000.0, date=dt.date(2024, 1, 1))
    both_say(
        report(stored(*sides(calibration=old))),
        "EXPIRED, was good until 2024-12-30",
        "A calibration that had not expired",
    )


def test_one_trial_only_has_no_interval(stored, report):
    found = report(stored(*sides(left=(164.0,))))
    both_say(found, "1/1!", "A second accepted trial", "Elbow flexion, left", "* without an interval:")
    assert "164.0*" in found[1]
    assert "164.0 ±" not in found[1]


def test_all_trials_rejected(stored, report):
    trials = [made_trial(160.0, side="left", ramp_s=0.3, **ELBOW) for _ in range(3)]
    found = report(stored(*trials))
    both_say(found, "none accepted", "0/3", "An accepted trial: all were rejected", "other side not tested")


def test_trials_without_action_or_side(stored, report):
    found = report(stored(made_trial(160.0, action=None, side=None, method="hand")))
    both_say(found, "action not named", "160.0*", "Which side was tested")


def test_session_without_trials(stored, report):
    both_say(report(stored()), "The session holds no trials.", "0: 0 accepted")


def test_german_words_and_decimal_commas(stored, report):
    found = report(stored(*sides(), made_trial(150.0, side="left", ramp_s=0.3, **ELBOW)), "--language", "de")
    both_say(
        found,
        "Isometrische Kraft: Anstieg und Halten",
        "P-1, weiblich, 24 Jahre, 50,0 kg, 1,60 m, dominant rechts",
        "Ellbogenflexion",
        "204 ±",
        "▲ 19,6 ±",
        "links schwächer",
        "kein Medizinprodukt",
        "Der Anstieg dauerte 0,2",
    )
    assert not re.search(r"\d\.\d ±", found[1]), "no decimal point in a result"


def test_earlier_session_that_is_later_is_refused(stored, ramphold):
    now, later = stored(*sides(), name="now.h5"), stored(*sides(), day=DAY + dt.timedelta(days=1), name="later.h5")
    result = ramphold("report", now, "--earlier", later)
    assert result.code == 1
    assert "later.h5: began 2026-03-03 09:00+00:00, not before now.h5" in result.err
    assert not list(now.parent.glob("*report*"))


def test_earlier_session_of_another_person_is_refused(stored, ramphold):
    other = stored(*sides(), person=Person(code="P-2"), day=DAY - dt.timedelta(days=1), name="other.h5")
    result = ramphold("report", stored(*sides()), "--earlier", other)
    assert (result.code, "is of person P-2" in result.err) == (1, True)


def test_session_given_twice_is_refused(stored, ramphold):
    before = stored(*sides(), day=DAY - dt.timedelta(days=1), name="before.h5")
    result = ramphold("report", stored(*sides()), "--earlier", before, before)
    assert (result.code, "give each session once" in result.err) == (1, True)


def test_trace_as_text_has_no_report(ramphold):
    result = ramphold("report", ROOT / "sample_traces/good.csv")
    assert result.code == 1
    assert "good.csv" in result.err


def test_place_that_cannot_be_written_leaves_nothing(stored, ramphold, tmp_path):
    blocked = tmp_path / "blocked"
    blocked.write_text("a file where the folder should be")
    result = ramphold("report", stored(*sides()), "--out", blocked)
    assert result.code == 1
    assert "the report cannot be written" in result.err


def test_out_names_a_folder_or_a_file(stored, ramphold, tmp_path):
    path = stored(*sides())
    for out, names in (
        (tmp_path / "new/folder", {"made-report.pdf", "made-report.html"}),
        (tmp_path / "named/dr.x.pdf", {"dr.x.pdf", "dr.x.html"}),
    ):
        assert ramphold("report", path, "--out", out).code == 0
        folder = out.parent if out.suffix else out
        assert {each.name for each in folder.iterdir()} == names


def test_page_needs_nothing_from_elsewhere_and_pictures_are_described(stored, report):
    path = stored(*sides())
    report(path)
    page = path.with_name("made-report.html").read_text(encoding="utf-8")
    assert not re.findall(r"(?:src|href)=\"(?!data:)", page)
    pictures = re.findall(r'<img src="data:image/svg\+xml;base64,([^"]+)"[^>]*alt="([^"]+)"', page)
    assert len(pictures) == 2
    assert "Elbow flexion: left 164.0 N, right 204.0 N" in [about for _, about in pictures]
    for data, _ in pictures:
        svg = base64.b64decode(data).decode()
        assert svg.startswith("<svg")
        assert "fill: None" not in svg


def test_words_of_a_session_are_no_markup(stored, report):
    """A code or a reason is text, whatever signs are in it."""
    person = Person(code="<b>P & 1</b>")
    trial = made_trial(150.0, side="left", aside="a <script> & more", **ELBOW)
    path = stored(*sides(), trial, person=person)
    report(path)
    page = path.with_name("made-report.html").read_text(encoding="utf-8")
    assert "<script" not in page
    assert "&lt;b&gt;P &amp; 1&lt;/b&gt;" in page
    pdf = " ".join(each.extract_text() for each in PdfReader(path.with_name("made-report.pdf")).pages)
    assert "a <script> & more" in one_line(pdf)


CODE = """
import sys
from ui.cli import main
from ui.words.words import Words
code = main(sys.argv[1:])
print(sorted({name.partition(".")[0] for name in sys.modules} & {"PyQt6", "pyqtgraph"}), code)
"""


@pytest.mark.slow
def test_report_needs_no_display_and_no_qt(stored):
    path = stored(*sides())
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", CODE, "report", str(path)],
        cwd=ROOT,
        env={"PATH": "/usr/bin:/bin", "HOME": str(path.parent)},
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert done.stdout.splitlines()[-1] == "[] 0"


@pytest.mark.slow
@pytest.mark.parametrize("language", ["en", "de"])
def test_demo_of_the_seasons_fills_three_pages_at_most(capsys, tmp_path, language):
    assert main(["demo", "--seasons", "--out", str(tmp_path), "--json", "--language", language]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [Path(each).exists() for each in told["sessions"]] == [True] * 3
    reader = PdfReader(told["pdf"])
    assert 2 <= len(reader.pages) <= 3
    text = one_line(" ".join(page.extract_text() for page in reader.pages))
    words = Words(language)
    for key in ("invented", "results.nothing", "ratios.title", "changes.title", "references.title", "missing.title"):
        assert words(f"report.{key}") in text
    for phrase in ("CREW-07", "the pad slipped", words("report.page", page=2, pages=len(reader.pages))):
        assert phrase in text


def test_seasons_in_the_window_are_wrong_usage(ramphold, tmp_path):
    result = ramphold("demo", "--seasons", "--window", "--out", tmp_path)
    assert result.code == 2
    assert "--seasons makes its sessions at once" in result.err
