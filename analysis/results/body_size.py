"""Force and torque relative to the size of the body, so that people of different size can be compared.

============================  =====================================================================
`n_per_kg`                    force / mass
`pct_body_weight`             force / (mass x gravity), in per cent
`n_per_kg_067`                force / mass^0.67 (allometric, Jaric 2002)
`n_per_kg_b`                  force / mass^b, with the exponent of the result settings
`nm_per_kg`                   torque / mass, which is also the allometric torque / mass^1.0 (Jaric 2002)
`nm_per_kg_m`                 torque / (mass x height) (hip: Bazett-Jones 2011; Anderson 2007)
============================  =====================================================================

The exponents are those of strength tests in general. They were smaller in men with more than 20 % body fat (0.45
and 0.68: Folland 2008) and differ between tests (0.30 to 0.99: Beckman 2014): a result names its exponent.

References
----------
Jaric 2002, Sports Med 32:615-631; Folland 2008, Eur J Appl Physiol; Bazett-Jones 2011, Arch Phys Med Rehabil;
Beckman 2014, Medicine (Baltimore), PMC4602423; Anderson 2007, J Biomech 40:3105-3113.
"""

from __future__ import annotations

import msgspec

FORCE_EXPONENT = 0.67
"""Jaric 2002: force grows with mass to this power."""


class RelativeToBody(msgspec.Struct, frozen=True, kw_only=True):
    """One force and its torque relative to body size; None where mass, height or lever arm are not known."""

    n_per_kg: float | None = None
    pct_body_weight: float | None = None
    n_per_kg_067: float | None = None
    n_per_kg_b: float | None = None
    exponent: float | None = None
    """The b of `n_per_kg_b`."""
    nm_per_kg: float | None = None
    nm_per_kg_m: float | None = None


def relative_to_body(
    force_n: float,
    torque_nm: float | None,
    *,
    mass_kg: float | None,
    height_m: float | None,
    gravity_m_s2: float,
    exponent: float = FORCE_EXPONENT,
) -> RelativeToBody:
    """Return a force and its torque relative to body size.

    Parameters
    ----------
    force_n : float
        N.
    torque_nm : float or None
        N m.
    mass_kg, height_m : float or None
        Of the person; above 0.
    gravity_m_s2 : float
        What makes a weight of the mass, m/s2.
    exponent : float
        Of the mass, for `n_per_kg_b`.

    Raises
    ------
    ValueError
        If mass or height is not above 0.

    Examples
    --------
    >>> found = relative_to_body(196.133, 50.0, mass_kg=80.0, height_m=1.6, gravity_m_s2=9.80665)
    >>> round(found.pct_body_weight, 6), found.nm_per_kg, round(found.nm_per_kg_m, 6), round(found.n_per_kg_067, 3)
    (25.0, 0.625, 0.390625, 10.411)
    """
    for name, value, unit in (("mass_kg", mass_kg, "kg"), ("height_m", height_m, "m")):
        if value is not None and not value > 0.0:
            raise ValueError(f"{name} must be above 0, got {value} {unit}")
    if mass_kg is None:
        return RelativeToBody()
    return RelativeToBody(
        n_per_kg=force_n / mass_kg,
        pct_body_weight=100.0 * force_n / (mass_kg * gravity_m_s2),
        n_per_kg_067=force_n / mass_kg**FORCE_EXPONENT,
        n_per_kg_b=force_n / mass_kg**exponent,
        exponent=exponent,
        nm_per_kg=None if torque_nm is None else torque_nm / mass_kg,
        nm_per_kg_m=None if torque_nm is None or height_m is None else torque_nm / (mass_kg * height_m),
    )
