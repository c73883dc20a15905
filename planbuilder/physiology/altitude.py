"""Altitude: what thin air leaves of a runner's aerobic power."""

from __future__ import annotations

from planbuilder.physiology.ranges import require_within


def aerobic_power_fraction(altitude_m: float) -> float:
    """Share of the maximal aerobic power at sea level that is left for someone who is not acclimatised.

    ``1 - 11.7e-9 h^2 - 4.01e-6 h`` with the height ``h`` in m. Péronnet F, Thibault G, Cousineau DL. J Appl
    Physiol 70:399-404, 1991; the coefficients are from memory. -100 to 3000 m (below the sea counts as sea
    level), else ValueError. Runners differ widely.

    >>> round(aerobic_power_fraction(1500.0), 4)
    0.9677
    """
    require_within(altitude_m, -100.0, 3000.0, quantity="altitude", unit="m")
    height_m = max(altitude_m, 0.0)
    return 1.0 - 11.7e-9 * height_m**2 - 4.01e-6 * height_m


def altitude_slow_down(altitude_m: float) -> float:
    """Share of the sea-level time that the altitude adds to a distance race, from ``aerobic_power_fraction``:
    the same share of a smaller power. The little that thin air gives back in drag is left out.

    >>> round(altitude_slow_down(2000.0), 3)
    0.058
    """
    return 1.0 / aerobic_power_fraction(altitude_m) - 1.0
