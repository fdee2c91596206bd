"""What is said of a calibration, in both languages."""

import datetime as dt

import pytest

from acquire.sensor.calibration_file import save_calibration
from acquire.values.calibration import Calibration, CalibrationPoint, fit_calibration
from ui.model.plan.calibration_note import calibration_note
from ui.words.words import Words, languages

DAY = dt.date(2026, 3, 2)
POINTS = [CalibrationPoint(load_n=n, counts=c) for n, c in ((0.0, 0.0), (100.0, 201.0), (200.0, 400.0))]


@pytest.fixture
def noted(tmp_path):
    def note(calibration):
        save_calibration(tmp_path / "cal.toml", calibration)
        return calibration_note(str(tmp_path / "cal.toml"), on=DAY)

    return note


def said(note, language="en"):
    return " ".join(phrase.said(Words(language)) for phrase in note.phrases)


def test_current_calibration_is_trusted_and_says_till_when_and_how_well(noted):
    note = noted(fit_calibration(POINTS, rated_force_n=500.0, date=dt.date(2025, 11, 3)))
    assert note.trusted
    assert said(note) == "Calibrated 2025-11-03, good until 2026-11-02. Largest residual 0.07 % of rated force."


def test_expired_calibration_is_not_trusted(noted):
    note = noted(fit_calibration(POINTS, rated_force_n=500.0, date=dt.date(2024, 11, 3)))
    assert not note.trusted
    assert said(note).startswith("Expired, was good until 2025-11-02: calibrate before trusting newtons.")


def test_validity_ends_on_the_day_it_says(noted):
    made = DAY - dt.timedelta(days=365)
    assert not noted(Calibration(newtons_per_count=1.0, date=made)).trusted
    assert noted(Calibration(newtons_per_count=1.0, date=made + dt.timedelta(days=1))).trusted


def test_no_calibration_is_the_nominal_sensitivity():
    note = calibration_note("", on=DAY)
    assert not note.trusted
    assert said(note).startswith("Not calibrated: newtons come from the nominal sensitivity")


@pytest.mark.parametrize("language", languages())
def test_sensor_of_unknown_sensitivity_is_told_as_a_guess(tmp_path, language):
    sensor = tmp_path / "mine.toml"
    sensor.write_text(
        'name = "mine"\ntitle = "x"\nframing = "packets"\nrate_hz = 80\nrated_force_n = 500\n'
        'counts_per_newton = 1000\nsensitivity = "unknown"\n'
    )
    guess = said(calibration_note("", on=DAY, sensor=str(sensor)), language)
    assert guess in {
        "Not calibrated: the sensitivity of this profile is a guess, and so is every newton.",
        "Nicht kalibriert: Die Empfindlichkeit dieses Profils ist geraten, und damit jedes Newton.",
    }
    assert guess != said(calibration_note("", on=DAY, sensor="bridge-80"), language)
    assert guess != said(calibration_note("", on=DAY, sensor="nowhere.toml"), language)


def test_calibration_without_a_date_is_none(noted):
    note = noted(Calibration(newtons_per_count=1.0))
    assert not note.trusted
    assert said(note) == "Not calibrated: the file has no date."


def test_file_that_cannot_be_read_says_why():
    note = calibration_note("nowhere.toml", on=DAY)
    assert (note.trusted, note.state) == (False, None)
    assert said(note) == "Cannot be read: nowhere.toml: there is no such file"


@pytest.mark.parametrize(
    ("points", "rated", "evidence"),
    [
        ([], 500.0, "Its loads are not on record."),
        (POINTS[::2], 500.0, "From two loads only, without residuals."),
        (POINTS, None, "Largest residual 0.33 N."),
    ],
)
def test_evidence_is_as_good_as_the_loads(noted, points, rated, evidence):
    made = Calibration(newtons_per_count=0.5, date=DAY, rated_force_n=rated, points=tuple(points))
    if len(points) == 3:
        made = fit_calibration(points, rated_force_n=500.0, date=DAY)
        made = Calibration(
            newtons_per_count=made.newtons_per_count, zero_counts=made.zero_counts, date=DAY, points=tuple(points)
        )
    assert said(noted(made)).endswith(evidence)


@pytest.mark.parametrize("language", languages())
def test_each_state_has_its_words(noted, language):
    notes = [
        calibration_note("", on=DAY),
        calibration_note("nowhere.toml", on=DAY),
        noted(Calibration(newtons_per_count=1.0)),
        noted(Calibration(newtons_per_count=1.0, date=DAY)),
        noted(Calibration(newtons_per_count=1.0, date=dt.date(2020, 1, 1))),
    ]
    assert len({said(note, language) for note in notes}) == 5
