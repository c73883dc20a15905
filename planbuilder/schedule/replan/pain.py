"""What a sore place asks of the coming days: by the 0-10 ladder, what provokes it first.

Receives: a ``Situation``.
Gives: every pain that was told of, and the ``Bound``s that answer it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from planbuilder.plan.types import Session, Week
from planbuilder.rules.context import is_training_run
from planbuilder.rules.safety import BOTH_PLACES, BRAKE_PLACES, PUSH_PLACES
from planbuilder.schedule.replan.facts import DAY, planned_m
from planbuilder.schedule.replan.types import Bound, EditLine, Situation, Why
from planbuilder.settings.edit_models import Niggle
from planbuilder.settings.models import Place

EASED: Final = "Easier for now, after what you told your coach"


@dataclass(frozen=True, slots=True)
class Report:
    """A pain that was told of, in the log or in an edit."""

    date: dt.date
    place: Place
    pain: int
    line: str
    stop: bool  # limping, or bone
    until: dt.date | None = None
    cleared: dt.date | None = None

    @property
    def lasting(self) -> bool:
        """Whether it is a niggle that is felt until its end is told; a line of the log is of one run."""
        return self.until is None and self.line.startswith("edit/")


def reports_of(situation: Situation) -> list[Report]:
    """Every pain that was told of, by date."""
    found = [
        Report(line.date, line.place or "other", line.pain, line.line, stop=line.place == "bone")
        for line in situation.log
        if line.pain is not None
    ]
    found += [_report(line) for line in situation.edits if isinstance(line.edit, Niggle)]
    return sorted(found, key=lambda report: (report.date, report.line))


def _report(line: EditLine) -> Report:
    edit = line.edit
    assert isinstance(edit, Niggle)
    return Report(
        edit.first_day,
        edit.place,
        edit.pain,
        line.line,
        stop=edit.limping or edit.place == "bone",
        until=edit.last_day,
        cleared=edit.cleared,
    )


def pain_bounds(situation: Situation) -> Iterator[Bound]:
    """Place by place: what the latest report asks for."""
    for place, reports in _by_place(situation).items():
        yield from _pain_at(place, reports, situation)


def _by_place(situation: Situation) -> dict[Place, list[Report]]:
    found: dict[Place, list[Report]] = {}
    for report in reports_of(situation):
        found.setdefault(report.place, []).append(report)
    return found


def _pain_at(place: Place, reports: Sequence[Report], situation: Situation) -> Iterator[Bound]:
    limits = situation.request.limits
    days, ease = int(limits.number("adapt.pain_days")), limits.number("adapt.pain_ease")
    for number, report in enumerate(reports):
        later = reports[number + 1].date if number + 1 < len(reports) else None
        if report.cleared is not None and report.pain < ease:
            continue
        still_open = later is None and report.lasting
        last = max(report.date, situation.today if still_open else report.date) + (days - 1) * DAY
        if report.until is not None:
            last = max(last, report.until)
        so_far = reports[: number + 1]
        by_then = _stops(report, so_far, situation, until=report.date)
        if by_then or (still_open and _stops(report, so_far, situation, until=situation.today)):
            told = report if by_then else replace(report, date=situation.today)  # until then it was run
            yield _stop(told, later, situation)
            yield _after_stop(told, later, situation)
            continue
        rising = _rising(so_far, int(limits.number("adapt.pain_rising")))
        if report.pain < ease and not rising:
            continue
        why = Why(f"{EASED}.", "adapt.pain_ease", (report.line,))
        push = place in PUSH_PLACES or place in BOTH_PLACES
        brake = place in BRAKE_PLACES or place in BOTH_PLACES
        share = limits.number("adapt.pain_volume")
        yield Bound(
            report.date,
            last,
            why,
            no_up=push,
            no_fast=push,
            no_down=brake,
            no_hard=report.pain >= limits.number("safety.pain_no_hard"),
            health=True,
        )
        long_m = max(
            (
                one.distance_m
                for week in situation.original
                for one in week.sessions
                if one.role == "long" and report.date <= one.date <= last
            ),
            default=0.0,
        )
        yield Bound(
            report.date,
            last,
            why,
            whole_m=share * planned_m(situation.original, report.date, last),
            long_m=share * long_m if long_m else None,
        )


def _stop(report: Report, later: dt.date | None, situation: Situation) -> Bound:
    """No running for a week from the report, and from every day on which it is still open."""
    days = int(situation.request.limits.number("adapt.pain_days"))
    why = Why(
        "No running for now; your coach will ask you again before the next run.",
        "adapt.pain_days",
        (report.line,),
    )
    last = max(report.date, situation.today) + (days - 1) * DAY
    if later is not None:
        last = max(report.date, later - DAY)
    if report.cleared is not None:
        last = report.cleared - DAY
    return Bound(report.date, last, why, no_running=True, cross=True, health=True)


def _after_stop(report: Report, later: dt.date | None, situation: Situation) -> Bound:
    """Behind the stop what provokes the place comes back last."""
    stop = _stop(report, later, situation)
    days = int(situation.request.limits.number("adapt.pain_return"))
    push = report.place in PUSH_PLACES or report.place in BOTH_PLACES
    brake = report.place in BRAKE_PLACES or report.place in BOTH_PLACES
    why = Why(
        "Level, easy ground first; hills and quick running come back last.",
        "adapt.pain_return",
        stop.why.lines,
    )
    return Bound(
        stop.last + DAY,
        stop.last + days * DAY,
        why,
        no_up=push or not brake,
        no_fast=push or not brake,
        no_down=brake or not push,
        health=True,
    )


def _stops(report: Report, so_far: Sequence[Report], situation: Situation, *, until: dt.date) -> bool:
    """Whether a pain asks for a stop: by its number, or because it lasts; ``until`` it was felt."""
    limits = situation.request.limits
    if report.stop or report.pain >= limits.number("safety.pain_no_run"):
        return True
    ease, days = limits.number("adapt.pain_ease"), int(limits.number("adapt.pain_days"))
    since = report.date
    for earlier in reversed(so_far):
        if earlier.pain < ease:
            break
        since = earlier.date
    return report.pain >= ease and (until - since).days > days


def uncleared_since(situation: Situation) -> dt.date | None:
    """The day from which running waits for a clearance, where a pain asks for one and none was told.

    A stop that was re-planned takes a week out at a time; silence is no clearance, so what stands behind it
    waits.
    """
    waits = (_uncleared(reports, situation) for reports in _by_place(situation).values())
    return min((report.date for report in waits if report is not None), default=None)


def to_ask_of(situation: Situation) -> Iterator[Report]:
    """Of every sore place the report to ask about: the stop that is not cleared, else what was told last."""
    for reports in _by_place(situation).values():
        yield _uncleared(reports, situation) or reports[-1]


def _uncleared(reports: Sequence[Report], situation: Situation) -> Report | None:
    """The last report of a place that asks for a stop behind which no clearance, and no end, was told.

    A smaller pain told later is neither.
    """
    ends = [day for one in reports for day in (one.cleared, one.until) if day is not None]
    over, found = max(ends, default=dt.date.min), None
    for number, report in enumerate(reports, start=1):
        felt = situation.today if report.lasting and number == len(reports) else report.date
        if report.date > over and _stops(report, reports[:number], situation, until=felt):
            found = report
    return found


def ask_first(weeks: Sequence[Week], since: dt.date) -> tuple[Week, ...]:
    """The weeks with every training run from a day on marked as one to ask about before it is run."""

    def marked(session: Session) -> Session:
        if session.date <= since or session.cancelled or not is_training_run(session):
            return session
        return replace(
            session,
            title=f"Ask first: {session.title[:1].lower()}{session.title[1:]}",
            caution=f"Ask your coach before you run this. {session.caution}".strip(),
            private_note=session.private_note or "Waits until the runner is cleared.",
        )

    return tuple(replace(week, sessions=tuple(map(marked, week.sessions))) for week in weeks)


def _rising(reports: Sequence[Report], runs: int) -> bool:
    last = [report.pain for report in reports[-runs:]]
    return len(last) == runs and last[0] > 0 and all(a < b for a, b in pairwise(last))


def open_stop(situation: Situation) -> Bound | None:
    """The pain that allows no running today, where there is one."""
    return next(
        (
            bound
            for bound in pain_bounds(situation)
            if bound.no_running and bound.first <= situation.today <= bound.last
        ),
        None,
    )
