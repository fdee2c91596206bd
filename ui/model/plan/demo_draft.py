"""The invented plan of the demo in the window."""

from __future__ import annotations

from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

from acquire.files.atomic import replace_file
from acquire.simulation.scenario import EXAMINER, EXAMINER_LIMIT_N, PERSON
from ui.model.plan.plan import PlanDraft

DEMO_ACTIONS = ("shoulder-abduction", "elbow-flexion", "knee-extension")
DEMO_REST_S = 8.0


def demo_draft(folder: Path) -> PlanDraft:
    """Return the invented plan, and write the protocol with its short rests beside the session."""
    folder.mkdir(parents=True, exist_ok=True)
    standard = resources.files("analysis") / "data" / "protocols" / "ramp-and-hold.toml"
    text = standard.read_text(encoding="utf-8").replace('name = "ramp-and-hold"', 'name = "demo-short-rests"')
    text = text.replace("rest_least_s = 60.0", f"rest_least_s = {DEMO_REST_S}").replace(
        "rest_s = 90.0", f"rest_s = {DEMO_REST_S}"
    )
    protocol = folder / "demo-short-rests.toml"
    replace_file(protocol, lambda aside: aside.write_text(text, encoding="utf-8"))
    stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S")
    return PlanDraft(
        person=PERSON,
        examiner=EXAMINER,
        examiner_limit_n=EXAMINER_LIMIT_N,
        battery="own",
        own=DEMO_ACTIONS,
        trials=2,
        rest_s=DEMO_REST_S,
        protocol=str(protocol),
        out=str(folder / f"window-{stamp}.h5"),
        # nobody is tested, so there is nobody to keep the cautions for
        cautions_acknowledged=datetime.now(UTC),
    )
