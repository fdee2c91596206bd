"""What a check asks, shows and finds, as sentences for the user's language and numbers for any."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from analysis.sensor_check import Figure, Finding, SensorCheck, Status
from analysis.sensor_check.budget import COVERAGE
from ui.session.check_routine import CheckRoutine, State
from ui.session.check_setup import Step
from ui.words.conventions import localised
from ui.words.phrase import Phrase
from ui.words.words import Rounded, Words, Written

SIGNS: Mapping[Status, str] = {Status.PASS: "\u2713", Status.WARN: "!", Status.FAIL: "\u2717"}
"""A sign beside the word and the colour."""


class FigureRow(NamedTuple):
    """One thing that was measured."""

    key: str
    """Its name is the word ``check.figure.KEY``."""
    newtons: str
    percent: str
    """Of the rated force, or of what the name says."""
    uncertainty: str
    """Expanded, k = 2, in the unit of the first of the two that is there."""


# what is asked and seen


def asked(step: Step, hung_kg: float) -> Phrase:
    """Return what is to be done, given what hangs on the sensor.

    Examples
    --------
    >>> asked(Step("up", 2.5, 2.0, 1), 0.0).said(Words())
    'Hang 2.5 kg on the sensor.'
    """
    if step.purpose in {"look", "hold"}:
        return Phrase(f"check.ask.{step.purpose}", {"mass": Written(mass(step.mass_kg))})
    if not step.mass_kg:
        return Phrase("check.ask.off" if hung_kg else "check.ask.empty")
    return Phrase("check.ask.hang", {"mass": Written(mass(step.mass_kg))})


def seen(routine: CheckRoutine, press: str) -> Phrase:
    """Return what the routine sees, and what it waits for.

    Parameters
    ----------
    routine : CheckRoutine
        Under way.
    press : str
        What to press, in the user's language.
    """
    if routine.load.overloaded:
        return Phrase("check.see.overload")
    key = routine.state.value
    if routine.state in {State.CHANGE, State.WRONG} and not routine.step.mass_kg:
        key += "_off"
    facts = {
        "mass": Written(mass(routine.step.mass_kg)),
        "seen": Rounded(routine.load.looks_like_kg, 1),
        "moved": Rounded(routine.load.moved_n, 1),
        "left": Rounded(routine.left_s, 0),
        "press": press,
    }
    return Phrase(f"check.see.{key}", facts)


def mass(kilograms: float) -> str:
    """Return a mass without zeros that say nothing.

    Examples
    --------
    >>> mass(2.5), mass(20.0)
    ('2.5', '20')
    """
    return f"{kilograms:g}"


# what was found


def finding_name(finding: Finding, words: Words) -> str:
    """Return what a finding is about."""
    return words(f"check.finding.{finding.code}.name")


def finding_phrase(finding: Finding, check: SensorCheck) -> Phrase:
    """Return a finding as one sentence: the number, the limit, and what to do."""
    tone = check.unloaded.tone
    facts = {
        "value": Written(value(finding)),
        "limit": Written(f"{finding.fail_pct if finding.status is Status.FAIL else finding.warn_pct:g} %"),
        "doubt": Written(f"{finding.expanded_pct or 0.0:.2g} %"),
        "hertz": "" if tone is None else Rounded(tone.frequency_hz, 0),
        "mains": "" if tone is None or tone.mains_hz is None else Rounded(tone.mains_hz, 0),
        "seconds": Rounded((check.loaded.creep_s or 0.0) if check.loaded else 0.0, 0),
    }
    base = f"check.finding.{finding.code}"
    if not finding.sure:
        return Phrase(f"{base}.unsure", facts)
    if finding.status is Status.PASS:
        return Phrase(f"{base}.pass", facts)
    if finding.code == "hum" and facts["mains"]:
        return Phrase(f"{base}.mains", facts)
    return Phrase(f"{base}.over", facts)


def value(finding: Finding) -> str:
    """Return what was measured: newtons, where it is a force, and per cent.

    Examples
    --------
    >>> from analysis.sensor_check.limits import Limit
    >>> from analysis.sensor_check.verdict import graded
    >>> value(graded("noise", 0.05, Limit(warn_pct=0.1, fail_pct=0.2), measured_n=0.25))
    '0.25 N (0.050 %)'
    """
    signed = "+" if finding.code in SIGNED else ""
    percent = f"{finding.measured_pct:{signed}.{_digits(finding.measured_pct)}f} %"
    if finding.measured_n is None:
        return percent
    return f"{finding.measured_n:{signed}.2f} N ({percent})"


SIGNED = frozenset(
    {"rate", "zero", "drift", "sensitivity", "hysteresis", "zero-return", "creep", "zero-moved", "sensitivity-moved"}
)
"""What can go either way."""


def _digits(percent: float) -> int:
    return 3 if abs(percent) < 0.1 else 2


# what was measured


def rows(check: SensorCheck, words: Words) -> tuple[FigureRow, ...]:
    """Return everything that was measured, for a table, with the decimal sign of a language."""
    found = (*_of_unloaded(check), *_of_loads(check))
    return tuple(FigureRow(row.key, *(localised(number, words.language) for number in row[1:])) for row in found)


def _of_unloaded(check: SensorCheck) -> Iterator[FigureRow]:
    seen_, share = check.unloaded, 100.0 / check.rated_force_n

    def force(key: str, newtons: float, doubt: float, sign: str = "+") -> FigureRow:
        return FigureRow(key, f"{newtons:{sign}.3f}", f"{newtons * share:{sign}.3f}", f"{doubt:.3f} N")

    yield force("zero", seen_.zero_n, seen_.zero_uncertainty_n)
    yield force("noise", seen_.noise_n, seen_.noise_uncertainty_n, "")
    if seen_.tone is not None:
        yield force("tone", seen_.tone.rms_n, 0.0, "")._replace(uncertainty="")
    yield force("drift", seen_.drift_n_per_min, seen_.drift_uncertainty_n_per_min)
    yield force("moved", seen_.moved_n, COVERAGE * seen_.noise_n * (20.0 / seen_.samples) ** 0.5)


def _of_loads(check: SensorCheck) -> Iterator[FigureRow]:
    loaded = check.loaded
    if loaded is None:
        return
    for key in ("linearity", "terminal", "hysteresis", "repeatability", "zero_return", "creep"):
        figure: Figure | None = getattr(loaded, key)
        if figure is not None:
            sign = "" if key == "repeatability" else "+"
            doubt = f"{figure.expanded_n:.3f} N"
            yield FigureRow(key, f"{figure.value_n:{sign}.3f}", f"{figure.value_pct:{sign}.3f}", doubt)


def facts(check: SensorCheck) -> Iterator[Phrase]:
    """Yield what is no force: rate, losses, sensitivity, how sure a force is, and how far the weights reached."""
    seen_ = check.unloaded
    if seen_.rate_hz is None:
        yield Phrase("check.fact.rate_unknown", {"nominal": Written(f"{seen_.nominal_rate_hz:g}")})
    else:
        known = {"rate": Rounded(seen_.rate_hz, 3), "doubt": Rounded(seen_.rate_uncertainty_hz, 3)}
        yield Phrase("check.fact.rate", {**known, "nominal": Written(f"{seen_.nominal_rate_hz:g}")})
    every = seen_.received + seen_.lost
    yield Phrase("check.fact.lost", {"lost": seen_.lost, "all": every, "damaged": seen_.damaged})
    if check.loaded is not None:
        budget, line = check.loaded.budget, check.loaded.sensitivity or check.loaded.budget
        yield Phrase(
            "check.fact.sensitivity",
            {"counts": Rounded(check.loaded.counts_per_newton, 3), "doubt": Rounded(line.expanded_pct, 2)},
        )
        yield Phrase(
            "check.fact.reach",
            {"newtons": Rounded(budget.at_n, 0), "percent": Rounded(100.0 * budget.at_n / check.rated_force_n, 0)},
        )
