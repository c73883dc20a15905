"""Heart rate: only a check on a maximum that somebody measured, never in its place."""

from __future__ import annotations

from planbuilder.physiology.ranges import require_within


def usual_maximum_bpm(age_years: float) -> float:
    """Mean maximal heart rate at an age of 18 to 81 years, else ValueError: ``208 - 0.7 age``.

    Tanaka H, Monahan KD, Seals DR. J Am Coll Cardiol 37:153-156, 2001. Most formulas of this kind miss single
    runners by more than 10 beats (Robergs & Landwehr 2002), so no training band is ever made from it.

    >>> usual_maximum_bpm(40)
    180.0
    """
    require_within(age_years, 18.0, 81.0, quantity="age", unit="years")
    return 208.0 - 0.7 * age_years
