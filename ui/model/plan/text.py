"""Sentences about a plan that need more than a look-up: how long it takes, and what is still open."""

from __future__ import annotations

from analysis.battery.ordering import Estimate
from ui.model.plan.checks import problems, why
from ui.model.plan.plan import PlanDraft
from ui.words.words import Words

MINUTE_S = 60.0


def minutes(seconds: float) -> int:
    """Return whole minutes, never none for some seconds."""
    return max(round(seconds / MINUTE_S), 1 if seconds else 0)


def estimate_words(words: Words, estimate: Estimate) -> str:
    """Return how long a battery takes, in words.

    Examples
    --------
    >>> estimate_words(Words("en"), Estimate(total_s=3500.0, waiting_s=600.0, position_changes=1))
    'about 58 min, 1 change of position'
    """
    if not estimate.total_s:
        return words("plan.nothing_chosen")
    many = {0: "none", 1: "one"}.get(estimate.position_changes, "many")
    changes = words(f"plan.changes_{many}", count=estimate.position_changes)
    return f"{words('plan.about_minutes', minutes=minutes(estimate.total_s))}, {changes}"


def open_words(words: Words, draft: PlanDraft) -> str:
    """Return what is still open of a plan, the first thing in words and the others in number.

    Examples
    --------
    >>> open_words(Words("en"), PlanDraft(examiner="X01"))
    "Still open: the person's code (2 more)"
    """
    found = problems(draft)
    if not found:
        return words("plan.ready")
    what = words(found[0])
    if reason := why(draft, found[0]):
        what = f"{what} ({reason})"
    return words("plan.open_many" if len(found) > 1 else "plan.open_one", what=what, count=len(found) - 1)
