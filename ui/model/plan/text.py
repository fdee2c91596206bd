"""Sentences about a plan that need more than a look-up: how long it takes, and what is still open."""

from __future__ import annotations

from analysis.battery.ordering import Estimate
from ui.model.plan.checks import problems
from ui.model.plan.plan import PlanDraft
from ui.model.plan.problems import Problem, ProblemCode
from ui.words.words import Rounded, Words

MINUTE_S = 60.0
CENTIMETRES = 100.0
"""In a metre."""
IN_CENTIMETRES = {ProblemCode.STATURE, ProblemCode.LEVER}
"""Limits in metres that are typed, and said, in centimetres."""


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
    count = estimate.position_changes
    changes = words("plan.changes", count=count) if count else words("plan.no_change")
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
    what, more = problem_words(words, found[0]), len(found) - 1
    return words("plan.open_more", what=what, count=more) if more else words("plan.open", what=what)


def problem_words(words: Words, problem: Problem) -> str:
    """Return what keeps a session from beginning, in words.

    Examples
    --------
    >>> problem_words(Words("en"), Problem(ProblemCode.LEVER, 0.01, 1.0))
    'a lever arm: 1 to 100 cm'
    """
    scale = CENTIMETRES if problem.code in IN_CENTIMETRES else 1.0
    low, high = (None if limit is None else Rounded(scale * limit, 0) for limit in (problem.low, problem.high))
    what = words(f"plan.problem.{problem.code.value}", low=low, high=high)
    return what if problem.error is None else words("plan.problem_why", what=what, why=str(problem.error))
