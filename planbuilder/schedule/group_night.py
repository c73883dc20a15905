"""A club night that a whole group runs: one start, one whistle, each runner's own repeats and pace.

Receives: what the night is, a ``Planner``.
Gives: a want and its draft, drawn out so that every runner's first repeat and every later one begin on the
same whistle; None for a runner who must not join in and runs easy with the group.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from planbuilder.demands.types import Demand
from planbuilder.plan.types import Phase, Reason, Session, Step
from planbuilder.plan.walk import measure
from planbuilder.rules.checks_load import run_time_cap_s
from planbuilder.rules.library import Library
from planbuilder.rules.night_row import FAMILIAR, is_easy_kind, rest_s, write_row
from planbuilder.rules.night_shape import lasts_s
from planbuilder.rules.orders import Draft, Order
from planbuilder.rules.parts import lasting
from planbuilder.rules.phases import Frame
from planbuilder.rules.terrain import matched_lengths
from planbuilder.rules.typed_night import TypedNight
from planbuilder.rules.write_session import why_not, write_session
from planbuilder.schedule.easy import EasyDay
from planbuilder.schedule.orders import base_order
from planbuilder.schedule.state import Planner
from planbuilder.schedule.types import Want
from planbuilder.schedule.wants import turns_for
from planbuilder.schedule.words import why_for
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import WEEKDAYS
from planbuilder.units import height_mark, run_mark, say_minutes

GROUP: Final = Reason(
    "rule", "The squad runs this night together: one whistle, your own pace.", "day.club_nights"
)
_OUT_OF_REACH: Final = "Only where the group's hill is out of reach:"
_ALL_IN: Final = "; then walk or stretch: all finish together at"
_GO_ON: Final = "; the rest alone: the group is in at"
_WAIT: Final = "jog easily until the last whistle, then cool down together"
_WAIT_TRIAL: Final = "jog easily until all are home, then cool down together"
MUCH_S: Final = 180.0  # before or after the group: worth saying


@dataclass(frozen=True, slots=True)
class Whistle:
    """When a group starts and stops, in seconds after the start of the night."""

    first_s: float  # the first stretch begins
    stretches: tuple[tuple[float, float], ...]  # of those who do most: work, recovery behind it
    cool_down_s: float

    @property
    def work_s(self) -> float:
        """The work of those who do most."""
        return sum(work for work, _ in self.stretches)

    @property
    def last_s(self) -> float:
        """The last stretch ends."""
        return self.first_s + lasts_s(self.stretches)

    @property
    def end_s(self) -> float:
        """The cool-down ends."""
        return self.last_s + self.cool_down_s


def runs_easily(night: TypedNight) -> bool:
    """Whether a night is an easy run for the whole group."""
    return is_easy_kind(night.template)


def nothing_is_new(planner: Planner, date: dt.date) -> bool:
    """Whether a date is so near to the race that no kind of hard session may be new."""
    context = planner.context
    return len(context.frames) > 3 and context.days_to_race(date) < context.limits.number("taper.nothing_new")


def group_reason(session: Session) -> bool:
    """Whether a session is the work of the group, and not an easy run or a session of one's own."""
    return GROUP in session.reasons


def whistle_of(night: TypedNight, limits: Limits) -> Whistle | None:
    """The whistle of a night; None where its kind leaves length and rest to each runner."""
    template = night.template
    first_s = limits.number("squad.warm_up") * 60
    cool_down_s = limits.number("squad.cool_down") * 60
    if night.row:
        return Whistle(first_s, tuple((one.seconds, one.rest_s) for one in night.row), cool_down_s)
    if template.shape == "continuous" and template.work_minutes is not None:
        return Whistle(first_s, ((template.work_minutes.club[1] * 60, 0.0),), cool_down_s)
    seconds, repeats = template.repeat_seconds, template.repeats
    if template.shape != "repeats" or seconds is None or repeats is None:
        return None
    repeat_s = seconds.club[1]
    if {*seconds.novice, *seconds.intermediate, *seconds.club} != {repeat_s}:
        return None
    one = (repeat_s + template.crest_seconds, rest_s(template, repeat_s))
    return Whistle(first_s, (one,) * int(repeats.club[1]), cool_down_s)


def group_want(planner: Planner, frame: Frame, date: dt.date) -> Want | None:
    """The group's session on a date as a want of this runner; None where the group runs easily."""
    night = planner.request.nights[date]
    if runs_easily(night) or not planner.context.allowed.anything_above_easy:
        return None
    demand = _answered(planner, frame, night)
    why = why_for(planner, night.base, frame.phase, demand)
    return Want(night.base, "club", why, demand, reasons=(GROUP,), fixed=date, night=night)


def _answered(planner: Planner, frame: Frame, night: TypedNight) -> Demand | None:
    """What of the course the night answers for this runner: climbs only where the repeats match them."""
    turns = (turn for turn in turns_for(planner, frame) if turn.kind == night.base)
    demand = next((turn.demand for turn in turns if turn.demand is not None), None)
    if night.row:
        return None
    if demand is None or night.template.ground != "up" or night.template.repeat_seconds is None:
        return demand
    lengths = matched_lengths(base_order(planner, frame.phase), demand, planner.context.limits)
    return demand if min(lengths) <= night.template.repeat_seconds.club[1] <= max(lengths) else None


