"""The torque of a joint as a function of its angle, by the size of the body.

    T = c1 x mass x height x 9.81 x cos(c2 (angle - c3)), and 0 where the cosine is negative

The angle is in radians: 0 with the hip and the knee straight and the foot at a right angle, positive for
flexion of hip and knee and dorsiflexion of the ankle, as in the figures of the actions.

References
----------
Anderson, D. E., Madigan, M. L. and Nussbaum, M. A. (2007), Maximum voluntary joint torque as a function of joint
angle and angular velocity, Journal of Biomechanics 40, 3105-3113: the isometric part of the model.
"""

from __future__ import annotations

import math

from analysis.references.tables import ModelRow

MODEL_GRAVITY = 9.81
"""m/s2, as in the publication: it is part of the definition of c1."""


def share_of_peak(row: ModelRow, angle_deg: float) -> float:
    """Return which share of its peak the torque reaches at an angle of the joint, 0 to 1.

    Examples
    --------
    >>> young_man = ModelRow(action="knee-extension", sex="male", age_from=18, c1=0.163, c2_per_rad=1.258, c3_rad=1.133)
    >>> round(share_of_peak(young_man, 90.0), 4)
    0.8521
    """
    turn = row.c2_per_rad * (math.radians(angle_deg) - row.c3_rad)
    return math.cos(turn) if abs(turn) < math.pi / 2.0 else 0.0


def peak_torque(c1: float, *, mass_kg: float, height_m: float) -> float:
    """Return the torque at the angle where it is highest, N m.

    Examples
    --------
    >>> round(peak_torque(0.163, mass_kg=75.0, height_m=1.76), 2)
    211.07
    """
    return c1 * mass_kg * height_m * MODEL_GRAVITY
