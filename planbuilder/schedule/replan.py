"""Re-planning from today: what happened is answered, the past stays, the race stays, nothing is repaid.

Receives: a ``Situation``: the accepted plan, the log, the edits, today.
Gives: a ``Replan``: the weeks, every change with its reason, what could not be mended. Asked again with
nothing new, it changes nothing.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from planbuilder.plan.types import Week
from planbuilder.rules.context import is_training_run
from planbuilder.rules.tune_ups import no_hard_days, plan_tune_ups
from planbuilder.schedule.block import make_schedule, rule_context
from planbuilder.schedule.notes import notes_of, race_advice
from planbuilder.schedule.refusals import injury_notes, refusals
from planbuilder.schedule.replan_apply import Applier
from planbuilder.schedule.replan_bounds import bounds_of, gap_class, open_stop, reports_of
from planbuilder.schedule.replan_cuts import Cuts
from planbuilder.schedule.replan_draft import PlanDraft, with_sessions
from planbuilder.schedule.replan_edits import apply_edits, held_ids
from planbuilder.schedule.replan_facts import DAY, Facts, Gap
from planbuilder.schedule.replan_identity import keep_ids
from planbuilder.schedule.replan_rules import Keeper
from planbuilder.schedule.replan_types import Replan, Situation, Why
from planbuilder.schedule.replan_write import Rewriter
from planbuilder.schedule.state import Planner
from planbuilder.schedule.types import Request, Schedule
from planbuilder.settings.edit_models import Ill, Tired
from planbuilder.settings.notes import Note
from planbuilder.units import run_mark, say_date, say_weekday

ROUNDS = 8
FRESH_WHY = Why("The block was changed, so the days ahead were laid out anew.", "day.race_on_its_date")


def replan(situation: Situation) -> Replan:
    """The answer to everything that happened since the plan was accepted."""
    situation = _first_layout_kept(situation)
    request = situation.request
    planner = planner_of(request, situation.accepted)
    base = _laid_out_anew(situation) if situation.fresh else situation.accepted
    if situation.fresh:
        situation = replace(situation, original=base)
    draft = PlanDraft(base, situation.today, held=held_ids(situation))
    write = Rewriter(planner)
    if not situation.fresh:
        _repace(situation, draft, write)
    edit_notes = apply_edits(situation, draft, planner)
    if situation.fresh and not _other_day(situation):
        _no_heavier(situation, Cuts(situation, draft, Facts(situation, draft.weeks), planner.context, write))
    for _ in range(ROUNDS):
        before = draft.weeks
        facts = Facts(situation, before)
        cuts = Cuts(situation, draft, facts, planner.context, write)
        gaps = _answer(cuts, before)
        if draft.weeks == before:
            break
    return Replan(
        weeks=draft.weeks,
        changes=draft.changes(situation.accepted, FRESH_WHY if situation.fresh else None),
        breaches=Keeper(cuts).breaches(),
        notes=(
            *edit_notes,
            *_gap_notes(gaps, situation, draft.weeks),
            *_often_missed(situation, facts, gaps),
        ),
        private_notes=tuple(_health_notes(situation)),
    )


def edit_only(situation: Situation) -> Replan:
    """A person's word carried out and nothing else; ``breaches`` holds what it breaks that held before."""
    planner = planner_of(situation.request, situation.accepted)
    write = Rewriter(planner)
    found = []
    draft = PlanDraft(situation.accepted, situation.today, held=frozenset())
    notes: tuple[Note, ...] = ()
    for edited in (False, True):
        if edited:
            notes = apply_edits(situation, draft, planner)
        facts = Facts(situation, draft.weeks)
        found.append(Keeper(Cuts(situation, draft, facts, planner.context, write)).breaches())
    before = {one.text for one in found[0]}
    return Replan(
        weeks=draft.weeks,
        changes=draft.changes(situation.accepted, None),
        breaches=tuple(one for one in found[1] if one.text not in before),
        notes=notes,
        private_notes=(),
    )


def _answer(cuts: Cuts, weeks: Sequence[Week]) -> tuple[Gap, ...]:
    """One round: bounds, then rules. What it takes away may call for another; nothing is ever added."""
    situation, facts, apply = cuts.situation, cuts.facts, Applier(cuts)
    bounds = bounds_of(situation, facts, cuts.context, weeks)
    for bound in bounds:
        apply.bound(bound)
    for extra_m, date, line in _extras(situation, facts):
        why = Why("More was run than planned, so this run is shorter.", "adapt.extra_run", (line,))
        cuts.shorten_after(extra_m, date, why)
    Keeper(cuts).keep_rules()
    return facts.gaps(Gap(one.first, one.last, "sore", one.why.lines) for one in bounds if one.no_running)


def planner_of(request: Request, weeks: Sequence[Week]) -> Planner:
    """A planner that has already written these weeks."""
    context = rule_context(request)
    tune_ups = plan_tune_ups(context)
    planner = Planner(
        request=request, context=context, tune_ups=tune_ups, no_hard=no_hard_days(context, tune_ups)
    )
    planner.weeks = list(weeks)
    return planner


def describe(request: Request, weeks: Sequence[Week]) -> Schedule:
    """Weeks that were accepted, with what there is to say about them."""
    planner = planner_of(request, weeks)
    refused = [*refusals(request, planner.context), *race_advice(planner)]
    return Schedule(
        tuple(weeks),
        (*refused, *notes_of(planner, tuple(weeks))),
        tuple(injury_notes(request)),
        refused=any(note.kind == "refusal" for note in refused),
    )


# Laying out anew -----------------------------------------------------------------------------------------


