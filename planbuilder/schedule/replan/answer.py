"""Re-planning from today: what happened is answered, the past stays, the race stays, nothing is repaid.

Receives: a ``Situation``: the accepted plan, the log, the edits, today.
Gives: a ``Replan``: the weeks, every change with its reason, what could not be mended. Asked again with
nothing new, it changes nothing.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import replace

from planbuilder.plan.types import Session, Week
from planbuilder.rules.context import RuleContext, up_to_race
from planbuilder.schedule.block import make_schedule, planner_for
from planbuilder.schedule.notes import notes_of, race_advice
from planbuilder.schedule.refusals import injury_notes, refusals
from planbuilder.schedule.replan.apply import Applier
from planbuilder.schedule.replan.bounds import bounds_of, taper_from_m
from planbuilder.schedule.replan.cuts import Cuts
from planbuilder.schedule.replan.draft import PlanDraft
from planbuilder.schedule.replan.edits import apply_edits, held_ids
from planbuilder.schedule.replan.facts import DAY, Facts, Gap
from planbuilder.schedule.replan.held import held_days, stops_of
from planbuilder.schedule.replan.identity import keep_ids
from planbuilder.schedule.replan.lived import weeks_as_lived
from planbuilder.schedule.replan.nights import lay_nights
from planbuilder.schedule.replan.notes import (
    gap_notes,
    hard_going,
    health_notes,
    often_missed,
    source_words,
)
from planbuilder.schedule.replan.offers import offers, untimed
from planbuilder.schedule.replan.phases import drop_back
from planbuilder.schedule.replan.rules import Keeper, newly_broken
from planbuilder.schedule.replan.swaps import swaps
from planbuilder.schedule.replan.types import Bound, Replan, Situation, Why
from planbuilder.schedule.replan.write import Rewriter
from planbuilder.schedule.sessions import with_sessions
from planbuilder.schedule.state import Planner
from planbuilder.schedule.types import Request, Schedule
from planbuilder.settings.notes import Note

ROUNDS = 8
_RACE_STANDS = "Until a re-plan the weeks still hold the race and lead to it; it is not to be run."
FRESH_WHY = Why("The block was changed, so the days ahead were laid out anew.", "day.race_on_its_date")


def replan(situation: Situation) -> Replan:
    """The answer to everything that happened since the plan was accepted."""
    situation = _first_layout_kept(situation)
    request = situation.request
    planner = planner_of(request, situation.accepted, fresh=situation.fresh)
    base = _laid_out_anew(situation) if situation.fresh else situation.accepted
    if situation.fresh:
        situation = replace(situation, original=base)
    draft = PlanDraft(base, situation.today, held=held_ids(situation))
    write = Rewriter(planner)
    if not situation.fresh:
        _repace(situation, draft, write)
    laid = () if situation.fresh else _laid_nights(situation, draft, planner)
    edit_notes = apply_edits(situation, draft, planner)
    if situation.fresh and not _other_day(situation):
        _no_heavier(situation, Cuts(situation, draft, Facts(situation, draft.weeks), planner.context, write))
    for _ in range(ROUNDS):
        before = draft.weeks
        facts = Facts(situation, before)
        gaps = facts.gaps(stops_of(situation))
        cuts = Cuts(situation, draft, facts, _tapered(planner.context, situation, facts, gaps, before), write)
        bounds = _answer(cuts, gaps, before)
        if draft.weeks == before:
            break
    return Replan(
        weeks=draft.weeks,
        changes=draft.changes(situation.accepted, FRESH_WHY if situation.fresh else None),
        breaches=Keeper(cuts).breaches(),
        notes=(
            *edit_notes,
            *gap_notes(gaps, situation, draft.weeks),
            *often_missed(situation, facts, gaps),
            *hard_going(situation, facts),
        ),
        private_notes=tuple(health_notes(situation)),
        held=held_days(situation),
        offers=(*offers(cuts, bounds), *untimed(cuts), *swaps(cuts, bounds, planner)),
        laid=laid,
    )


def _laid_nights(situation: Situation, draft: PlanDraft, planner: Planner) -> tuple[Session, ...]:
    """Club nights that were told since, put into the draft; what they were before anything cuts them."""
    if not situation.nights:
        return ()
    facts = Facts(situation, draft.weeks)
    gaps = facts.gaps(stops_of(situation))
    context = _tapered(planner.context, situation, facts, gaps, draft.weeks)
    bounds_of(situation, facts, gaps, context, draft.weeks)  # the facts learn which weeks are light
    return lay_nights(Cuts(situation, draft, facts, context, Rewriter(planner)))


def edit_only(situation: Situation) -> Replan:
    """A person's word carried out and nothing else; ``breaches`` holds what it breaks that held before."""
    planner = planner_of(situation.request, situation.accepted)
    as_it_was = PlanDraft(situation.accepted, situation.today, held=frozenset())
    facts = Facts(situation, as_it_was.weeks)
    gaps = facts.gaps(stops_of(situation))
    context = _tapered(planner.context, situation, facts, gaps, as_it_was.weeks)
    before = Cuts(situation, as_it_was, facts, context, Rewriter(planner))
    draft = PlanDraft(situation.accepted, situation.today, held=frozenset())
    notes = apply_edits(situation, draft, planner)
    return Replan(
        weeks=draft.weeks,
        changes=draft.changes(situation.accepted, None),
        breaches=newly_broken(before, before.on(draft)),
        notes=notes,
        private_notes=(),
        held=situation.held,
    )


