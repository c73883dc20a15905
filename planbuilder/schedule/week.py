"""One week: what it should hold, placed, filled up and checked; the best legal one is kept.

Receives: a ``Planner`` with the weeks before, the plan of long runs and descents.
Gives: the week, to be tried or to be kept. Limits are never broken; sessions that do not fit are softened,
moved or dropped.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from planbuilder.plan.types import Week
from planbuilder.rules import Breach, week_findings
from planbuilder.rules.checks_load import longest_before
from planbuilder.rules.phases import Frame
from planbuilder.schedule.attempts import Attempt, BlockPlan, attempts
from planbuilder.schedule.course_work import long_date
from planbuilder.schedule.days import LAST_DAYS, Board, Placement, placements, typed_next
from planbuilder.schedule.filled import filled_weeks, purpose_of, races_of
from planbuilder.schedule.load import LIGHT, Target, target_for
from planbuilder.schedule.reasons import explained
from planbuilder.schedule.sessions import week_of
from planbuilder.schedule.state import Planner

TRIES: Final = 3
MORE_TRIES: Final = 8  # weeks looked at in the hope of one that needs no exception


@dataclass(frozen=True, slots=True)
class FoundWeek:
    """The best week that was found, not yet kept."""

    week: Week  # without the reasons that only readers need
    target: Target
    excepted: tuple[Breach, ...]  # exceptions that limits allowed


def find_week(planner: Planner, block: BlockPlan) -> FoundWeek:
    """The week that comes next; the planner may be asked again."""
    index = len(planner.weeks)
    frame, kind = planner.context.frames[index], block.kinds[index]
    recovery = kind in LIGHT
    purpose = purpose_of(planner, frame, kind)
    shell = week_of(frame, (), recovery=recovery, purpose=purpose)
    if kind == "tune_up":
        shell = replace(shell, sessions=tuple(races_of(planner, frame)))
    shells = [*planner.weeks, shell]
    days = {long_date(planner, frame), *frame.days[-1:]}  # a run may drop out of the 30 days in between
    longest_m = min(longest_before(shells, index, planner.context, day) for day in days)
    target = target_for(planner, shells, index, block.kinds, longest_m)
    if planner.context.days_to_race(long_date(planner, frame)) < LAST_DAYS:
        target = replace(target, long_s=0.0)
    board = board_of(planner, frame)
    if block.kinds[index + 1 : index + 2] == ("loaded",):
        board = replace(board, coming=typed_next(planner, frame))
    best: tuple[tuple[int, int], Week, list[Breach]] | None = None
    tried = 0
    for attempt, ways in _ways(planner, board, attempts(planner, frame, index, block, target, board)):
        for week in filled_weeks(planner, frame, board, attempt, ways, target, recovery, purpose):
            found = list(week_findings([*planner.weeks, week], index, planner.context))
            broken = sum(not one.excepted for one in found)
            rank = (broken, len(found) - broken)
            if best is None or rank < best[0]:
                best = (rank, week, found)
            tried += best[0][0] == 0
            if rank == (0, 0) or tried > MORE_TRIES:
                break
        if best is not None and (best[0] == (0, 0) or tried > MORE_TRIES):
            break
    assert best is not None
    return FoundWeek(best[1], target, tuple(one for one in best[2] if one.excepted))


def keep_week(planner: Planner, found: FoundWeek) -> None:
    """The week stands, and says why it is as it is."""
    planner.excepted += found.excepted
    planner.add(explained(planner, found.week, found.target))


def _ways(
    planner: Planner, board: Board, attempts: Iterable[Attempt]
) -> Iterator[tuple[Attempt, Sequence[Placement]]]:
    """All attempts with the long run on its own day, the fullest first; then with the long run moved.

    A week of easy runs alone comes last.
    """
    moved: list[tuple[Attempt, Sequence[Placement]]] = []
    bare: list[tuple[Attempt, Sequence[Placement]]] = []
    for attempt in attempts:
        ways = placements(planner, board, attempt.pieces())
        if not attempt.written:
            bare.append((attempt, ways[:TRIES]))
            continue
        kept = [way for way in ways if way.keeps_long_day][:TRIES]
        if kept and not any(way.rested for way in kept):  # the coach's line comes before the chosen day
            kept = [*[way for way in ways if way.rested][:1], *kept]
        yield attempt, sorted(kept, key=lambda way: not way.rested)
        moved.append((attempt, [way for way in ways if not way.keeps_long_day][:TRIES]))
    yield from moved
    yield from bare


def board_of(planner: Planner, frame: Frame) -> Board:
    """The days of a week and what stands around them."""
    context = planner.context
    race_day = context.race.date
    races = {race.date for race in context.tune_ups} | ({race_day} if context.races else set())
    open_days = [
        day
        for day in frame.days
        if context.runs_on(day)
        and day not in races
        and (day < race_day or (day > race_day and not context.races))
    ]
    open_days = _with_trips(planner, frame, open_days)
    club = frozenset(day for day in open_days if context.club_on(day))
    before = planner.weeks[-1].sessions if planner.weeks else ()
    return Board(tuple(open_days), club, frozenset(races), before, planner.no_hard)


def _with_trips(planner: Planner, frame: Frame, days: Sequence[dt.date]) -> list[dt.date]:
    """Of the days away only as many as the runner said, spread out."""
    away = [day for day in days if day in planner.context.away]
    if not away:
        return list(days)
    most = max(
        trip.runs
        for trip in planner.request.runner.away
        if trip.first_day <= frame.last_day and trip.last_day >= frame.first_day
    )
    step = max(1, round(len(away) / most)) if most else 1
    kept = away[::step][:most]
    return [day for day in days if day not in away or day in kept]