def _first_layout_kept(situation: Situation) -> Situation:
    """The situation with the first day that was accepted: a block does not begin again."""
    first = situation.accepted[0].first_day
    if situation.request.first_day == first:
        return situation
    return replace(situation, request=replace(situation.request, first_day=first))


def _laid_out_anew(situation: Situation) -> tuple[Week, ...]:
    """A fresh schedule from today on behind the accepted past, its sessions under the ids they had."""
    fresh = make_schedule(situation.request).weeks
    today = situation.today
    past = {week.first_day: week for week in situation.accepted}
    ahead = [one for week in fresh for one in week.sessions if one.date >= today]
    before = [one for week in situation.accepted for one in week.sessions if one.date >= today]
    used = {*situation.used_ids, *(one.id for week in situation.accepted for one in week.sessions)}
    named = {
        (one.date, one.role, one.start_time, old.id): one
        for old, one in zip(ahead, keep_ids(before, ahead, used), strict=True)
    }
    weeks = []
    for week in fresh:
        accepted = past.get(week.first_day)
        if accepted is not None and week.last_day < today:
            weeks.append(accepted)
            continue
        kept = tuple(one for one in accepted.sessions if one.date < today) if accepted else ()
        new = tuple(
            named[one.date, one.role, one.start_time, one.id] for one in week.sessions if one.date >= today
        )
        weeks.append(with_sessions(week, (*kept, *new)))
    return tuple(weeks)


def _other_day(situation: Situation) -> bool:
    race = next((one for week in situation.accepted for one in week.sessions if one.role == "race"), None)
    return race is not None and race.date != situation.request.race.date


def _no_heavier(situation: Situation, cuts: Cuts) -> None:
    """On the same race day no week ahead holds more than the accepted one did."""
    why = Why("No week becomes heavier than it was.", "load.weekly_rise")
    for week in situation.accepted:
        if week.last_day >= situation.today:
            cuts.no_more(week, why)


def _repace(situation: Situation, draft: PlanDraft, write: Rewriter) -> None:
    if abs(situation.pace_ratio - 1) < 1e-6:
        return
    why = Why(situation.pace_why, "adapt.result_clear", situation.pace_lines)
    for session in list(draft.ahead()):
        draft.put(write.at_pace(session, situation.pace_ratio, why), why)


# What there is to say ------------------------------------------------------------------------------------


def _extras(situation: Situation, facts: Facts) -> Iterator[tuple[float, dt.date, str]]:
    """What was run beyond the plan in the last week: metres, day, line."""
    least = situation.request.limits.number("adapt.extra_run")
    easy = situation.request.paces.easy_s_per_km
    since = situation.today - 7 * DAY
    for line in facts.extra:
        metres = line.distance_m or (line.duration_s or 0.0) / easy * 1000
        if since <= line.date < situation.today and metres >= least:
            yield metres, line.date, line.line
    for session in facts.runs:
        done = facts.done(session)
        more = facts.run_m(session) - session.distance_m
        if done and since <= session.date < situation.today and more >= least and session.role != "tune_up":
            yield more, session.date, done.line


def _gap_notes(gaps: Sequence[Gap], situation: Situation, weeks: Sequence[Week]) -> Iterator[Note]:
    limits, race = situation.request.limits, situation.request.race
    window, long = (int(value) for value in limits.numbers("adapt.late_gap"))
    for gap in gaps:
        size = gap_class(gap.days, situation)
        if size < 1 or gap.first > situation.today:
            continue
        to_race = (race.date - gap.last).days
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
                "on "
                f"{say_date(race.date)} is for finishing well; a later date would leave room for a time."
            )
        elif size == 3:
            text = (
                f"After {gap.days} days without running the first weeks build back up. A short test or a "
                "tune-up race will say whether the goal still fits; until then take the second of your three "
                "race plans."
            )
        elif size == 2:
            text = (
                f"After {gap.days} days without running take the second of your three race plans, unless a "
                "test says otherwise: runners who stopped for a week or more before a marathon ran 5 to 8 % "
                "slower than in a build without a break (Feely et al. 2023)."
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


def _often_missed(situation: Situation, facts: Facts, gaps: Sequence[Gap]) -> Iterator[Note]:
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
                f"{name} did not fit {count} times in four weeks. That is the plan's fault: shall we plan "
                f"without a {name}?",
                "info",
            )


def _health_notes(situation: Situation) -> Iterator[Note]:
    """For the coach alone: what was told, and whom to ask."""
    today = situation.today
    for line in situation.edits:
        edit = line.edit
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
    latest = {report.place: report for report in reports_of(situation)}
    for place, report in latest.items():
        old = (today - report.date).days > int(situation.request.limits.number("adapt.pain_days"))
        if old and report.cleared is None and not report.stop and report.pain < 3:
            continue
        yield Note("adapt.pain_ease", f"{place}, {report.pain}/10 on {report.date}. Ask after each run.",
                   "caution", private=True)  # fmt: skip
    if open_stop(situation) is not None:
        text = (
            "No running until a licensed practitioner has looked at it and the runner says so. Way back: 30 "
            "min of brisk walking without pain, walk and run every other day, 30 min in one piece, easy "
            "weeks, strides, flat work, uphill, and downhill last. Pain at one point of a bone, at night or "
            "on hopping: no running at all, and a doctor promptly."
        )
        yield Note("adapt.pain_days", text, "caution", private=True)


def summary(answer: Replan) -> str:
    """What changes, in a sentence with unit marks, for the history."""
    before = sum(change.before.distance_m for change in answer.changes if change.before)
    after = sum(
        change.after.distance_m for change in answer.changes if change.after and not change.after.cancelled
    )
    reasons = dict.fromkeys(why.text for change in answer.changes for why in change.why)
    return f"{len(answer.changes)} sessions, {run_mark(before)} to {run_mark(after)}: {' '.join(reasons)}"
