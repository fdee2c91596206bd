"""From a force at the pad to the moment about the joint, and what of that force is only the limb's weight."""

from __future__ import annotations


def limb_weight(resting_force_n: float, baseline_n: float) -> float:
    """Return what to take off a force for the weight of the limb.

    The resting force is the pad's load under the relaxed limb, against the zero of the unloaded sensor. A trial whose
    quiet start had the limb on the pad already holds that weight, or part of it, in its own zero: its baseline
    says how much, and only the rest is taken off.

    Parameters
    ----------
    resting_force_n : float
        Force of the relaxed limb on the pad, N, positive in the direction of the effort.
    baseline_n : float
        The level that the trial's forces are counted from, N, against the zero of the unloaded sensor.

    Returns
    -------
    float
        Newtons; negative where the relaxed limb hangs away from the pad, so that lifting it was part of the effort.

    References
    ----------
    Statics: the reading of a limb at rest on the pad is not effort; from memory, as in Winter, Biomechanics.

    Examples
    --------
    >>> limb_weight(12.0, 0.0), limb_weight(12.0, 12.0)
    (12.0, 0.0)
    """
    return resting_force_n - baseline_n


def torque(force_n: float, lever_arm_m: float) -> float:
    """Return the moment of a force about the joint.

    Parameters
    ----------
    force_n : float
        Force perpendicular to the limb at the middle of the pad, N, limb weight removed.
    lever_arm_m : float
        From the joint to the middle of the pad, m, above 0.

    Returns
    -------
    float
        N m.

    Raises
    ------
    ValueError
        If `lever_arm_m` is not above 0.

    References
    ----------
    ISO 80000-4:2019, item 4-12.1 (moment of force), from memory.

    Examples
    --------
    >>> torque(200.0, 0.25)
    50.0
    """
    if not lever_arm_m > 0.0:
        raise ValueError(f"lever_arm_m must be above 0, got {lever_arm_m} m")
    return force_n * lever_arm_m
