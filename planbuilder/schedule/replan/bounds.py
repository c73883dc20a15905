"""What the coming days may hold after what happened: the trade's answers to missed days, illness, pain.

Receives: ``Facts`` and a ``Situation``.
Gives: ``Bound``s: how far, how hard, how long, from which day to which, and why. Each is made of facts and of
the plan as it was first laid out, so that asking twice gives the same answer.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from planbuilder.plan.types import Session, Week
from planbuilder.rules.checks_rhythm import way_back_cap
from planbuilder.rules.checks_trips import way_home_cap, way_home_long_cap, way_home_words
from planbuilder.rules.context import (
    RuleContext,
    away_days,
    in_load,
    is_loaded,
    is_training_run,
    top_rpe,
    up_to_race,
)
from planbuilder.rules.trips import WayHome, way_home
from planbuilder.schedule.replan.facts import DAY, Facts, Gap, last_day_ill, planned_m
from planbuilder.schedule.replan.held import light_days
from planbuilder.schedule.replan.pain import EASED, pain_bounds
from planbuilder.schedule.replan.types import Bound, Situation, Why
from planbuilder.settings.edit_models import AwayFromTraining, EasyDays, Ill, Tired
from planbuilder.settings.models import WEEKDAYS
from planbuilder.units import run_mark, say_date, say_minutes

LONG: Final = 3  # class of a break from two weeks on
BACK: Final = "The first days back are gentle, so that the habit returns before the load does"


def bounds_of(
    situation: Situation, facts: Facts, gaps: Sequence[Gap], context: RuleContext, weeks: Sequence[Week]
) -> tuple[Bound, ...]:
    """All bounds that still reach into the future, what matters most first."""
    found = [
        *pain_bounds(situation),
        *_illness(situation),
        *_tired(situation),
        *_rest(situation),
    ]
    found += [*_easy_days(situation), *_after_bad_sessions(situation, facts), *_after_race(situation, facts)]
    facts.light = (
        *((one.first, one.last) for one in light_days(situation)),
        *(window for gap in gaps for window in _held_back(gap, situation)),
    )
    facts.back = tuple(
        days for gap in gaps if gap_class(gap.days, situation) > 1 for days in return_days(gap, situation)
    )
    behind = list(_behind_little(situation, facts, gaps, context, weeks))
    facts.steps_back = {bound.first: bound.whole_m or 0.0 for bound in behind}
    as_run = facts.as_run(weeks)
    home = list(_way_home(situation, facts, as_run, context))
    # behind one week away the plan goes on from the load before, behind more from what was run since
    facts.steps_back |= {bound.first: bound.whole_m or 0.0 for step, bound in home if step.away == 1}
    found += [*behind, *(bound for _, bound in home), *_away(situation, as_run, context)]
    as_run = facts.as_run(weeks)
    for gap in gaps:
        found += _after_gap(gap, situation, as_run, context)
    found += [*_after_missed_long(situation, facts), *_short_sleep(situation, as_run, context)]
    ahead = [bound for bound in found if bound.last >= situation.today]
    return tuple(sorted(ahead, key=lambda bound: (bound.rank, bound.first, bound.last)))


# Breaks --------------------------------------------------------------------------------------------------


def gap_class(days: int, situation: Situation) -> int:
    """How a break is answered: -1 not at all, 0 for two days, up to 4 for four weeks."""
    steps = situation.request.limits.numbers("adapt.gap_days")
    return sum(days >= step for step in steps) - 1


def _after_gap(
    gap: Gap, situation: Situation, as_run: Sequence[Week], context: RuleContext
) -> Iterator[Bound]:
    limits = situation.request.limits
    size = gap_class(gap.days, situation)
    if size < 0 or (gap.cause == "away" and size < 2):
        return
    back = gap.last + DAY
    why = Why(f"{BACK}.", "adapt.return_easy_runs", gap.lines)
    easy_runs = int(limits.numbers("adapt.return_easy_runs")[size])
    yield Bound(back, back + 27 * DAY, why, easy_runs=easy_runs)
    if size == 0:
        if gap.cause in ("fever", "ill"):
            share = limits.number("adapt.less_work")
            less = Why(f"{share * 100:.0f} % of the planned work, this once.", "adapt.less_work", gap.lines)
            yield Bound(back, back + 13 * DAY, less, work_share=share)
        return
    if size == 1:
        week = Why("At most one hard session in the first week back.", "adapt.return_weeks", gap.lines)
        yield Bound(back, back + 6 * DAY, week, hard_most=0 if gap.cause == "fever" else 1)
    yield from _return_weeks(gap, situation, as_run, context)
    if size == 4:
        days = int(limits.number("adapt.return_no_hard"))
        text = f"After four weeks the block begins again with {days} days of easy running."
        yield Bound(back, back + (days - 1) * DAY, Why(text, "adapt.return_no_hard", gap.lines), no_hard=True)


def _held_back(gap: Gap, situation: Situation) -> Iterator[tuple[dt.date, dt.date]]:
    """The weeks after a short break: light ones, behind which the plan goes on from the load before.

    After two weeks and more they are no light weeks: what was run then is the load to grow from.
    """
    if gap_class(gap.days, situation) in (1, 2):
        table = situation.request.limits.table("adapt.return_weeks")
        steps = [int(step) for step in situation.request.limits.numbers("adapt.gap_days")]
        weeks = len(table[str(max(step for step in steps if step <= gap.days))])
        yield gap.last + DAY, gap.last + 7 * weeks * DAY


def _return_weeks(
    gap: Gap, situation: Situation, as_run: Sequence[Week], context: RuleContext
) -> Iterator[Bound]:
    limits = situation.request.limits
    steps = [int(step) for step in limits.numbers("adapt.gap_days")]
    key = str(max(step for step in steps if step <= gap.days))
    back, rule = gap.last + DAY, "adapt.return_weeks"
    level_m = last_loaded_m(as_run, gap.first, context)
    for number, share in enumerate(limits.table("adapt.return_weeks")[key]):
        first = back + 7 * number * DAY
        last = first + 6 * DAY
        if key == str(steps[1]):
            level_m = planned_m(situation.original, first, last)
            of = "of what was planned"
        else:
            of = f"of the {run_mark(level_m)} of the last full week"
        text = f"Week {number + 1} back holds at most {share * 100:.0f} % {of}."
        yield Bound(first, last, Why(text, rule, gap.lines), whole_m=share * level_m)
    if key in limits.table("adapt.return_long"):
        yield from _return_longs(gap, key, situation, as_run)


def _return_longs(gap: Gap, key: str, situation: Situation, as_run: Sequence[Week]) -> Iterator[Bound]:
    """A short first long run, the second a step longer, and easy runs that stay well below them."""
    limits, longest = situation.request.limits, _longest_before(as_run, gap.first)
    first_m = longest * float(limits.table("adapt.return_long")[key])
    new = gap.days >= int(limits.numbers("adapt.gap_days")[-1])
    text = "The long run begins shorter after a break and grows again from there."
    why = Why(text, "adapt.return_long", gap.lines)
    for number, step in enumerate((1.0, limits.number("load.single_run_cap"))):
        first = gap.last + (1 + 7 * number) * DAY
        yield Bound(
            first,
            first + 6 * DAY,
            why,
            long_m=first_m * step if longest else None,
            long_s=limits.number("adapt.return_first_long") * 60 if new else None,
        )
    beside = Why("After a break easy runs stay well below the long run.", "load.midweek_share", gap.lines)
    for first, last in return_days(gap, situation):
        yield Bound(first, last, beside, beside_long=True)


def return_days(gap: Gap, situation: Situation) -> list[tuple[dt.date, dt.date]]:
    """First and last days of the weeks in which the load comes back after a break."""
    limits = situation.request.limits
    steps = [int(step) for step in limits.numbers("adapt.gap_days")]
    table = limits.table("adapt.return_weeks")
    key = str(max((step for step in steps if step <= gap.days), default=0))
    weeks = range(len(table.get(key, ())))
    return [(gap.last + (1 + 7 * week) * DAY, gap.last + 7 * (week + 1) * DAY) for week in weeks]


def taper_from_m(
    situation: Situation, gaps: Sequence[Gap], as_run: Sequence[Week], context: RuleContext
) -> float:
    """Metres from which the taper counts after a break of two weeks or more whose way back leads into it.

    What the last week of the way back may hold, not what was run meanwhile: there is no fatigue to taper off.
    """
    limits, found = situation.request.limits, 0.0
    starts = min((week.first_day for week in situation.original if week.phase == "taper"), default=None)
    for gap in gaps:
        days = return_days(gap, situation)
        if gap_class(gap.days, situation) < LONG or starts is None or gap.last >= situation.request.race.date:
            continue
        loaded = int(limits.number("load.loaded_weeks"))  # of which the taper takes the mean
        if starts <= days[-1][1] + 7 * loaded * DAY and gap.first < starts:
            steps = [int(step) for step in limits.numbers("adapt.gap_days")]
            key = str(max(step for step in steps if step <= gap.days))
            share = float(limits.table("adapt.return_weeks")[key][-1])
            found = max(found, share * last_loaded_m(as_run, gap.first, context))
    return found


def _behind_little(
    situation: Situation, facts: Facts, gaps: Sequence[Gap], context: RuleContext, weeks: Sequence[Week]
) -> Iterator[Bound]:
    """Behind a week that held hardly any running the load comes back in a step; a break and days away have
    steps of their own."""
    as_run = up_to_race(facts.as_run(weeks))
    ends = [gap.last for gap in gaps if gap_class(gap.days, situation) > 1]
    for index, (before, week) in enumerate(pairwise(as_run), start=1):
        now = before.last_day < situation.today <= week.last_day
        if (
            not now
            or not in_load(week, context)
            or away_days(before, context)
            or any(before.first_day <= end for end in ends)
        ):
            continue
        cap_m = way_back_cap(as_run, index, context)
        if cap_m < math.inf:
            text = f"Last week held {run_mark(before.distance_m)}, so this one comes back in a step."
            yield Bound(week.first_day, week.last_day, Why(text, "load.way_back"), whole_m=cap_m)


def _way_home(
    situation: Situation, facts: Facts, as_run: Sequence[Week], context: RuleContext
) -> Iterator[tuple[WayHome, Bound]]:
    """The weeks on the way back from weeks away, where no break of two weeks has steps of its own."""
    lines = tuple(line.line for line in situation.edits if isinstance(line.edit, AwayFromTraining))
    weeks = up_to_race(as_run)
    for index, week in enumerate(weeks):
        step = way_home(week.first_day, context)
        broken = any(first <= week.last_day and week.first_day <= last for first, last in facts.back)
        if step is None or broken or not in_load(week, context):
            continue
        whole_m = way_home_cap(weeks, index, context)
        long_m = way_home_long_cap(weeks, index, context)
        why = Why(way_home_words(step, whole_m), "load.way_home", lines)
        long = None if long_m == math.inf else long_m
        yield step, Bound(week.first_day, week.last_day, why, whole_m=whole_m, long_m=long)


def last_loaded_m(as_run: Sequence[Week], before: dt.date, context: RuleContext) -> float:
    """Metres of the last loaded week that ended before a day; the intake where there is none."""
    loaded = [week for week in as_run if week.last_day < before and is_loaded(week, context)]
    return loaded[-1].distance_m if loaded else context.baseline.weekly_m


def _longest_before(as_run: Sequence[Week], before: dt.date) -> float:
    runs = [
        session.distance_m
        for week in as_run
        for session in week.sessions
        if before - 30 * DAY <= session.date < before and is_training_run(session) and not session.cancelled
    ]
    return max(runs, default=0.0)


def _after_missed_long(situation: Situation, facts: Facts) -> Iterator[Bound]:
    """A missed long run is not made up: the next one is no longer than it was."""
    longs = [session for session in facts.runs if session.role == "long"]
    for missed, following in pairwise(longs):
        if facts.outcome(missed) == "missed" and facts.outcome(following) == "ahead":
            line = facts.done(missed)
            why = Why(
                f"The long run of {say_date(missed.date)} was not run, so the next one is no longer than it "
                "was.",
                "load.single_run_cap",
                (line.line,) if line else (),
            )
            before = original_of(situation, missed)
            yield Bound(following.date, following.date, why, long_m=before.distance_m)


def original_of(situation: Situation, session: Session) -> Session:
    """The session as it was first laid out."""
    found = (one for week in situation.original for one in week.sessions if one.id == session.id)
    return next(found, session)


# Illness, nights -----------------------------------------------------------------------------------------


def _illness(situation: Situation) -> Iterator[Bound]:
    limits = situation.request.limits
    for line in situation.edits:
        edit = line.edit
        if not isinstance(edit, Ill):
            continue
        last = last_day_ill(edit, situation)
        why = Why(f"{EASED}.", "adapt.fever_free" if edit.fever else "adapt.sniffles_most", (line.line,))
        if not edit.fever:
            most_s = limits.number("adapt.sniffles_most") * 60
            yield Bound(edit.first_day, last, why, no_hard=True, run_s=most_s, health=True)
            continue
        free = last + int(limits.number("adapt.fever_free")) * DAY
        yield Bound(edit.first_day, free, why, no_running=True, health=True)
        days = min((last - edit.first_day).days + 1, int(limits.number("adapt.fever_easy_most")))
        first_s = limits.number("adapt.fever_first_run") * 60
        gentle = Why(f"{BACK}.", "adapt.fever_easy_most", (line.line,))
        yield Bound(free + DAY, free + days * DAY, gentle, no_hard=True, health=True)
        step_s, share = limits.number("adapt.back_step") * 60, limits.number("adapt.back_long")
        text = f"The first run back is {say_minutes(first_s)} at most, each one after it a little longer."
        short = Why(text, "adapt.back_step", (line.line,))
        yield Bound(free + DAY, free + days * DAY, short, first_run_s=first_s, run_step_s=step_s, health=True)
        text = f"The long run of the first week back holds {share * 100:.0f} % of what was planned, at most."
        half = Why(text, "adapt.back_long", (line.line,))
        yield Bound(free + DAY, free + 7 * DAY, half, long_share=share, health=True)
        wait, runs = (int(value) for value in limits.numbers("adapt.fever_hard"))
        hard = Why(
            f"The first hard session waits {wait} days and {runs} easy runs.", "adapt.fever_hard", why.lines
        )
        yield Bound(free + DAY, last + wait * DAY, hard, no_hard=True, health=True)
        yield Bound(free + DAY, free + 27 * DAY, hard, easy_runs=runs, health=True)


def _tired(situation: Situation) -> Iterator[Bound]:
    days = int(situation.request.limits.number("adapt.tired_days"))
    for line in situation.edits:
        edit = line.edit
        if not isinstance(edit, Tired):
            continue
        last = edit.last_day or edit.first_day
        nights = (last - edit.first_day).days + 1
        why = Why(
            "Easy today; what you have built does not go away in a day or two.",
            "adapt.tired_days",
            (line.line,),
        )
        end = last + (days - 1) * DAY if nights > 1 or edit.worn else last
        yield Bound(edit.first_day, end, why, no_hard=True, health=True)


def _short_sleep(situation: Situation, as_run: Sequence[Week], context: RuleContext) -> Iterator[Bound]:
    """After two weeks of short nights no week holds more than the last full one, for two weeks."""
    days, hours = situation.request.limits.numbers("adapt.short_sleep")
    for line in situation.edits:
        edit = line.edit
        if not isinstance(edit, Tired) or edit.hours is None or edit.last_day is None:
            continue
        if (edit.last_day - edit.first_day).days + 1 < days or edit.hours >= hours:
            continue
        level_m = last_loaded_m(as_run, min(edit.last_day + DAY, situation.today), context)
        why = Why(
            f"The distance holds at the {run_mark(level_m)} of the last full week for now.",
            "adapt.short_sleep",
            (line.line,),
        )
        end = edit.last_day + int(days) * DAY
        for week in situation.accepted:
            if week.first_day <= end and week.last_day > edit.last_day:
                yield Bound(week.first_day, week.last_day, why, whole_m=level_m)


def _easy_days(situation: Situation) -> Iterator[Bound]:
    for line in situation.edits:
        edit = line.edit
        if isinstance(edit, EasyDays):
            why = Why("Easy on these days, as you wished.", "edits", (line.line,))
            yield Bound(edit.first_day, edit.last_day or edit.first_day, why, no_hard=True)


def _after_bad_sessions(situation: Situation, facts: Facts) -> Iterator[Bound]:
    """Two of a kind in a row that were much harder than planned, or broken off: some easy days."""
    days = int(situation.request.limits.number("adapt.result_rest"))
    for pair in bad_pairs(situation, facts):
        last = pair[-1]
        lines = tuple(done.line for one in pair if (done := facts.done(one)) is not None)
        why = Why(
            "Two sessions of a kind in a row were harder than planned or broken off, the last on "
            f"{say_date(last.date)}: some easy days first.",
            "adapt.bad_session",
            lines,
        )
        yield Bound(last.date + DAY, last.date + days * DAY, why, no_hard=True)


def bad_pairs(situation: Situation, facts: Facts) -> list[tuple[Session, Session]]:
    """The last two sessions of each hard kind, where both went badly."""
    more, top = situation.request.limits.numbers("adapt.bad_session")
    by_kind: dict[str, list[Session]] = {}
    for session in facts.runs:
        hard = session.hard and session.role not in ("race", "tune_up")
        if hard and facts.done(session) is not None and facts.outcome(session) != "missed":
            by_kind.setdefault(session.kind, []).append(session)

    def bad(session: Session) -> bool:
        done, planned = facts.done(session), top_rpe(session)
        if facts.outcome(session) == "part":
            return True
        if done is None or done.effort_rpe is None:
            return False
        return done.effort_rpe > planned and done.effort_rpe >= min(planned + more, top)

    pairs = [(one[-2], one[-1]) for one in by_kind.values() if len(one) > 1]
    return [pair for pair in pairs if all(map(bad, pair))]


def _after_race(situation: Situation, facts: Facts) -> Iterator[Bound]:
    """After a race that took much longer than predicted the first easy run is left out."""
    day = situation.request.race.date
    race = next((one for one in facts.runs if one.role == "race" and one.date == day), None)
    slowest_s = situation.request.race_plan.goal.predicted_high_s
    done = facts.done(race) if race is not None else None
    if race is None or done is None or done.went == "missed" or done.duration_s is None or not slowest_s:
        return
    if done.duration_s <= slowest_s * (1 + situation.request.limits.number("adapt.after_slow")):
        return
    first = min((one.date for one in facts.runs if one.role == "after"), default=None)
    if first is not None:
        why = Why("A long hard day: a few days more of rest first.", "adapt.after_slow", (done.line,))
        yield Bound(first, first, why, no_running=True)


def _away(situation: Situation, as_run: Sequence[Week], context: RuleContext) -> Iterator[Bound]:
    """Days away week by week, as in a plan that knew of them: short runs, one of enough of them longer."""
    number, numbers = situation.request.limits.number, situation.request.limits.numbers
    short_s, (longer_from, longest_min) = numbers("load.away_run")[0] * 60, numbers("load.away_long")
    for line in situation.edits:
        edit = line.edit
        if not isinstance(edit, AwayFromTraining):
            continue
        for week in situation.accepted:
            first, last = max(edit.first_day, week.first_day), min(edit.last_day, week.last_day)
            if first > last:
                continue
            long_s = None
            if edit.runs >= longer_from and _all_inside(week, first, last, context):
                share = number("load.recovery_long")
                long_s = min(longest_min * 60, share * _last_long_s(as_run, edit.first_day, context))
            longer = ", one longer" if long_s is not None else ""
            text = f"Away: a few short runs keep the habit, one of them with some effort{longer}."
            why = Why(text, "load.away_run", (line.line,))
            yield Bound(first, last, why, runs_a_week=edit.runs, run_s=short_s, long_s=long_s)


def _all_inside(week: Week, first: dt.date, last: dt.date, context: RuleContext) -> bool:
    """Whether all running days of a week lie from one day to another."""
    days = [week.first_day + day * DAY for day in range((week.last_day - week.first_day).days + 1)]
    return all(first <= day <= last for day in days if WEEKDAYS[day.weekday()] in context.running_days)


def _last_long_s(as_run: Sequence[Week], before: dt.date, context: RuleContext) -> float:
    """The long run of the last loaded week that ended before a day; no end where there is none."""
    loaded = [week for week in as_run if week.last_day < before and is_loaded(week, context)]
    longs = [one.duration_s for week in loaded for one in week.sessions if one.role == "long"]
    return longs[-1] if longs else math.inf


def _rest(situation: Situation) -> Iterator[Bound]:
    """Easy days after a clearly slower result."""
    if situation.rest_from is None:
        return
    days = int(situation.request.limits.number("adapt.result_rest"))
    why = Why("Some easy days after the race.", "adapt.result_rest", situation.pace_lines)
    yield Bound(situation.rest_from, situation.rest_from + (days - 1) * DAY, why, no_hard=True)
