"""What the plan says no to, before anything is planned: kindly, in the first line, with what can be done.

Receives: a ``Request`` and the rules' context.
Gives: notes of kind "refusal" and "caution", the private ones for the coach, and whether finish-well mode
holds.
"""

from __future__ import annotations

import datetime as dt

from planbuilder.rules.context import Baseline, RuleContext
from planbuilder.rules.phases import whole_weeks
from planbuilder.rules.safety import (
    BRAKE_PLACES,
    PUSH_PLACES,
    days_with,
    eased,
    flagged,
    screening_open,
    stops_running,
)
from planbuilder.runner.volume import trusted_volume
from planbuilder.schedule.types import Request
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Injury
from planbuilder.settings.notes import Note
from planbuilder.units import count_of, run_mark, say_date

SHORT_OF_ENTRY = 0.75  # below this share of the entry training there is no time goal
ASK = "If in doubt, ask a doctor, physiotherapist or other licensed practitioner."


def runway(request: Request, baseline: Baseline) -> tuple[int, float, float]:
    """Fewest weeks for a time goal, and the training they start from: metres a week, longest run in
    metres."""
    table = request.limits.table("phase.runway")
    key = next(
        (key for key in sorted(table, key=float) if request.race.distance_m <= float(key) * 1.02), None
    )
    weeks, weekly_m, longest_m = table[key or max(table, key=float)]
    fit = request.limits.numbers("phase.runway_fit_marathon")
    if request.race.distance_m > 30_000 and baseline.weekly_m >= fit[1] and baseline.longest_m >= fit[2]:
        weeks = fit[0]
    return int(weeks), float(weekly_m), float(longest_m)


def finish_well(request: Request, baseline: Baseline) -> bool:
    """Whether training is for finishing well: too few weeks, or training too far below where the block
    begins."""
    weeks, weekly_m, longest_m = runway(request, baseline)
    return (
        whole_weeks(request.first_day, request.race.date) < weeks
        or baseline.weekly_m < weekly_m * SHORT_OF_ENTRY
        or baseline.longest_m < longest_m * SHORT_OF_ENTRY
    )


def no_time_goal(request: Request, baseline: Baseline) -> bool:
    """Whether the race is for finishing well too: of training that nobody told of this is not judged."""
    weeks, weekly_m, longest_m = runway(request, baseline)
    told = trusted_volume(request.runner, request.limits)
    return (
        whole_weeks(request.first_day, request.race.date) < weeks
        or (told.weekly_given and baseline.weekly_m < weekly_m * SHORT_OF_ENTRY)
        or (told.longest_given and baseline.longest_m < longest_m * SHORT_OF_ENTRY)
    )


def refusals(request: Request, context: RuleContext) -> list[Note]:
    """Everything refused, the most important first."""
    allowed, runner = context.allowed, request.runner
    found: list[Note] = []
    if not allowed.block:
        return [_no_block(request)]
    if not allowed.race_distance:
        found.append(Note("safety.minor_distance", _too_young(request), "refusal"))
    if not allowed.run:
        found.append(
            Note(
                "safety.no_running",
                "No running is planned for now. Other exercise keeps the habit until a licensed practitioner "
                "has cleared running; then the plan is made anew.",
                "refusal",
            )
        )
    if not allowed.screened:
        found.append(_screening(runner.screening))
    if context.races:
        found += _runway_notes(request, context)
    goal = request.race_plan.goal
    if goal.verdict == "not this block" and not context.finish_well:
        found.append(Note("race.goal", f"{goal.sentence} Training goes by today's form.", "refusal"))
    return found


def _no_block(request: Request) -> Note:
    """No weeks at all, and what there is to do instead: common practice, no source."""
    youngest = f"{request.limits.number('safety.youngest'):.0f}"
    text = (
        f"No block is planned below the age of {youngest}. For now: the club nights with your coach, another "
        "sport you like beside them, and the short race for your age that the organiser may have that day. "
        f"Come back at {youngest}."
    )
    return Note("safety.youngest", text, "refusal")


def _too_young(request: Request) -> str:
    """Why this race is left out: by the organiser's youngest age, or by the usual limit of distance."""
    age, race = request.runner.age, request.race
    most = request.limits.table("safety.minor_distance").get(str(age), 0)
    check = "Check the rule that holds where you race; the stricter one wins."
    if race.distance_m <= most + 1.0 or not most:
        return (
            f"The organiser's youngest age for this race is {race.minimum_age}, and you are {age}: the race "
            f"is left out. Ask the organiser for a race that is open at your age. {check}"
        )
    return (
        f"At {age} the usual limit for a race is {run_mark(most)}, and this one is "
        f"{run_mark(race.distance_m)}: the race is left out. A race of up to {run_mark(most)} would fit. "
        f"{check}"
    )


