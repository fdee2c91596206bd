"""What an edit makes of a plan, where one thing pulls another with it."""

from __future__ import annotations

import msgspec

from acquire.values.records import Person
from analysis.errors import ProtocolError
from analysis.trial.protocol import load_protocol
from ui.model.plan.plan import PlanDraft
from ui.session.open_sensor import SIMULATED


def with_person(draft: PlanDraft, **changed: object) -> PlanDraft:
    """Return the plan with something else known of its person."""
    person: Person = msgspec.structs.replace(draft.person, **changed)
    return msgspec.structs.replace(draft, person=person)


def with_limit(draft: PlanDraft, newtons: float | None, *, measured: bool = False) -> PlanDraft:
    """Return the plan with another limit of its examiner."""
    return msgspec.structs.replace(draft, examiner_limit_n=newtons, limit_measured=measured)


def with_port(draft: PlanDraft, port: str | None, *, sensor: str = "", calibration: str = "") -> PlanDraft:
    """Return the plan with its sensor at another port.

    Parameters
    ----------
    draft : PlanDraft
        The plan.
    port : str or None
        None for the simulated sensor, which has a profile of its own and needs no calibration.
    sensor, calibration
        What to take up again when the sensor was simulated until now.
    """
    if port is None:
        return msgspec.structs.replace(draft, port=None, sensor=SIMULATED, calibration="")
    if draft.port is None or (sensor and sensor != draft.sensor):
        return msgspec.structs.replace(draft, port=port, sensor=sensor, calibration=calibration)
    return msgspec.structs.replace(draft, port=port)


def with_protocol(draft: PlanDraft, protocol: str) -> PlanDraft:
    """Return the plan by another protocol, with the trials and the rest that it asks for.

    A protocol that cannot be read changes neither; that it cannot is said by `ui.model.plan.checks`.
    """
    changed = msgspec.structs.replace(draft, protocol=protocol)
    try:
        rule = load_protocol(protocol).set
    except ProtocolError:
        return changed
    return msgspec.structs.replace(changed, trials=rule.trials, rest_s=rule.rest_s)
