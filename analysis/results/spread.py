"""The values of one measure over the trials of a set: best, mean, median, and how far they spread."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np

from analysis.results.settings import ScoreOf
from analysis.trial.steadiness import coefficient_of_variation


class Spread(msgspec.Struct, frozen=True, kw_only=True):
    """Some values of one quantity, in its unit."""

    trials: tuple[int, ...]
    """The numbers of the trials, in the order of `values`."""
    values: tuple[float, ...]
    best: float | None
    """The highest; None where higher is not better."""
    best_trial: int | None
    mean: float
    median: float
    sd: float | None
    """Standard deviation of single values (n - 1); None for one value."""
    cv_pct: float | None
    """Standard deviation as a share of the mean; None for one value, for a quantity that may have either sign, or
    where a value is not above 0."""
    range: float
    """Highest minus lowest."""

    def behind(self, of: ScoreOf) -> tuple[int, ...]:
        """Return the numbers of the trials that the value of a set comes from.

        Examples
        --------
        >>> spread([1, 2, 4], [190.0, 210.0, 200.0]).behind(ScoreOf.MEDIAN)
        (4,)
        """
        if of is ScoreOf.BEST and self.best_trial is not None:
            return (self.best_trial,)
        if of is not ScoreOf.MEDIAN:
            return self.trials
        ordered = [self.trials[index] for index in np.argsort(self.values, kind="stable")]
        return tuple(ordered[(len(ordered) - 1) // 2 : len(ordered) // 2 + 1])


def spread(
    trials: Sequence[int], values: Sequence[float], *, highest_is_best: bool = True, signed: bool = False
) -> Spread:
    """Return how some values spread.

    Parameters
    ----------
    trials : sequence of int
        The numbers of the trials, as many as values.
    values : sequence of float
        At least one, none NaN.
    highest_is_best : bool
        Whether the highest value is the best; where it is not, there is no best.
    signed : bool
        Whether the quantity may have either sign: a share of its mean then says nothing.

    Raises
    ------
    ValueError
        If there is no value, or the numbers are not as many.

    Examples
    --------
    >>> found = spread([1, 2, 4], [190.0, 200.0, 210.0])
    >>> found.best, found.best_trial, found.mean, found.sd, found.cv_pct, found.range
    (210.0, 4, 200.0, 10.0, 5.0, 20.0)
    """
    if not values or len(trials) != len(values):
        raise ValueError(f"values must be one for each trial, got {len(values)} for {len(trials)} trials")
    numbers = np.asarray(values, dtype=np.float64)
    best = int(numbers.argmax())
    several = len(numbers) > 1
    return Spread(
        trials=tuple(trials),
        values=tuple(numbers.tolist()),
        best=float(numbers[best]) if highest_is_best else None,
        best_trial=trials[best] if highest_is_best else None,
        mean=float(numbers.mean()),
        median=float(np.median(numbers)),
        sd=float(numbers.std(ddof=1)) if several else None,
        cv_pct=coefficient_of_variation(numbers) if several and not signed and numbers.min() > 0.0 else None,
        range=float(np.ptp(numbers)),
    )
