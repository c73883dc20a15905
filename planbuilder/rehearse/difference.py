"""How local ground differs from the race's, in a coach's words."""

from __future__ import annotations

from typing import Final

from planbuilder.plan.local import Profile
from planbuilder.rehearse.wanted import on_steps
from planbuilder.settings.limits import Limits
from planbuilder.units import height_mark

_UP: Final = ("foot", "middle", "top")
_DOWN: Final = ("top", "middle", "foot")
_ALONG: Final = ("first third", "middle", "last third")


def difference_words(local: Profile, wanted: Profile, limits: Limits) -> str:
    """The difference in climb and descent, then the thirds whose grade differs most, at most two; with unit
    marks: "{h:8.0} less climb, a steeper top"."""
    parts = _height_parts(local, wanted, limits) + _grade_parts(local, wanted, limits)
    return ", ".join(parts) if parts else "much the same ground all the way"


def dose_words(grade_difference: float, limits: Limits) -> str:
    """How the time of a climb changes where the local hill is steeper or gentler, or an empty string."""
    most = limits.number("rehearse.same_grade")
    if grade_difference > most:
        low, high = limits.numbers("rehearse.steeper_time")
        return f"steeper than the race: {low * 100:.0f}–{high * 100:.0f} % of the time, same effort"
    if grade_difference < -most:
        share = limits.number("rehearse.gentler_time")
        return f"gentler than the race: {share * 100:.0f} % of the time, same effort"
    return ""


def _height_parts(local: Profile, wanted: Profile, limits: Limits) -> list[str]:
    least_m = limits.number("rehearse.height_worth_saying")
    parts = []
    for here, there, word in (
        (local.ascent_m, wanted.ascent_m, "climb"),
        (local.descent_m, wanted.descent_m, "descent"),
    ):
        if abs(here - there) >= least_m:
            parts.append(f"{height_mark(abs(here - there))} {'more' if here > there else 'less'} {word}")
    return parts


def _grade_parts(local: Profile, wanted: Profile, limits: Limits) -> list[str]:
    least = limits.number("rehearse.grade_worth_saying")
    here, there = _thirds(local), _thirds(wanted)
    for word, sign in (("steeper", 1), ("gentler", -1)):
        if all(sign * (abs(h) - abs(t)) >= least and h * t >= 0 for h, t in zip(here, there, strict=True)):
            return [f"{word} all the way"]
    apart = sorted(range(3), key=lambda third: -abs(here[third] - there[third]))[:2]
    names = _UP if wanted.grade > 0.01 else _DOWN if wanted.grade < -0.01 else _ALONG
    return [
        _third_words(names[third], here[third], there[third], least)
        for third in sorted(apart)
        if abs(here[third] - there[third]) >= least
    ]


def _third_words(name: str, here: float, there: float, least: float) -> str:
    if here * there >= 0 or min(abs(here), abs(there)) < least / 2:
        return f"a {'steeper' if abs(here) > abs(there) else 'gentler'} {name}"
    does, race = ("climbs", "falls") if here > 0 else ("falls", "climbs")
    return f"the {name} {does} where the race {race}"


def _thirds(profile: Profile) -> tuple[float, float, float]:
    heights = on_steps(profile, 3)
    step_m = profile.length_m / 3
    first, second, third = ((heights[i + 1] - heights[i]) / step_m for i in range(3))
    return float(first), float(second), float(third)