def group_draft(
    planner: Planner,
    want: Want,
    phase: Phase,
    work_s: float,
    climb_m: float,
    run_cap_m: float,
    *,
    stays_m: float = math.inf,
) -> Draft | None:
    """The group's session at this runner's own dose, or None where even the smallest is too much.

    With fewer repeats than the group a runner jogs on to the last whistle if the night is no longer than
    ``stays_m`` then, and else is in sooner.
    """
    night, date = want.night, want.fixed
    if night is None or date is None:
        return None
    draft = _joined(planner, want, phase, work_s)
    if draft is not None and draft.climb_m > climb_m:
        draft = _joined(planner, want, phase, draft.work_s * climb_m / draft.climb_m)
    if draft is None:
        return None
    whistle = whistle_of(night, planner.context.limits)
    most_s = _longest_s(planner, date)
    for longest_s, most_m in ((math.inf, min(run_cap_m, stays_m)), (0.0, run_cap_m)):
        now = draft if whistle is None else _drawn_out(draft, whistle, planner, longest_s)
        fits = now.duration_s <= most_s and now.distance_m <= most_m
        if fits and now.work_s <= work_s + 1 and now.climb_m <= climb_m:
            return now
    return None


def _joined(planner: Planner, want: Want, phase: Phase, work_s: float) -> Draft | None:
    """As much of the night as this runner may do within so much work; None where that is too little.

    It is run on the group's ground; what could stand in for a hill near home is told beside it.
    """
    night, limits = want.night, planner.context.limits
    if night is None:
        return None
    order = replace(
        base_order(planner, phase),
        kind=night.template.name,
        demand=want.demand,
        work_limit_s=work_s,
        whistle=True,
        known=want.known,
    )
    library = planner.request.library
    draft = _own_part(replace(order, hills=True), night, library, limits)
    if draft is None or order.hills:
        return draft
    alone = _own_part(order, night, library, limits)
    if alone is None or any(step.kind == "work" and step.ground.kind == "flat" for step in alone.steps):
        return draft
    words = alone.substitute[:1].lower() + alone.substitute[1:]
    return replace(draft, substitute=f"{_OUT_OF_REACH} {words}") if words else draft


def out_of_reach(
    planner: Planner, want: Want, phase: Phase, work_s: float, climb_m: float, run_cap_m: float
) -> Reason | None:
    """What keeps a runner out whose week holds enough work: the ground, the climb, the length."""
    date = want.fixed
    draft = _joined(planner, want, phase, work_s)
    if date is None or draft is None:
        return Reason("considered", "it asks for what your plan leaves out for now.", "day.club_nights")
    if draft.climb_m > climb_m and group_draft(planner, want, phase, work_s, climb_m, float("inf")) is None:
        needs, left = height_mark(draft.climb_m), height_mark(climb_m)
        return Reason("considered", f"it climbs {needs}, and this week leaves {left}.", "load.climb_rise")
    most_s = _longest_s(planner, date)
    if draft.duration_s > most_s:
        text = f"it lasts {say_minutes(draft.duration_s)}, and you have {say_minutes(most_s)} that day."
        return Reason("considered", text, "day.club_nights")
    if draft.distance_m > run_cap_m:
        covers, left = run_mark(draft.distance_m), run_mark(run_cap_m)
        return Reason(
            "considered", f"it covers {covers}, and no run may pass {left} yet.", "load.single_run_cap"
        )
    return None


def _own_part(order: Order, night: TypedNight, library: Library, limits: Limits) -> Draft | None:
    """As much of the night as this runner may do; None where that is too little to join in."""
    fewest = limits.number("squad.fewest_repeats")
    if night.row:
        return write_row(order, night.row, library, limits, kind=night.base, fewest=fewest)
    library = library.with_kinds({night.template.name: night.template})
    order, library, base = _permitted(order, night, library)
    if base in ("", "easy_run", "group_easy"):
        return None
    draft = replace(write_session(order, library, limits), kind=base)
    whistle, main = whistle_of(night, limits), draft.main_set
    if whistle and main and main.repeats < fewest * len(whistle.stretches):
        return None
    return draft


def _permitted(order: Order, night: TypedNight, library: Library) -> tuple[Order, Library, str]:
    """The night, or the same repeats in the form that this runner may run; no name where there is none."""
    base = night.base
    for _ in range(4):
        known = order.known is None or base in order.known
        if known and not why_not(order, library):
            return order, library, base
        base = library.template(order.kind).instead
        if order.known is not None and base not in order.known:
            base = next((name for name in FAMILIAR if name in order.known), "")
        if not base or library.template(base).shape != "repeats" or night.template.repeats is None:
            return order, library, ""
        name = f"{night.template.name}_{base}"
        kept = ("repeats", "repeat_seconds", "work_minutes", "phases", "dose", "grows")
        shared = {field: getattr(night.template, field) for field in kept}
        seconds = night.template.repeat_seconds
        pause = rest_s(night.template, seconds.club[1]) if seconds is not None else 60.0
        stand_in = library.template(base).model_copy(
            update={**shared, "name": name, "recovery_seconds": (pause, pause), "recovery_share": None}
        )
        library = library.with_kinds({name: stand_in})
        order = replace(order, kind=name, demand=None)
    return order, library, ""


