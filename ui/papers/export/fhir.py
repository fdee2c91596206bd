"""A session as an HL7 FHIR R4 bundle of observations, with UCUM units.

Codes of real code systems are used only where they are sure; what is the program's own has a system of its own.

=====================================  =================================================================
LOINC 29463-7, 8302-2, 30525-0         body weight, body height, age
observation-category ``exam``          strength; ``vital-signs`` for weight and height
SNOMED CT 7771000, 24028007            left, right
v3-ActReason ``HTEST``                 invented data
``urn:ramphold:...``                   actions, quantities, people, sessions: the program's own
=====================================  =================================================================

The codes are from memory; structure and types are checked in the tests by a published model of FHIR R4.

References
----------
HL7 FHIR R4 (4.0.1): Bundle, Observation, Patient, Device; The Unified Code for Units of Measure.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import msgspec

from acquire.files.atomic import replace_together
from acquire.values.records import Side
from analysis.results.action_result import ActionResult, Value
from analysis.statistics.uncertainty import Budget
from ui.model.review.text import action_name
from ui.papers.report.occasion import Occasion
from ui.words.words import Words

Json = dict[str, Any]

UCUM = "http://unitsofmeasure.org"
LOINC = "http://loinc.org"
SNOMED = "http://snomed.info/sct"
CATEGORY = "http://terminology.hl7.org/CodeSystem/observation-category"
ABSENT = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
ACT_REASON = "http://terminology.hl7.org/CodeSystem/v3-ActReason"
OWN = "urn:ramphold"

LATERALITY: dict[Side, tuple[str, str]] = {"left": ("7771000", "Left"), "right": ("24028007", "Right")}

NOTICE = "Made by a research and training tool, not a medical device. Isometric make test, ramp and hold."

DIGITS = 6
"""Significant digits of a value: more than any sensor has."""


def write_fhir(folder: Path, named: Sequence[tuple[str, Occasion]]) -> list[Path]:
    """Write one bundle for each session, all or none; return where they are."""
    files = [(folder / f"{name}.fhir.json", partial(_write, occasion)) for name, occasion in named]
    replace_together(files)
    return [path for path, _ in files]


def _write(occasion: Occasion, aside: Path) -> None:
    aside.write_bytes(msgspec.json.format(msgspec.json.encode(bundle(occasion)), indent=1) + b"\n")


def bundle(occasion: Occasion) -> Json:
    """Return a session as a bundle of type collection: the person, the sensor, and an observation for each result."""
    context = occasion.session.context
    found: Json = {
        "resourceType": "Bundle",
        "type": "collection",
        "identifier": {"system": f"{OWN}:session", "value": context.session},
        "timestamp": context.started.isoformat(),
        "entry": [_entry(occasion, each) for each in _resources(occasion)],
    }
    if context.invented:
        found["meta"] = {"tag": [{"system": ACT_REASON, "code": "HTEST", "display": "test health data"}]}
    return found


def _entry(occasion: Occasion, resource: Json) -> Json:
    return {"fullUrl": _url(occasion, resource.pop("_name")), "resource": resource}


def _url(occasion: Occasion, name: str) -> str:
    """Return an address of its own for each resource of a session, the same at each export."""
    return uuid.uuid5(uuid.NAMESPACE_URL, f"{OWN}:session:{occasion.session.context.session}:{name}").urn


def _resources(occasion: Occasion) -> Iterator[Json]:
    yield _patient(occasion)
    if occasion.session.context.sensor:
        yield _device(occasion)
    yield from _body(occasion)
    for number, result in enumerate(occasion.summary.actions, start=1):
        yield _strength(occasion, result, number)


def _patient(occasion: Occasion) -> Json:
    person = occasion.session.context.person
    found: Json = {"_name": "person", "resourceType": "Patient"}
    if person.code:
        found["identifier"] = [{"system": f"{OWN}:person", "value": person.code}]
    if person.sex:
        found["gender"] = person.sex
    return found


def _device(occasion: Occasion) -> Json:
    serials = dict.fromkeys(each.trial.calibration.serial for each in occasion.trials if each.trial.calibration.serial)
    found: Json = {
        "_name": "sensor",
        "resourceType": "Device",
        "deviceName": [{"name": occasion.session.context.sensor, "type": "user-friendly-name"}],
        "type": {"text": "hand-held force sensor"},
    }
    if len(serials) == 1:
        found["serialNumber"] = next(iter(serials))
    return found


def _body(occasion: Occasion) -> Iterator[Json]:
    person = occasion.session.context.person
    for name, code, text, value, unit, category in (
        ("weight", "29463-7", "Body weight", person.mass_kg, "kg", "vital-signs"),
        (
            "height",
            "8302-2",
            "Body height",
            None if person.height_m is None else 100.0 * person.height_m,
            "cm",
            "vital-signs",
        ),
        ("age", "30525-0", "Age", person.age_years, "a", "exam"),
    ):
        if value is not None:
            found = _observation(occasion, name, category)
            found["code"] = {"coding": [{"system": LOINC, "code": code, "display": text}], "text": text}
            found["valueQuantity"] = _quantity(value, unit)
            yield found


def _observation(occasion: Occasion, name: str, category: str) -> Json:
    context = occasion.session.context
    found: Json = {
        "_name": name,
        "resourceType": "Observation",
        "status": "final",
        "category": [{"coding": [{"system": CATEGORY, "code": category}]}],
        "subject": {"reference": _url(occasion, "person")},
        "effectiveDateTime": context.started.isoformat(),
    }
    if context.examiner:
        found["performer"] = [{"identifier": {"system": f"{OWN}:examiner", "value": context.examiner}}]
    return found


def _strength(occasion: Occasion, result: ActionResult, number: int) -> Json:
    """Return what a set came to: its force as the value, torque and the rest as components."""
    name = action_name(result.action, Words()) or "action not named"
    found = _observation(occasion, f"result-{number}", "exam")
    found["code"] = _own("action", result.action, f"{name}, maximal isometric force")
    found["method"] = _own("method", result.method, f"isometric make test, sensor held by {result.method}")
    if result.side is not None:
        code, side = LATERALITY[result.side]
        coding = [{"system": SNOMED, "code": code, "display": side}]
        found["bodySite"] = {"coding": coding, "text": f"{side.lower()} side, {name}"}
    if occasion.session.context.sensor:
        found["device"] = {"reference": _url(occasion, "sensor")}
    value = result.value(occasion.summary.settings.score.of)
    if value is None:
        found["dataAbsentReason"] = {
            "coding": [{"system": ABSENT, "code": "unknown", "display": "Unknown"}],
            "text": "no trial counts: all were rejected or set aside",
        }
    else:
        found["valueQuantity"] = _quantity(value.force_n, "N")
    components = list(_components(result, value))
    found["component"] = components
    found["note"] = [{"text": text} for text in _notes(occasion, result)]
    return found


def _components(result: ActionResult, value: Value | None) -> Iterator[Json]:
    if value is not None:
        if value.force_budget.complete:
            yield _component("force-expanded-uncertainty", *_reach(value.force_budget, "N"))
        sizes = (
            ("torque", "torque", value.torque_nm, "N.m"),
            ("force-per-mass", "force per body mass", value.body.n_per_kg, "N/kg"),
            ("force-per-weight", "force as a share of body weight", value.body.pct_body_weight, "%"),
            ("torque-per-mass", "torque per body mass", value.body.nm_per_kg, "N.m/kg"),
        )
        for code, text, size, unit in sizes:
            if size is not None:
                yield _component(code, text, size, unit)
        if value.torque_budget is not None and value.torque_budget.complete:
            yield _component("torque-expanded-uncertainty", *_reach(value.torque_budget, "N.m"))
    arms = {each.lever_arm_m for each in result.trials}
    if len(arms) == 1 and (arm := arms.pop()) is not None:
        yield _component("lever-arm", "lever arm, joint to pad", arm, "m")
    yield _component("trials-counted", "trials that count", float(len(result.set.used)), "1")
    yield _component("trials-left-out", "trials rejected or set aside", float(len(result.set.unused)), "1")


def _reach(budget: Budget, unit: str) -> tuple[str, float, str]:
    return f"expanded uncertainty, {budget.level_pct:g} %", budget.expanded, unit


def _component(code: str, text: str, value: float, unit: str) -> Json:
    return {"code": _own("quantity", code, text), "valueQuantity": _quantity(value, unit)}


def _notes(occasion: Occasion, result: ActionResult) -> Iterator[str]:
    summary = occasion.summary
    yield NOTICE
    settings = summary.settings
    yield f"Judged by protocol {summary.protocol} ({summary.protocol_hash})."
    yield (
        f"Scored by {settings.name} ({settings.hash}): {settings.score.trial.value} of a trial, the"
        f" {settings.score.of.value} of the trials that count."
    )
    if result.missing:
        yield "Not known: " + ", ".join(each.value for each in result.missing) + "."
    if occasion.session.context.invented:
        yield "Invented data, of nobody."


def _own(system: str, code: str | None, text: str) -> Json:
    return {"text": text} if code is None else {"coding": [{"system": f"{OWN}:{system}", "code": code}], "text": text}


def _quantity(value: float, unit: str) -> Json:
    return {"value": float(f"{value:.{DIGITS}g}"), "unit": unit, "system": UCUM, "code": unit}
