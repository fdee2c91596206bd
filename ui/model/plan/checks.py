"""Whether a planned session can begin: what is missing or wrong, and what deserves a second look."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from pathlib import Path

from acquire.errors import AcquireError
from acquire.sensor.calibration_file import far_from_nominal, load_calibration, load_calibration_of
from acquire.sensor.profile import load_profile
from acquire.values.outside_text import is_code
from analysis.battery.battery import REGIONS
from analysis.errors import ActionsError, AnalysisError, ProtocolError
from analysis.results.settings import load_result_settings
from analysis.trial.protocol import load_protocol
from ui.model.plan.plan import OWN, PlanDraft, chosen_items, listed_items
from ui.session.crash import unfinished_mark
from ui.session.open_sensor import SIMULATED

AGE_YEARS = (0.0, 120.0)
MASS_KG = (1.0, 400.0)
HEIGHT_M = (0.3, 2.6)
LEVER_M = (0.01, 1.0)
"""What can be true, and what is a slip of the key."""

MOST_TRIALS = 10
SHORTEST_NAME = 3


def problems(draft: PlanDraft) -> tuple[str, ...]:
    """Return what keeps the session from beginning, as keys of words, in the order of the place.

    Examples
    --------
    >>> from acquire.values.records import Person
    >>> problems(PlanDraft(person=Person(code="P-014"), examiner="X01", out="/tmp/p014.h5"))
    ('plan.missing.cautions',)
    """
    return (*_wrong_people(draft), *_wrong_battery(draft), *_wrong_sensor(draft), *_wrong_file(draft), *_unread(draft))


def _wrong_people(draft: PlanDraft) -> Iterator[str]:
    person = draft.person
    if not person.code.strip():
        yield "plan.missing.person"
    elif not is_code(person.code.strip()):
        yield "plan.wrong.person"
    for value, limits, name in (
        (person.age_years, AGE_YEARS, "age"),
        (person.mass_kg, MASS_KG, "mass"),
        (person.height_m, HEIGHT_M, "height"),
    ):
        if value is not None and not limits[0] <= value <= limits[1]:
            yield f"plan.wrong.{name}"
    if not draft.examiner.strip():
        yield "plan.missing.examiner"
    elif not is_code(draft.examiner.strip()):
        yield "plan.wrong.examiner"
    if draft.examiner_limit_n is not None and not 0.0 < draft.examiner_limit_n < math.inf:
        yield "plan.wrong.limit"


def _wrong_battery(draft: PlanDraft) -> Iterator[str]:
    if not 1 <= draft.trials <= MOST_TRIALS:
        yield "plan.wrong.trials"
    yield from _wrong_rest(draft)
    if not draft.sides and draft.battery in (OWN, *REGIONS):
        yield "plan.missing.sides"
    else:
        yield from _wrong_items(draft)


def _wrong_rest(draft: PlanDraft) -> Iterator[str]:
    try:
        least = load_protocol(draft.protocol).set.rest_least_s
    except ProtocolError:
        least = 0.0
    if not least <= draft.rest_s < math.inf:
        yield "plan.wrong.rest"


def _wrong_items(draft: PlanDraft) -> Iterator[str]:
    try:
        items = chosen_items(draft)
    except ActionsError:
        yield "plan.wrong.battery"
        return
    if not items:
        yield "plan.missing.actions"
    levers = [item.lever_arm_m for item in items if draft.want_torque and item.side]
    if None in levers:
        yield "plan.missing.lever"
    if any(lever is not None and not LEVER_M[0] <= lever <= LEVER_M[1] for lever in levers):
        yield "plan.wrong.lever"


def _wrong_sensor(draft: PlanDraft) -> Iterator[str]:
    if not draft.sensor:
        yield "plan.missing.sensor"
    elif why(draft, "plan.wrong.sensor"):
        yield "plan.wrong.sensor"
    else:
        yield from _wrong_port(draft)
    for problem in ("plan.wrong.calibration", "plan.wrong.protocol", "plan.wrong.results"):
        if why(draft, problem):
            yield problem


def _wrong_port(draft: PlanDraft) -> Iterator[str]:
    profile = load_profile(draft.sensor)
    if (draft.port is None and profile.name != SIMULATED) or (draft.port is not None and not draft.port.strip()):
        yield "plan.missing.port"


def _wrong_file(draft: PlanDraft) -> Iterator[str]:
    if not draft.out.strip():
        yield "plan.missing.out"
        return
    path = Path(draft.out).expanduser()
    if path.is_dir() or not path.parent.parent.is_dir() or (path.parent.exists() and not path.parent.is_dir()):
        yield "plan.wrong.folder"
    elif path.exists() and not (draft.resume or unfinished_mark(path).exists()):
        yield "plan.wrong.exists"


def _unread(draft: PlanDraft) -> Iterator[str]:
    if draft.cautions_acknowledged is None:
        yield "plan.missing.cautions"


def _read_calibration(draft: PlanDraft) -> object:
    """Read the calibration; where the profile cannot be read, whose it is is not asked."""
    if not draft.calibration:
        return None
    if why(draft, "plan.wrong.sensor"):
        return load_calibration(draft.calibration)
    return load_calibration_of(load_profile(draft.sensor), draft.calibration)


READ: dict[str, Callable[[PlanDraft], object]] = {
    "plan.wrong.battery": listed_items,
    "plan.wrong.sensor": lambda draft: load_profile(draft.sensor),
    "plan.wrong.calibration": _read_calibration,
    "plan.wrong.protocol": lambda draft: load_protocol(draft.protocol),
    "plan.wrong.results": lambda draft: load_result_settings(draft.results),
}
"""What is read for a problem with a file."""


def why(draft: PlanDraft, problem: str) -> str:
    """Return what a file lacks that a problem is about, in a sentence that names it; empty when it can be read.

    Examples
    --------
    >>> why(PlanDraft(protocol="mine"), "plan.wrong.protocol")
    'there is no protocol called mine and no such file; the program comes with: brief, fast, ramp-and-hold'
    """
    read = READ.get(problem)
    try:
        _ = read(draft) if read else None
    except (AcquireError, AnalysisError) as error:
        return str(error)
    return ""


def warnings_of(draft: PlanDraft) -> tuple[str, ...]:
    """Return what deserves a second look but does not keep the session from beginning, as keys of words.

    Examples
    --------
    >>> from acquire.values.records import Person
    >>> warnings_of(PlanDraft(person=Person(code="Maria"), examiner="X01", examiner_limit_n=250.0))
    ('plan.warn.name', 'plan.warn.simulated')
    """
    found = ["plan.warn.name"] if looks_like_a_name(draft.person.code) or looks_like_a_name(draft.examiner) else []
    if draft.examiner_limit_n is None and _any_by_hand(draft):
        found.append("plan.warn.limit")
    if _of_another_sensor(draft):
        found.append("plan.warn.other_sensor")
    if draft.port is None:
        found.append("plan.warn.simulated")
    return tuple(found)


def looks_like_a_name(code: str) -> bool:
    """Tell whether a code looks like a name: one word, with a capital first, and nothing else."""
    word = code.strip()
    return len(word) >= SHORTEST_NAME and word.isalpha() and word.istitle()


def _any_by_hand(draft: PlanDraft) -> bool:
    try:
        return any(item.method == "hand" for item in chosen_items(draft))
    except ActionsError:
        return False


def _of_another_sensor(draft: PlanDraft) -> bool:
    if not draft.calibration or any(why(draft, f"plan.wrong.{file}") for file in ("sensor", "calibration")):
        return False
    return far_from_nominal(load_calibration(draft.calibration), load_profile(draft.sensor)) is not None
