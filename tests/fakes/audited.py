"""A small audit of facts that were made up, not measured: quick, and every number is known."""

from analysis.audit.archive import Measured
from analysis.audit.archive_audit import audit_of
from analysis.audit.facts import SessionFacts, TrialFacts
from analysis.trial.protocol import load_protocol
from analysis.trial.technique import Technique

DAY = 86_400.0
PROTOCOL = load_protocol()
USUAL = {
    "person": "P-1",
    "action": "hip-flexion",
    "side": "left",
    "method": "hand",
    "sensor": "cell",
    "started_s": 0.0,
    "aside": False,
    "faults": (),
    "warnings": (),
    "plateau_n": 100.0,
    "lever_arm_m": None,
    "zero_n": 0.0,
    "newtons_per_count": 1.0,
}


def session(file, trials, **said):
    """One measured file; trials are dicts of what is not usual."""
    facts = tuple(
        TrialFacts(
            **(
                USUAL
                | {"person": f"P {file}", "session": file, "number": number, "technique": Technique()}
                | said
                | trial
            )
        )
        for number, trial in enumerate((trial | {"accepted": not trial.get("faults")} for trial in trials), start=1)
    )
    return Measured(file=file, fingerprint="", facts=SessionFacts(file=file, trials=facts))


def examiner(code, days=range(8), *, fault_in=(), ramp_s=1.5, **said):
    """Sessions of four trials, one a day; some of the trials of the days `fault_in` ramped too fast."""
    for day in days:
        trials = [
            {
                "started_s": day * DAY + 60.0 * trial,
                "faults": ("fast-ramp",) if day in fault_in and trial < 3 else (),
                "technique": Technique(ramp_time_s=ramp_s + 0.01 * trial + 0.003 * day),
                "rest_s": None if trial == 0 else 90.0,
                "plateau_n": 100.0 + trial + 17.0 * (day % 11),
            }
            for trial in range(4)
        ]
        yield session(f"{code}/{day:02d}.h5", trials, examiner=code, **said)


def two_on_the_same(first, second, persons=12):
    """One trial by each of two examiners of each person; the second finds 2 N less, or 4 N."""
    for person in range(persons):
        for place, code in enumerate((first, second)):
            trial = {
                "started_s": (20.0 + person + 0.1 * place) * DAY,
                "plateau_n": 150.0 + 20.0 * person - place * (2.0 if person % 2 else 4.0),
                "technique": Technique(ramp_time_s=1.5),
                "person": f"T-{person}",
            }
            yield session(f"{code}/t{person}.h5", [trial], examiner=code, sensor="test cell")


def small_audit(*, blind=False):
    """HASTY ramps too fast in most trials of all days; B and C tested the same twelve; NEW has one session."""
    measured = [
        *examiner("HASTY", range(25), fault_in=range(25), ramp_s=0.5),
        *examiner("B", fault_in=(3,)),
        *examiner("C"),
        *examiner("NEW", range(1)),
        *two_on_the_same("B", "C"),
        *(
            session(
                f"S/{day}.h5",
                [{"started_s": day * DAY, "zero_n": 0.1 * (day % 2) + (3.0 if day > 24 else 0.0)}],
                examiner="",
                sensor="drifting",
                person="",
            )
            for day in range(30)
        ),
        Measured(file="bad.h5", fingerprint="", error="damaged"),
    ]
    return audit_of(measured, PROTOCOL, blind=blind)
