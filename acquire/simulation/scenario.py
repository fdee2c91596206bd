"""The demo's scenario, invented: a screening of one rower of a made-up crew, by one examiner.

Six actions, both sides of some, with good trials and with what goes wrong in practice. Forces are of the
order that handbooks give for adults; they are nobody's.
"""

from __future__ import annotations

from dataclasses import dataclass

import msgspec

from acquire.simulation.efforts import FAULTY, GOOD, Effort
from acquire.values.records import Person, TrialContext

PERSON = Person(code="CREW-07", sex="female", age_years=24.0, mass_kg=71.0, height_m=1.76, dominant_side="right")
EXAMINER = "EX-2"
EXAMINER_LIMIT_N = 260.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """One trial of the scenario: what it is, and what will happen."""

    context: TrialContext
    effort: Effort


def demo_scenario() -> tuple[Planned, ...]:
    """Return the trials of the demo, in order.

    Examples
    --------
    >>> len(demo_scenario())
    15
    """
    return (
        _trial("elbow-flexion", "right", 176.0, "good"),
        _trial("elbow-flexion", "right", 181.0, "good", ramp_s=1.3),
        _trial("elbow-flexion", "left", 171.0, "fast-ramp"),
        _trial("elbow-flexion", "left", 168.0, "good", ramp_s=1.8),
        _trial("shoulder-abduction", "right", 118.0, "preload"),
        _trial("shoulder-abduction", "right", 121.0, "good"),
        _trial("shoulder-external-rotation", "right", 96.0, "overshoot"),
        _trial("shoulder-external-rotation", "right", 92.0, "shake"),
        _trial("hip-abduction", "right", 188.0, "examiner-pushed"),
        _trial("hip-abduction", "right", 182.0, "short-hold"),
        _trial("hip-abduction", "right", 184.0, "good"),
        _trial("knee-extension", "right", 318.0, "gave-way", lever_arm_m=0.34),
        _trial("knee-extension", "right", 292.0, "good", lever_arm_m=0.34),
        _trial("knee-extension", "right", 455.0, "good", method="belt", lever_arm_m=0.34, ramp_s=1.9),
        _trial("knee-extension", "left", 431.0, "fading", method="belt", lever_arm_m=0.34),
    )


def _trial(
    action: str,
    side: str,
    plateau_n: float,
    what: str,
    *,
    method: str = "hand",
    lever_arm_m: float | None = None,
    ramp_s: float | None = None,
) -> Planned:
    effort = msgspec.structs.replace(FAULTY.get(what, GOOD), plateau_n=plateau_n, rest_before_s=1.6, rest_after_s=1.9)
    if ramp_s is not None:
        effort = msgspec.structs.replace(effort, ramp_s=ramp_s)
    context = msgspec.convert(
        {
            "action": action,
            "side": side,
            "method": method,
            "examiner": EXAMINER,
            "examiner_limit_n": EXAMINER_LIMIT_N,
            "lever_arm_m": lever_arm_m,
        },
        TrialContext,
    )
    return Planned(context=context, effort=effort)
