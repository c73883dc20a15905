"""Which local hill serves a session: the one of the stretch it rehearses, else one of its own grade."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planbuilder.plan.local import DemandGround, LocalGround, Match
from planbuilder.plan.types import Session, Step
from planbuilder.rehearse.difference import dose_words
from planbuilder.settings.limits import Limits


@dataclass(frozen=True, slots=True)
class Hill:
    """A hill to run up once or several times."""

    match: Match
    dose: str  # how the time changes where the grade differs, or ""
    caveat: str  # that it is not like the race's, or ""

    @property
    def length_m(self) -> float:
        """From foot to top, metres."""
        return abs(self.match.to_m - self.match.from_m)


def choose_hill(
    session: Session, step: Step, need_m: float, found: LocalGround, limits: Limits
) -> Hill | None:
    """The hill for a step that climbs ``need_m`` metres of road; None where there is none at all. Ground that
    is run out and back is no place for repeats and is passed over."""
    climbs = [ground for ground in found.grounds if ground.wanted.climbs]
    drag = step.ground.kind == "drag"
    rehearsed = nearest_ground(session, [g for g in climbs if (g.wanted.kind == "drag") == drag])
    own = _up_only(rehearsed.matches) if rehearsed is not None else []
    if rehearsed is not None and own and _shared(session, rehearsed) > 0:
        match = own[0]
        caveat = f"nothing here resembles {rehearsed.wanted.name} closely; this comes nearest"
        return Hill(match, match.dose, "" if match.resembles else caveat)
    every = [*found.hills, *(match for ground in climbs for match in _up_only(ground.matches))]
    if not every:
        return None
    grade = step.ground.grade
    if grade is None:
        return Hill(min(every, key=lambda match: _too_short(match, need_m, limits)), "", "")

    def misfit(match: Match) -> tuple[bool, bool, float]:
        apart = abs(match.local.grade - grade)
        return apart > limits.number("rehearse.same_grade"), _too_short(match, need_m, limits), apart

    best = min(every, key=misfit)
    dose = dose_words(best.local.grade - grade, limits).replace("the race", "asked for")
    return Hill(best, dose, "")


def nearest_ground(session: Session, grounds: Sequence[DemandGround]) -> DemandGround | None:
    """Of these the one that shares most with what the session rehearses, else the first; None without any."""
    return max(
        (ground for ground in grounds if ground.matches), key=lambda g: _shared(session, g), default=None
    )


def _shared(session: Session, ground: DemandGround) -> float:
    """Length that the session rehearses of this ground over the longer of the two; 0 where they are apart."""
    wanted = ground.wanted
    shares = [
        (min(end, wanted.end_m) - max(start, wanted.start_m)) / max(end - start, wanted.length_m)
        for start, end in session.rehearses_m
    ]
    return max([0.0, *shares])


def _up_only(matches: Sequence[Match]) -> list[Match]:
    return [match for match in matches if match.manner != "out and back"]


def _too_short(match: Match, need_m: float, limits: Limits) -> bool:
    return need_m > abs(match.to_m - match.from_m) * (1 + limits.number("rehearse.hill_end"))
