"""What a week should hold besides easy running: the choice of its key sessions.

Receives: a ``Planner``, the week, how many hard sessions it may hold.
Gives: wants in the order in which they would be kept; kinds that have waited longest for their turn come
first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from planbuilder.demands.types import Demand
from planbuilder.plan.types import Reason
from planbuilder.plan.walk import grade_factor
from planbuilder.rules.phases import Frame
from planbuilder.rules.ruled_out import left_out
from planbuilder.schedule.course_work import climb_demand
from planbuilder.schedule.state import FLAT_RHYTHM, Planner
from planbuilder.schedule.types import Want
from planbuilder.schedule.words import why_for
from planbuilder.units import count_of


@dataclass(frozen=True, slots=True)
class Turn:
    """A kind of key session and how often its turn comes."""

    kind: str
    every_days: float
    demand: Demand | None = None
    second: Demand | None = None


FIRST_REPS: Final = 2  # sessions of long hill repeats before the first circuit
HILL_KINDS: Final = (
    *("short_hill_reps", "long_hill_reps", "hill_circuit", "uphill_tempo", "threshold_on_grade"),
    "drag_session",
)


def turns_for(planner: Planner, frame: Frame) -> list[Turn]:
    """The kinds of key session that this phase, this race and this course ask for."""
    if frame.phase == "base":
        found = _base(planner)
    elif frame.phase == "build":
        found = _build(planner)
    else:
        found = _specific(planner)
    library = planner.request.library
    return [turn for turn in found if turn.kind in library and _suits(planner, frame, turn.kind)]


def _suits(planner: Planner, frame: Frame, kind: str) -> bool:
    allowed, context = planner.context.allowed, planner.context
    if kind in HILL_KINDS and not planner.can_climb:
        return False
    if kind == "threshold_on_grade" and not planner.can_descend:
        return False
    if left_out(planner.request.library.template(kind), context.on_the_day(frame.first_day)):
        return False
    return allowed.fast or kind not in ("intervals", "repetitions")


def _short(planner: Planner) -> bool:
    return planner.context.race.distance_m < 16_000


def _marathon(planner: Planner) -> bool:
    return planner.context.race.distance_m > 30_000


def _hilly(planner: Planner) -> bool:
    return planner.request.demands.course_class in ("hilly", "very hilly")


def _base(planner: Planner) -> list[Turn]:
    found = [Turn("threshold_repeats", 10), Turn("fartlek", 17)]
    demands = planner.request.demands
    if demands.course_class != "flat" or demands.decisive is not None:
        found.append(Turn("short_hill_reps", 10))
    else:
        found.append(Turn("short_hill_reps", 24))
    if _short(planner):
        found.append(Turn("repetitions", 18))
    if planner.context.hard_limit >= 2:
        found.append(Turn("threshold_run", 14))
    return found


def _build(planner: Planner) -> list[Turn]:
    demands, climb = planner.request.demands, climb_demand(planner)
    found = [Turn("threshold_repeats", 12), Turn("threshold_run", 14)]
    found.append(Turn("intervals", 9 if _short(planner) else 18 if not _marathon(planner) else 24))
    if climb is not None:
        found.append(Turn("long_hill_reps", 8 if _hilly(planner) else 11, climb))
    if demands.has("finish_drag") or (climb is not None and climb.length_m >= 1200):
        found.append(Turn("uphill_tempo", 20, demands.first("finish_drag") or climb))
    if demands.has("rolling"):
        found += _circuits(planner, 21)
        if not demands.has("late_climb"):  # it climbs little: climbs that decide would not grow behind it
            found.append(Turn("threshold_on_grade", 14, demands.first("rolling")))
    if demands.course_class == "flat" and climb is None:
        found.append(Turn("short_hill_reps", 28))
    return found


def _specific(planner: Planner) -> list[Turn]:
    demands, climb = planner.request.demands, climb_demand(planner)
    flat = demands.first("long_flat")
    found = [Turn("goal_repeats", 8 if _short(planner) else 9, flat), Turn("threshold_repeats", 18)]
    found.append(Turn("intervals", 8 if _short(planner) else 21))
    if climb is not None:
        found.append(Turn("long_hill_reps", 10 if _hilly(planner) else 13, climb))
    if demands.has("finish_drag"):
        found.append(Turn("drag_session", 13, demands.first("finish_drag")))
    if demands.has("rolling"):
        found += _circuits(planner, 17)
    return found


def _circuits(planner: Planner, every_days: float) -> list[Turn]:
    """Hill circuits of a rolling course: behind two sessions on the climb that decides, and over one like it
    where a loop can hold it."""
    rolls, climb = planner.request.demands.first("rolling"), climb_demand(planner)
    template = planner.request.library.template("hill_circuit")
    if climb is None or climb.kind != "late_climb" or template.repeat_seconds is None:
        return [Turn("hill_circuit", every_days, rolls)]
    if planner.count.get("long_hill_reps", 0) < FIRST_REPS:  # so that the climbing of the weeks grows first
        return []
    least_s = planner.context.limits.numbers("session.match_share")[0]
    pace = planner.request.race_plan.goal.race_flat_s_per_km or planner.easy_s_per_km
    longest_s = template.repeat_seconds.of(planner.request.level)[1]
    fits = least_s * climb.length_m / 1000 * pace * grade_factor(climb.grade) <= longest_s
    return [Turn("hill_circuit", every_days, climb if fits else rolls, rolls if fits else None)]


def choose(
    planner: Planner,
    frame: Frame,
    count: int,
    *,
    taken: tuple[str, ...] = (),
    known_only: bool = False,
    flat_first: bool = False,
    course_taken: bool = False,
    long_on_course: bool = False,
) -> list[Want]:
    """The ``count`` kinds that are most overdue; a flat rhythm session where a fortnight would pass
    without."""
    monday = frame.first_day
    chosen = [
        _like_the_course(planner, frame, turn)
        for turn in _longest_waiting_first(planner, frame)
        if turn.kind not in taken
        and (turn.kind in planner.count or not (known_only and planner.count))
        and not (course_taken and turn.kind in HILL_KINDS)  # one hard session on the ground of the course
    ]
    picked: list[Turn] = []
    if frame.phase in ("build", "specific") and count > 0:
        hills = planner.days_since(HILL_KINDS, monday)
        weekly = frame.phase == "specific" and (_hilly(planner) or not long_on_course)
        due = hills is None or hills >= (4 if weekly else 8)
        up = []
        if climb_demand(planner) is not None and due and not flat_first:
            up = [turn for turn in chosen if turn.kind in HILL_KINDS][:1]
        flat = planner.days_since_flat(monday)
        if flat is None or flat >= 7 or flat_first:
            level = [turn for turn in chosen if turn.kind in FLAT_RHYTHM]
            if count > 1 + len(up):  # what rolls may stand beside it
                level = [turn for turn in level if not _rolls(turn.demand)]
            picked += [replace(turn, demand=None) if _rolls(turn.demand) else turn for turn in level[:1]]
        picked += up
    for turn in chosen:
        if len(picked) >= count:
            break
        same_family = any(_family(turn.kind) == _family(other.kind) for other in picked)
        if not same_family:
            picked.append(turn)
    chosen = picked[:count]
    if course_taken or any(turn.kind in HILL_KINDS for turn in chosen):
        return [
            _want(planner, frame, turn)
            if turn.kind in HILL_KINDS
            else replace(_want(planner, frame, replace(turn, demand=None)), spare=turn.demand)
            for turn in chosen
        ]
    return [_want(planner, frame, turn) for turn in chosen]


def _rolls(demand: Demand | None) -> bool:
    return demand is not None and demand.kind == "rolling"


def _like_the_course(planner: Planner, frame: Frame, turn: Turn) -> Turn:
    """Before a race that rolls, every second session of race effort rolls too; the others keep the rhythm."""
    rolls = planner.request.demands.first("rolling")
    if turn.kind != "goal_repeats" or turn.demand is not None or frame.phase != "specific":
        return turn
    flat_now = planner.count.get(turn.kind, 0) % 2 == 1 or not (planner.can_climb and planner.can_descend)
    return turn if flat_now else replace(turn, demand=rolls)


def _longest_waiting_first(planner: Planner, frame: Frame) -> list[Turn]:
    """The turns of the phase, the most overdue one first."""

    def waited(turn: Turn) -> float:
        since = planner.days_since((turn.kind,), frame.first_day)
        days = turn.every_days * 1.15 + 3 if since is None else since + 3.0
        return days / turn.every_days

    return sorted(turns_for(planner, frame), key=lambda turn: -waited(turn))


def stand_ins(
    planner: Planner, want: Want, frame: Frame, others: set[str], *, known_only: bool
) -> list[Want]:
    """What stands in for a key session that does not fit: the flat kind that waited longest, then threshold.

    ``others`` are the kinds that the week holds already.
    """
    flat = [turn for turn in _longest_waiting_first(planner, frame) if turn.kind in FLAT_RHYTHM]
    if known_only:
        flat = [turn for turn in flat if turn.kind in planner.count]
    kinds = {turn.kind for turn in flat}
    plain = [Turn(kind, 0.0) for kind in ("threshold_repeats", "fartlek") if kind not in kinds]
    hilly = bool(others & {*HILL_KINDS, "controlled_downhill", "downhill_start"})
    found = []
    if want.kind == "downhill_start":
        found.append(measured_descents(planner, want, frame))
    if (level := on_the_level(planner, want, frame)) is not want:
        found.append(level)
    for turn in (*flat, *plain):
        if turn.kind != want.kind and turn.kind not in others:
            demand = None if hilly else turn.demand
            why = why_for(planner, turn.kind, frame.phase, demand)
            spare = turn.demand if hilly else None
            now = replace(want, kind=turn.kind, demand=demand, second=turn.second, why=why, spare=spare)
            found.append(now)
    return found


def measured_descents(planner: Planner, want: Want, frame: Frame) -> Want:
    """Controlled descents where a rehearsal of the start downhill cannot stand."""
    why = why_for(planner, "controlled_downhill", frame.phase, want.demand)
    return replace(want, kind="controlled_downhill", why=why)


def on_the_level(planner: Planner, want: Want, frame: Frame) -> Want:
    """Race effort on rolling ground becomes the same on level ground; anything else stays."""
    if want.kind != "goal_repeats" or not _rolls(want.demand):
        return want
    return replace(want, demand=None, why=why_for(planner, want.kind, frame.phase))


def _family(kind: str) -> str:
    if kind in HILL_KINDS:
        return "hills"
    return "threshold" if kind.startswith("threshold") else kind


def _want(planner: Planner, frame: Frame, turn: Turn) -> Want:
    since = planner.days_since((turn.kind,), frame.first_day)
    waited = "it has not come yet" if since is None else f"the last one was {count_of(since, 'day')} ago"
    reason = Reason(
        "considered", f"Its turn comes about every {turn.every_days:.0f} days in this phase; {waited}."
    )
    return Want(
        turn.kind,
        "key",
        why_for(planner, turn.kind, frame.phase, turn.demand),
        turn.demand,
        turn.second,
        (reason,),
    )


def key_count(planner: Planner, frame: Frame, hard_most: int, *, long_hard: bool) -> int:
    """How many key sessions a loaded week asks for besides its long run."""
    context = planner.context
    if hard_most <= 0:
        return 0
    left = hard_most - long_hard
    if frame.phase == "base":
        nights = sum(map(context.club_on, frame.days))
        used_to = round(context.baseline.work_s / 60 / 18) if context.baseline.work_s else 0
        return max(0, min(left, max(1, min(used_to, max(nights, 1) + 1))))
    usual = 2 if context.hard_limit >= 2 else 1
    if len(context.running_days) >= 6 and context.level == "advanced" and not _marathon(planner):
        usual = 3 if frame.phase == "build" else 2
    return max(0, min(left, usual))
