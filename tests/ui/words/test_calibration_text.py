"""What the newtons rest on, in both languages."""

import datetime as dt
from types import SimpleNamespace

import pytest

from acquire.values.calibration import Calibration, CalibrationPoint, fit_calibration
from ui.words.calibration_text import calibration_sentence, calibrations_sentence
from ui.words.words import Words

EN, DE = Words("en"), Words("de")
DAY = dt.date(2026, 3, 2)


def hang(*pairs):
    return tuple(CalibrationPoint(load_n=load, counts=counts) for load, counts in pairs)


def cell(**changes):
    return Calibration(**({"newtons_per_count": 0.5, "rated_force_n": 500.0} | changes))


@pytest.mark.parametrize(
    ("calibration", "english", "german"),
    [
        (
            fit_calibration(
                hang((0, 0), (100, 203), (200, 400)), rated_force_n=500.0, date=DAY, by="X01", serial="LC-7"
            ),
            "calibrated 2026-03-02 by X01, serial LC-7, largest residual 0.20 % of rated force",
            "kalibriert am 02.03.2026 von X01, Seriennummer LC-7, größte Abweichung 0,20 % der Nennkraft",
        ),
        (
            cell(zero_counts=1.0, rated_force_n=None, date=DAY, points=hang((0, 0), (100, 203), (200, 400))),
            "calibrated 2026-03-02, largest residual 1.00 N",
            "kalibriert am 02.03.2026, größte Abweichung 1,00 N",
        ),
        (
            fit_calibration(hang((0, 0), (100, 200)), rated_force_n=500.0, date=DAY),
            "calibrated 2026-03-02, from 2 loads only, so without a check of its residuals",
            "kalibriert am 02.03.2026, nur mit zwei Gewichten, deshalb ohne Prüfung der Abweichungen",
        ),
        (
            cell(date=DAY, by="X01"),
            "calibrated 2026-03-02 by X01, loads not on record",
            "kalibriert am 02.03.2026 von X01, ohne Aufzeichnung der Gewichte",
        ),
        (
            cell(),
            "not calibrated: newtons come from the nominal sensitivity of the profile",
            "nicht kalibriert: die Newton stammen aus der Nennempfindlichkeit des Profils",
        ),
    ],
    ids=["current", "no rated force", "two loads", "typed in", "none"],
)
def test_what_is_known_of_a_calibration(calibration, english, german):
    assert calibration_sentence(calibration, DAY, EN) == english
    assert calibration_sentence(calibration, DAY, DE) == german


def test_expired_calibration_says_since_when():
    old, later = cell(date=DAY, valid_days=30), dt.date(2026, 6, 1)
    assert (
        calibration_sentence(old, later, EN)
        == "calibration expired, was good until 2026-03-31: calibrate before trusting newtons"
    )
    assert "31.03.2026" in calibration_sentence(old, later, DE)


@pytest.mark.parametrize(
    ("words", "begins"), [(EN, "not calibrated: the sensitivity is a guess"), (DE, "nicht kalibriert")]
)
def test_a_guess_is_said(words, begins):
    assert calibration_sentence(cell(guess=True), DAY, words).startswith(begins)


def test_calibrations_of_several_trials_are_each_said_once():
    trials = [SimpleNamespace(calibration=each) for each in (cell(), cell(guess=True), cell())]
    assert calibrations_sentence(trials, DAY, EN).count("; ") == 1
    assert calibrations_sentence((), DAY, EN) == ""


def test_newtons_of_a_file_have_no_known_calibration():
    assert "as the file gives them" in calibrations_sentence((), None, EN)
    assert "wie die Datei sie angibt" in calibrations_sentence((), None, DE)
