"""Whether a planned session can begin: what is missing or wrong, and what deserves a second look."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from pathlib import Path

from acquire.errors import AcquireError
from acquire.sensor.calibration_file import far_from_nominal, load_calibration, load_calibration_of
from acquire.sensor.profile import load_profile
from acquire.values.outside_text import CODE_MOST, is_code
from analysis.battery.battery import REGIONS
from analysis.errors import ActionsError, AnalysisError, ProtocolError
from analysis.results.settings import load_result_settings
from analysis.trial.protocol import load_protocol
from ui.model.plan.plan import OWN, PlanDraft, chosen_items
from ui.model.plan.problems import PlanWarning, Problem, ProblemCode
from ui.session.crash import unfinished_mark
from ui.session.open_sensor import SIMULATED

AGE_YEARS = (0.0, 120.0)
MASS_KG = (1.0, 400.0)
HEIGHT_M = (0.3, 2.6)
LEVER_M = (0.01, 1.0)
"""What can be true, and what is a slip of the key."""

MOST_TRIALS = 10
SHORTEST_NAME = 3


def problems(draft: PlanDraft) -> tuple[Problem, ...]:
    """Return what keeps the session from beginning, in the order of the place.

    Examples
    --------
    >>> from acquire.values.records import Person
    >>> [found.code for found in problems(PlanDraft(person=Person(code="P-014"), examiner="X01", out="/tmp/p014.h5"))]
    [<ProblemCode.CAUTIONS: 'cautions'>]
    """
    return (*_wrong_people(draft), *_wrong_battery(draft), *_wrong_sensor(draft), *_wrong_file(draft), *_unread(draft))


def _wrong_people(draft: PlanDraft) -> Iterator[Problem]:
    person = draft.person
    if not person.code.strip():
        yield Problem(ProblemCode.NO_PERSON)
    elif not is_code(person.code.strip()):
        yield Problem(ProblemCode.PERSON, high=CODE_MOST)
    for value, limits, code in (
        (person.age_years, AGE_YEARS, ProblemCode.AGE),
        (person.mass_kg, MASS_KG, ProblemCode.MASS),
        (person.height_m, HEIGHT_M, ProblemCode.STATURE),
    ):
        if value is not None and not limits[0] <= value <= limits[1]:
            yield Problem(code, *limits)
    if not draft.examiner.strip():
        yield Problem(ProblemCode.NO_EXAMINER)
    elif not is_code(draft.examiner.strip()):
        yield Problem(ProblemCode.EXAMINER, high=CODE_MOST)
    if draft.examiner_limit_n is not None and not 0.0 < draft.examiner_limit_n < math.inf:
        yield Problem(ProblemCode.LIMIT, 0.0)


def _wrong_battery(draft: PlanDraft) -> Iterator[Problem]:
    if not 1 <= draft.trials <= MOST_TRIALS:
        yield Problem(ProblemCode.TRIALS, 1, MOST_TRIALS)
    yield from _wrong_rest(draft)
    if not draft.sides and draft.battery in (OWN, *REGIONS):
        yield Problem(ProblemCode.NO_SIDES)
    else:
        yield from _wrong_items(draft)


def _wrong_rest(draft: PlanDraft) -> Iterator[Problem]:
    try:
        least = load_protocol(draft.protocol).set.rest_least_s
    except ProtocolError:
        least = 0.0
    if not least <= draft.rest_s < math.inf:
        yield Problem(ProblemCode.REST, least)


def _wrong_items(draft: PlanDraft) -> Iterator[Problem]:
    try:
        items = chosen_items(draft)
    except ActionsError as error:
        yield Problem(ProblemCode.BATTERY, error=error)
        return
    if not items:
        yield Problem(ProblemCode.NO_ACTIONS)
    levers = [item.lever_arm_m for item in items if draft.want_torque and item.side]
    if None in levers:
        yield Problem(ProblemCode.NO_LEVER)
    if any(lever is not None and not LEVER_M[0] <= lever <= LEVER_M[1] for lever in levers):
        yield Problem(ProblemCode.LEVER, *LEVER_M)


def _wrong_sensor(draft: PlanDraft) -> Iterator[Problem]:
    if not draft.sensor:
        yield Problem(ProblemCode.NO_SENSOR)
    elif error := _unreadable(draft, ProblemCode.SENSOR):
        yield Problem(ProblemCode.SENSOR, error=error)
    else:
        yield from _wrong_port(draft)
    for code in (ProblemCode.CALIBRATION, ProblemCode.PROTOCOL, ProblemCode.RESULTS):
        if error := _unreadable(draft, code):
            yield Problem(code, error=error)


def _wrong_port(draft: PlanDraft) -> Iterator[Problem]:
    profile = load_profile(draft.sensor)
    if (draft.port is None and profile.name != SIMULATED) or (draft.port is not None and not draft.port.strip()):
        yield Problem(ProblemCode.NO_PORT)


def _wrong_file(draft: PlanDraft) -> Iterator[Problem]:
    if not draft.out.strip():
        yield Problem(ProblemCode.NO_FILE)
        return
    path = Path(draft.out).expanduser()
    if path.is_dir() or not path.parent.parent.is_dir() or (path.parent.exists() and not path.parent.is_dir()):
        yield Problem(ProblemCode.FOLDER)
    elif path.exists() and not (draft.resume or unfinished_mark(path).exists()):
        yield Problem(ProblemCode.EXISTS)


def _unread(draft: PlanDraft) -> Iterator[Problem]:
    if draft.cautions_acknowledged is None:
        yield Problem(ProblemCode.CAUTIONS)


def _read_calibration(draft: PlanDraft) -> object:
    """Read the calibration; where the profile cannot be read, whose it is is not asked."""
    if not draft.calibration:
        return None
    if _unreadable(draft, ProblemCode.SENSOR):
        return load_calibration(draft.calibration)
    return load_calibration_of(load_profile(draft.sensor), draft.calibration)


READ: dict[ProblemCode, Callable[[PlanDraft], object]] = {
    ProblemCode.SENSOR: lambda draft: load_profile(draft.sensor),
    ProblemCode.CALIBRATION: _read_calibration,
    ProblemCode.PROTOCOL: lambda draft: load_protocol(draft.protocol),
    ProblemCode.RESULTS: lambda draft: load_result_settings(draft.results),
}
"""What is read for a problem with a file."""


def _unreadable(draft: PlanDraft, code: ProblemCode) -> AcquireError | AnalysisError | None:
    """Return why the file of a plan cannot be read; None when it can."""
    try:
        READ[code](draft)
    except (AcquireError, AnalysisError) as error:
        return error
    return None


def warnings_of(draft: PlanDraft) -> tuple[PlanWarning, ...]:
    """Return what deserves a second look but does not keep the session from beginning.

    Examples
    --------
    >>> from acquire.values.records import Person
    >>> warnings_of(PlanDraft(person=Person(code="Maria"), examiner="X01", examiner_limit_n=250.0, port="COM3"))
    (<PlanWarning.NAME: 'name'>,)
    """
    found = [PlanWarning.NAME] if looks_like_a_name(draft.person.code) or looks_like_a_name(draft.examiner) else []
    if draft.examiner_limit_n is None and _any_by_hand(draft):
        found.append(PlanWarning.LIMIT)
    if _of_another_sensor(draft):
        found.append(PlanWarning.OTHER_SENSOR)
    if draft.port is None:
        found.append(PlanWarning.SIMULATED)
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
    read = (ProblemCode.SENSOR, ProblemCode.CALIBRATION)
    if not draft.calibration or any(_unreadable(draft, code) for code in read):
        return False
    return far_from_nominal(load_calibration(draft.calibration), load_profile(draft.sensor)) is not None