def _tapered(
    context: RuleContext, situation: Situation, facts: Facts, gaps: Sequence[Gap], weeks: Sequence[Week]
) -> RuleContext:
    """The rules' context with what the taper counts from after a long break."""
    return replace(context, taper_from_m=taper_from_m(situation, gaps, facts.as_run(weeks), context))


def _answer(cuts: Cuts, gaps: Sequence[Gap], weeks: Sequence[Week]) -> tuple[Bound, ...]:
    """One round: bounds, then rules. What it takes away may call for another; nothing is ever added."""
    situation, facts, apply = cuts.situation, cuts.facts, Applier(cuts)
    bounds = bounds_of(situation, facts, gaps, cuts.context, weeks)
    for bound in bounds:
        apply.bound(bound)
    drop_back(cuts, gaps)
    for extra_m, date, line in _extras(situation, facts):
        why = Why("More was run than planned, so this run is shorter.", "adapt.extra_run", (line,))
        cuts.shorten_after(extra_m, date, why)
    Keeper(cuts).keep_rules()
    return bounds


def planner_of(request: Request, weeks: Sequence[Week], *, fresh: bool = False) -> Planner:
    """A planner that has already written these weeks; ``fresh`` where those ahead are laid out anew."""
    planner = planner_for(request, leading=() if fresh else weeks)
    planner.weeks = list(up_to_race(weeks))
    return planner


def describe(situation: Situation) -> Schedule:
    """The accepted weeks, with what there is to say about them after what was run and what was missed."""
    request, weeks = situation.request, situation.accepted
    planner, before = planner_of(request, weeks), up_to_race(weeks)
    lived, laid_out = up_to_race(weeks_as_lived(situation)), up_to_race(situation.original)
    advice = race_advice(planner, lived=lived, laid_out=laid_out)
    refused = [*refusals(request, planner.context), *advice]
    if planner.context.race_stands:
        notes: tuple[Note, ...] = (Note("safety.minor", _RACE_STANDS, "caution"),)
    else:
        notes = notes_of(planner, before, lived=lived, today=situation.today)
    return Schedule(
        before,
        (*refused, *notes),
        tuple(injury_notes(request)),
        refused=any(note.kind == "refusal" for note in refused),
        after=tuple(weeks[len(before) :]),
        walks=any(note.kind == "refusal" for note in advice),
    )


# Laying out anew -----------------------------------------------------------------------------------------


def _first_layout_kept(situation: Situation) -> Situation:
    """The situation with the first day that was accepted: a block does not begin again."""
    first = situation.accepted[0].first_day if situation.accepted else situation.request.first_day
    if situation.request.first_day == first:
        return situation
    return replace(situation, request=replace(situation.request, first_day=first))


def _laid_out_anew(situation: Situation) -> tuple[Week, ...]:
    """A fresh schedule from today on behind the accepted past, its sessions under the ids they had."""
    fresh = make_schedule(situation.request).all_weeks
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
    races = [one.date for week in situation.accepted for one in week.sessions if one.role == "race"]
    return bool(races) and situation.request.race.date not in races


def _no_heavier(situation: Situation, cuts: Cuts) -> None:
    """On the same race day no week ahead holds more than the accepted one did."""
    why = Why("No week becomes heavier than it was.", "load.weekly_rise")
    for week in situation.accepted:
        if week.last_day >= situation.today:
            cuts.no_more(week, why)


def _repace(situation: Situation, draft: PlanDraft, write: Rewriter) -> None:
    last = situation.paced_until
    ahead = [one for one in draft.ahead() if last is None or one.date > last]
    if situation.new_source is not None:
        text = source_words(situation.new_source, situation.pace_why, situation.request.paces)
        why = Why(text, "runner.result_age", situation.pace_lines)
        for session in ahead:
            draft.put(write.in_bands(session, draft.phase(session.date), why), why)
        return
    if abs(situation.pace_ratio - 1) < 1e-6:
        return
    why = Why(situation.pace_why, "adapt.result_clear", situation.pace_lines)
    for session in ahead:
        draft.put(write.at_pace(session, situation.pace_ratio, why), why)


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
