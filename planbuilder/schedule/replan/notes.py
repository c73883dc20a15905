"""What re-planning has to say beside the changes: about breaks, habits and health.

Receives: a ``Situation``, its breaks, the weeks as they will be.
Gives: notes for the runner, notes for the coach alone, and the sentence for the history.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

from planbuilder.plan.types import Week
from planbuilder.rules.context import is_training_run
from planbuilder.runner.types import Band, Paces
from planbuilder.schedule.replan.bounds import bad_pairs, gap_class
from planbuilder.schedule.replan.facts import DAY, Facts, Gap
from planbuilder.schedule.replan.pain import open_stop, to_ask_of
from planbuilder.schedule.replan.types import Replan, Situation
from planbuilder.schedule.types import Request
from planbuilder.settings.edit_models import Ill, Tired
from planbuilder.settings.notes import Note
from planbuilder.settings.session_models import BandName
from planbuilder.units import count_of, pace_band_mark, run_mark, say_date, say_time, say_weekday

MARATHON_FROM_M: Final = 30_000.0
TOLD_BANDS: Final[tuple[BandName, ...]] = ("easy", "threshold", "race effort")
NEWS: Final = 14 * DAY  # an illness that ended before is no news any more


def gap_notes(gaps: Sequence[Gap], situation: Situation, weeks: Sequence[Week]) -> Iterator[Note]:
    limits, race = situation.request.limits, situation.request.race
    window, long = (int(value) for value in limits.numbers("adapt.late_gap"))
    for gap in gaps:
        size = gap_class(gap.days, situation)
        if size < 1 or gap.first > situation.today:
            continue
        to_race = (race.date - gap.last).days
        if to_race <= 0:
            continue
        if to_race <= window:
            text = "So near to the race nothing is built again: the taper goes on as written"
            text += (
                ". Start only if you feel well, and run it for finishing well rather than for a time."
                if gap.days > long
                else ", and what was missed is simply left out."
            )
        elif size >= 4:
            text = (
                f"After {gap.days} days without running the block begins again from easy running. The race "
                f"on {say_date(race.date)} is for finishing well; a later date would leave room for a time."
            )
        elif size == 3:
            text = (
                f"After {gap.days} days without running the first weeks build back up, a phase behind where "
                "they stood. Expect a slower race than your results from before point to; a short test or a "
                f"tune-up race will say how much slower. {_cost(race.distance_m)}"
            )
        elif size == 2:
            text = (
                f"After {gap.days} days without running {_easier(situation)}, unless a test says otherwise. "
                f"{_cost(race.distance_m)}"
            )
        else:
            continue
        if size >= 3:
            longest = max(
                (
                    one.distance_m
                    for week in weeks
                    for one in week.sessions
                    if gap.last < one.date and is_training_run(one) and not one.cancelled
                ),
                default=0.0,
            )
            text += f" The longest run between now and then is {run_mark(longest)}."
        yield Note("adapt.late_gap" if to_race <= window else "adapt.gap_days", text, "caution")


def _easier(situation: Situation) -> str:
    """What to run the race by instead."""
    if situation.request.race_plan.for_finishing:
        return "run the race a notch easier than its plan says"
    return "take the second of your three race plans"


def _cost(race_distance_m: float) -> str:
    """What is known of the cost of a break of a week: a figure for the marathon alone."""
    known = (
        "Runners who stopped for a week or more in the 16 weeks before a marathon ran it 5 to 8 % slower "
        "than in their own build without a break (Feely et al. 2023)"
    )
    return (
        f"{known}."
        if race_distance_m > MARATHON_FROM_M
        else f"{known}; for this distance we know of no figure."
    )


def hard_going(situation: Situation, facts: Facts) -> Iterator[Note]:
    """Two sessions of a kind in a row that were harder than planned: what to ask, what it means."""
    for pair in bad_pairs(situation, facts):
        yield Note(
            "adapt.bad_session",
            f"{pair[-1].title} was harder than planned, or broken off, twice in a row. One bad day says "
            "nothing, two ask why: sleep, heat, food, a heavy week, something coming on? Paces stay as they "
            f"are; a short test or a tune-up race says whether they fit; until then {_easier(situation)}.",
            "caution",
        )


def often_missed(situation: Situation, facts: Facts, gaps: Sequence[Gap]) -> Iterator[Note]:
    times, days = (int(value) for value in situation.request.limits.numbers("adapt.often_missed"))
    since = situation.today - days * DAY
    missed = Counter(
        one.date.weekday()
        for one in facts.runs
        if since <= one.date < situation.today
        and facts.outcome(one) == "missed"
        and facts.done(one) is not None
        and not any(gap.first <= one.date <= gap.last and gap.days > 7 for gap in gaps)
    )
    for day, count in sorted(missed.items()):
        if count >= times:
            name = say_weekday(since + (day - since.weekday()) % 7 * DAY)
            yield Note(
                "adapt.often_missed",
                f"{name} did not fit {count_of(count, 'time')} in four weeks. That is the plan's fault: "
                f"shall we plan without a {name}?",
                "info",
            )


def health_notes(situation: Situation) -> Iterator[Note]:
    """For the coach alone: what was told, and whom to ask."""
    today = situation.today
    for line in situation.edits:
        edit = line.edit
        if isinstance(edit, Ill | Tired) and (edit.last_day or today) + NEWS < today:
            continue
        if isinstance(edit, Ill):
            until = f" to {edit.last_day}" if edit.last_day else ", not over yet"
            what = "Illness with fever or the like" if edit.fever else "A cold above the neck"
            text = (
                f"{what} from {edit.first_day}{until}. Chest pain, unusual breathlessness, palpitations or "
                "fainting during or after it: no running, and a doctor first."
            )
            yield Note("adapt.fever_free", text, "caution", private=True)
        elif isinstance(edit, Tired):
            text = f"Poor sleep or heavy legs from {edit.first_day}: ask how the next days go."
            yield Note("adapt.tired_days", text, "info", private=True)
    yield from _sore_notes(situation)
    if open_stop(situation) is not None:
        text = (
            "No running until a licensed practitioner has looked at it and the runner says so. Way back: 30 "
            "min of brisk walking without pain, walk and run every other day, 30 min in one piece, easy "
            "weeks, strides, flat work, uphill, and downhill last. Pain at one point of a bone, at night or "
            "on hopping: no running at all, and a doctor promptly."
        )
        yield Note("adapt.pain_days", text, "caution", private=True)


def _sore_notes(situation: Situation) -> Iterator[Note]:
    """Sore places of which the coach is to ask, and how the asking ends."""
    request, today = situation.request, situation.today
    days = int(request.limits.number("adapt.pain_days")) * DAY
    ease, no_run = request.limits.number("adapt.pain_ease"), request.limits.number("safety.pain_no_run")
    for report in to_ask_of(situation):
        place = report.place
        edit = f'planbuilder edit BLOCK niggle --runner "{request.runner.name}" --place {place}'
        last = report.until or report.date
        if (report.stop or report.pain >= no_run) and report.cleared is None:
            ask = (
                f"When a licensed practitioner has cleared the runner: {edit} --pain 0 --cleared YYYY-MM-DD."
            )
        elif report.lasting and report.pain > 0:
            ask = f"Ask after each run. When it is gone: {edit} --to YYYY-MM-DD."
        elif today <= last + (NEWS if report.pain >= ease else days):
            more = f", and once by {last + NEWS} whether it is gone" if report.pain >= ease else ""
            ask = f"Ask after each run until {last + days}{more}."
        else:
            continue
        yield Note(
            "adapt.pain_ease", f"{place}, {report.pain}/10 on {report.date}. {ask}", "caution", private=True
        )


def new_times(before: Request, after: Request) -> Iterator[str]:
    """What a result or a goal moves beside the sessions: prediction, plan A, pace bands; with unit marks."""
    was, now = before.race_plan, after.race_plan
    for what, old_s, new_s in (
        ("Predicted time on race day", was.goal.predicted_time_s, now.goal.predicted_time_s),
        ("Plan A", was.finish_time_s, now.finish_time_s),
    ):
        old, new = (say_time(one) if one is not None else "none" for one in (old_s, new_s))
        if old != new:
            yield f"{what}: {new}, before {old}."
    for name in TOLD_BANDS:
        old, new = (_band(one.paces.band(name)) for one in (before, after))
        if old != new:
            yield f"Pace, {name}: {new}, before {old}."
    if after.form.by_effort:
        yield "Sessions go by effort and hold no paces: results are too old, missing, or not to be compared."


def source_words(source: str, more: str, paces: Paces) -> str:
    """That paces come from another result, with the bands; from none any more where ``source`` is empty."""
    if not source:
        return "The result that paces came from is not told of any more, so sessions go by effort again."
    bands = ", ".join(f"{name} {_band(paces.band(name))}" for name in TOLD_BANDS)
    return " ".join(part for part in (f"{source}: {bands}.", more) if part)


def _band(band: Band) -> str:
    if band.fast_s_per_km is None or band.slow_s_per_km is None:
        return "by effort"
    return pace_band_mark(band.fast_s_per_km, band.slow_s_per_km)


def summary(answer: Replan) -> str:
    """What changes, in a sentence with unit marks, for the history."""
    before = sum(change.before.distance_m for change in answer.changes if change.before)
    after = sum(
        change.after.distance_m for change in answer.changes if change.after and not change.after.cancelled
    )
    reasons = dict.fromkeys(why.text for change in answer.changes for why in change.why)
    sessions = count_of(len(answer.changes), "session")
    return f"{sessions}, {run_mark(before)} to {run_mark(after)}: {' '.join(reasons)}"