def _screening(answer: str | None) -> Note:
    if answer == "needed":
        text = (
            "Only easy running is planned until a professional has cleared harder work; tell your coach when "
            "that is done."
        )
    else:
        text = (
            "Only easy running is planned: the health questions are unanswered (active now, known heart, "
            "metabolic or kidney disease, signs such as chest discomfort). Tell your coach that you have "
            "answered them, or ask a professional first."
        )
    return Note("safety.screening", text, "refusal")


def _runway_notes(request: Request, context: RuleContext) -> list[Note]:
    weeks, weekly_m, longest_m = runway(request, context.baseline)
    have = whole_weeks(request.first_day, request.race.date)
    base = context.baseline
    if have < weeks:
        return [
            Note(
                "phase.runway",
                f"{have} weeks are too few for a time goal over {run_mark(request.race.distance_m)}; "
                f"{weeks} are "
                "the least. This plan is for finishing well: the usual rises, one hard session a week at "
                "most. "
                "A shorter race that day, or this distance at a later date, would leave room for a time.",
                "refusal",
            )
        ]
    if base.weekly_m >= weekly_m and base.longest_m >= longest_m:
        return []
    numbers = (
        f"A block for this distance begins at about {run_mark(weekly_m)} a week with a run of "
        f"{run_mark(longest_m)}; you are at {run_mark(base.weekly_m)} with {run_mark(base.longest_m)}."
    )
    if context.finish_well and not context.no_time_goal:
        return [
            Note(
                "phase.runway",
                f"{numbers} That is only assumed, so the weeks begin with care, one hard session at most: "
                "tell your coach how far you run in a week, and how far your longest run was.",
                "refusal",
            )
        ]
    if context.finish_well:
        return [
            Note(
                "phase.runway",
                f"{numbers} This plan is for finishing well, without a time goal; a shorter race or a later "
                "date would leave room for one.",
                "refusal",
            )
        ]
    return [Note("phase.runway", f"{numbers} The first weeks build up to that.", "caution")]


def injury_notes(request: Request) -> list[Note]:
    """For the coach only: what to type after the health questions, and what a sore place leaves out."""
    found = []
    if screening_open(request.runner, request.training):
        word = "cleared" if request.runner.screening == "needed" else "passed"
        text = f'Only easy running until this is settled; then write screening = "{word}" for this runner.'
        found.append(Note("safety.screening", text, "caution", private=True))
    for injury in request.runner.injuries:
        if not flagged(injury):
            continue
        text = _injury_text(injury, request.limits, request.first_day)
        found.append(Note("safety.sore_place", text, "caution", private=True))
    return found


def _injury_text(injury: Injury, limits: Limits, first_day: dt.date) -> str:
    since = f" since {say_date(injury.since)}" if injury.since else ""
    where = f"{injury.place.capitalize()}, {injury.pain}/10{since}"
    if stops_running(injury, limits, first_day):
        days = days_with(injury, first_day) if not stops_running(injury, limits, None) else None
        lasting = f", because it lasts: {count_of(days, 'day')} when the block begins" if days else ""
        return (
            f"{where}: no running{lasting}. Way back, once a licensed practitioner has cleared it: "
            "30 min of brisk walking without pain, then walk and run every other day, then 30 min in one "
            "piece, easy weeks, strides, "
            f"flat work, uphill, and downhill last. {ASK}"
        )
    if injury.place in PUSH_PLACES:
        gone, back = (
            "hills of any kind, strides, repetitions, hops and all-out tests",
            "uphill at the base dose",
        )
    elif injury.place in BRAKE_PLACES:
        gone, back = "descents", "relaxed strides on a gentle slope down"
    else:
        gone, back = "hills, descents, strides and all-out tests", "strides, then flat work, then hills"
    hard = (
        " No hard running while it is 3 or more."
        if injury.pain >= limits.number("safety.pain_no_hard")
        else ""
    )
    if eased(injury, limits):
        share = limits.number("adapt.pain_volume") * 100
        hard += f" The first week holds {share:.0f} % of the usual distance, and no week more than before."
    return (
        f"{where}: {gone} are left out.{hard} Ask again every week. Way back: after 14 days at 0 to 1, "
        f"{back}; "
        f"5 or more, a limp or a sore bone means no running and a licensed practitioner. {ASK}"
    )