def until_the_end(planner: Planner, days: Sequence[EasyDay]) -> list[EasyDay]:
    """Nobody who runs easy with the group runs on after it."""
    found = []
    for day in days:
        night = planner.request.nights.get(day.date)
        together = night is not None and planner.context.club_on(day.date)
        ends_s = all_in_s(night, planner.context.limits) if night and together else None
        most = day.most_min if ends_s is None else min(day.most_min, int(ends_s // 300 * 5))
        found.append(replace(day, most_min=most))
    return found


def all_in_s(night: TypedNight, limits: Limits) -> float | None:
    """When a night ends for all, seconds after its start: behind the last whistle or the easy minutes.

    None where it leaves them to each runner.
    """
    minutes = night.template.minutes
    if runs_easily(night) and minutes is not None and len({*minutes.novice, *minutes.club}) == 1:
        return minutes.club[0] * 60
    whistle = whistle_of(night, limits)
    return None if whistle is None else whistle.end_s


def least_work_s(night: TypedNight, limits: Limits) -> float | None:
    """The work of the fewest repeats that a night is worth joining for; None without a whistle."""
    whistle = whistle_of(night, limits)
    if whistle is None:
        return None
    share, repeats = limits.number("squad.fewest_repeats"), len(whistle.stretches)
    if night.row:
        return share * whistle.work_s
    return math.ceil(max(1.0, share * repeats)) * whistle.stretches[0][0]


def with_the_end(draft: Draft, ends_s: float, ends: dt.time) -> Draft:
    """The same draft; whoever is done long before or after the group is told when it finishes."""
    early_s = ends_s - draft.duration_s
    if not draft.steps or abs(early_s) < MUCH_S:
        return draft
    last = draft.steps[-1]
    words = f"{last.words.rstrip('.')}{_ALL_IN if early_s > 0 else _GO_ON} {ends:%H:%M}"
    return replace(draft, steps=(*draft.steps[:-1], replace(last, words=words)))


def run_alone(session: Session) -> Session:
    """A club session on a day of one's own, without the group's end."""
    last = session.steps[-1]
    words = last.words.partition(_ALL_IN)[0].partition(_GO_ON)[0]
    steps = (*session.steps[:-1], replace(last, words=words))
    return replace(session, steps=steps, group_ends=None)


def _longest_s(planner: Planner, date: dt.date) -> float:
    """The longest session of that day, seconds."""
    most = planner.request.runner.minutes.get(WEEKDAYS[date.weekday()], float("inf"))
    return min(run_time_cap_s(planner.context), most * 60.0)


def _drawn_out(draft: Draft, whistle: Whistle, planner: Planner, longest_s: float) -> Draft:
    """The warm-up as long as the group's; those with fewer repeats jog on until all cool down together."""
    steps = draft.steps
    first = next(at for at, step in enumerate(steps) if step.kind == "work")
    last = max(at for at, step in enumerate(steps) if step.kind in ("work", "recovery"))
    least_s = planner.context.limits.number("session.warm_up") * 60
    before = _warm_up(steps[:first], whistle.first_s, least_s)
    main = steps[first : last + 1]
    after = steps[last + 1 :]
    main_s = measure(main, easy_s_per_km=planner.easy_s_per_km).duration_s
    wait_s = min(max(0.0, whistle.last_s - whistle.first_s - main_s), longest_s)
    if wait_s and after:
        jog = replace(
            after[0],
            kind="easy",
            duration_s=wait_s,
            words=_WAIT_TRIAL if any(step.distance_m for step in main) else _WAIT,
        )
        after = (jog, *after)
    if after and longest_s:
        after = (*after[:-1], lasting(after[-1], whistle.cool_down_s))
    whole = (*before, *main, *after)
    found = measure(whole, easy_s_per_km=planner.easy_s_per_km)
    return replace(
        draft,
        steps=whole,
        distance_m=round(found.distance_m, 1),
        duration_s=found.duration_s,
        work_s=found.work_s,
        hard_s=found.hard_s,
        climb_m=round(found.climb_m, 1),
    )


def _warm_up(steps: Sequence[Step], wanted_s: float, least_s: float) -> tuple[Step, ...]:
    """The same warm-up with as much easy running as fills it; without strides where they leave too little."""
    rest = [step for step in steps[1:] if step.kind == "drills"]
    for parts in (list(steps[1:]), rest, []):
        left_s = wanted_s - sum((step.duration_s or 0.0) * step.repeat for step in parts)
        if left_s >= least_s:
            return (lasting(steps[0], left_s), *parts)
    return tuple(steps)
