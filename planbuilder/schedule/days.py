"""Days: a search for the best legal week.

Receives: the sessions a week should hold, the days there are, what stands on the days around.
Gives: placements, best first. Every placement keeps the limits on spacing; wishes only cost.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from planbuilder.plan.types import Session
from planbuilder.plan.walk import HARD_DESCENT_S
from planbuilder.rules.checks_days import LONG_GAP_KINDS
from planbuilder.rules.checks_taper import touch_days
from planbuilder.rules.context import is_easy, is_run
from planbuilder.rules.orders import Draft
from planbuilder.rules.phases import Frame
from planbuilder.rules.typed_night import TypedNight
from planbuilder.schedule.state import FLAT_RHYTHM, Planner
from planbuilder.settings.models import WEEKDAYS

DAY: Final = dt.timedelta(days=1)
LAST_DAYS: Final = 6  # so many days before the race hold no long run and no key session but a short touch
LONG_DAY_COST: Final = 10.0
OFF_CLUB_COST: Final = 2.0
CROWDED_COST: Final = 1.0
MOVED_COST: Final = 0.4
LATE_FLAT_COST: Final = 1.5  # a flat session later than a fortnight after the last


@dataclass(frozen=True, slots=True)
class Piece:
    """A session that needs a good day."""

    draft: Draft
    long: bool
    fixed: dt.date | None = None  # a club night of a given kind
    test: bool = False  # wants legs without a hard long run in them

    @property
    def heavy(self) -> bool:
        """Whether the next hard session waits three days."""
        draft = self.draft
        return draft.hard and (draft.kind in LONG_GAP_KINDS or draft.descent_work_s >= HARD_DESCENT_S)


@dataclass(frozen=True, slots=True)
class Board:
    """The days of a week and what stands around them."""

    open_days: tuple[dt.date, ...]  # runs may stand here
    club: frozenset[dt.date]
    races: frozenset[dt.date]  # raced or easy tune-ups, the race
    before: tuple[Session, ...]  # sessions of the week before, by date
    no_hard: frozenset[dt.date]
    coming: tuple[dt.date, ...] = ()  # club nights of the next week on which the coach has the group work


@dataclass(frozen=True, slots=True)
class Placement:
    """A day for every piece, in their order."""

    dates: tuple[dt.date, ...]
    cost: float
    keeps_long_day: bool  # or has no long run
    rested: bool  # for the nights that the coach typed for the next week, the long run a day off at most


def placements(planner: Planner, board: Board, pieces: Sequence[Piece]) -> list[Placement]:
    """Every legal way to place the pieces, best first."""
    preferred = planner.request.runner.long_run_day
    found = [
        Placement(
            dates,
            _cost(planner, board, pieces, dates),
            all(
                WEEKDAYS[date.weekday()] == preferred or not piece.long
                for piece, date in zip(pieces, dates, strict=True)
            ),
            _rested_for_the_group(planner, board, pieces, dates),
        )
        for dates in _legal(planner, board, pieces)
    ]
    return sorted(found, key=lambda placement: (placement.cost, placement.dates))


def _rested_for_the_group(
    planner: Planner, board: Board, pieces: Sequence[Piece], dates: Sequence[dt.date]
) -> bool:
    """Whether the nights of the next week come late enough, and the long run is near the day it was given."""
    usual = WEEKDAYS.index(planner.request.runner.long_run_day)
    return all(
        not (piece.draft.hard and tires(planner, piece.heavy, date, board.coming))
        and not (piece.long and abs(date.weekday() - usual) > 1)
        for piece, date in zip(pieces, dates, strict=True)
    )


def _legal(planner: Planner, board: Board, pieces: Sequence[Piece]) -> Iterator[tuple[dt.date, ...]]:
    choices = [_choices(planner, board, piece) for piece in pieces]
    pairs = [(first, second) for first in range(len(pieces)) for second in range(first + 1, len(pieces))]
    allowed = {
        (first, second): {
            (one, two)
            for one in choices[first]
            for two in choices[second]
            if one != two and _apart(planner, pieces[first], one, pieces[second], two)
        }
        for first, second in pairs
    }

    def grow(chosen: tuple[dt.date, ...]) -> Iterator[tuple[dt.date, ...]]:
        at = len(chosen)
        if at == len(pieces):
            yield chosen
            return
        for date in choices[at]:
            if all((earlier, date) in allowed[number, at] for number, earlier in enumerate(chosen)):
                yield from grow((*chosen, date))

    return grow(())


def _choices(planner: Planner, board: Board, piece: Piece) -> list[dt.date]:
    minutes = planner.request.runner.minutes
    numbers = planner.context.limits.numbers
    away_s = numbers("load.away_run")[0] * 60
    if piece.long:  # only where no day is spent at home
        trip = all(date in planner.context.away for date in board.open_days)
        away_s = numbers("load.away_long")[1] * 60 if trip else 0.0
    found = []
    for date in board.open_days:
        if piece.fixed is not None and date != piece.fixed:
            continue
        if piece.draft.hard and date in board.no_hard:
            continue
        night = planner.request.nights.get(date)
        if night and piece.fixed != date and _belongs_to_the_group(night, piece):
            continue
        if date.weekday() == planner.short_weekday or (piece.long and date in board.club):
            continue
        if date in planner.context.away and piece.draft.duration_s > away_s:
            continue
        if not _suits_the_last_days(planner, piece, date):
            continue
        most = minutes.get(WEEKDAYS[date.weekday()])
        if most is not None and piece.draft.duration_s > most * 60:
            continue
        beside_race = bool({date - DAY, date + DAY} & board.races)
        if beside_race and (piece.draft.hard or piece.long):
            continue
        if _after_earlier(planner, board, piece, date):
            found.append(date)
    return found


def _belongs_to_the_group(night: TypedNight, piece: Piece) -> bool:
    """Whether no session of one's own may stand on a night; where the group works, the last touch may."""
    if _easy(night):
        return not night.own_too
    return piece.draft.kind != "race_touch"


def _easy(night: TypedNight) -> bool:
    return night.template.counts_as in ("easy", "none")


def _suits_the_last_days(planner: Planner, piece: Piece, date: dt.date) -> bool:
    """Whether a session may stand so near to the race: a touch in its window, everything else before it."""
    days = planner.context.days_to_race(date)
    if piece.draft.kind == "race_touch":
        return date in touch_days(planner.context)
    return days >= LAST_DAYS if piece.long else days > LAST_DAYS


def _after_earlier(planner: Planner, board: Board, piece: Piece, date: dt.date) -> bool:
    """Whether the week before leaves this date free for the piece."""
    fresh_days = planner.context.limits.number("day.test_after_long")
    for session in board.before:
        days = (date - session.date).days
        if piece.test and days < fresh_days and session.role == "long" and session.work_s > 0:
            return False
        if days == 1 and is_run(session) and not is_easy(session):
            return False
        both_hard = piece.draft.hard and session.hard and session.role != "race"
        if both_hard and not _rested_from(planner, session, date, _clock(planner, date, board)):
            return False
    return True


def _rested_from(planner: Planner, earlier: Session, date: dt.date, clock: dt.time | None) -> bool:
    """Whether a hard session may follow an earlier hard session on a date."""
    heavy = (
        earlier.kind in LONG_GAP_KINDS
        or earlier.descent_work_s >= HARD_DESCENT_S
        or (earlier.role == "tune_up" and earlier.distance_m >= 9_900)
    )
    return _far_enough(planner, (date - earlier.date).days, earlier.start_time, clock, heavy)


def too_soon_after(planner: Planner, sessions: Sequence[Session], date: dt.date) -> Session | None:
    """The hard session behind which a club night comes too soon for hard running."""
    clock = start_time(planner, date, club=True)
    earlier = (one for one in sessions if one.hard and one.role != "race" and one.date < date)
    return next((one for one in earlier if not _rested_from(planner, one, date, clock)), None)


def tires(planner: Planner, heavy: bool, date: dt.date, nights: Sequence[dt.date]) -> bool:
    """Whether a hard session on a date leaves one of these club nights no time to be rested."""
    clock = start_time(planner, date, club=planner.context.club_on(date))
    return any(
        not _far_enough(planner, (night - date).days, clock, start_time(planner, night, club=True), heavy)
        for night in nights
    )


def typed_next(planner: Planner, frame: Frame) -> tuple[dt.date, ...]:
    """The club nights of the next week on which the coach has the group work, and this runner with it."""
    context, nights = planner.context, planner.request.nights
    if not context.allowed.anything_above_easy:
        return ()
    days = (frame.last_day + ahead * DAY for ahead in range(1, 8))
    return tuple(
        day
        for day in days
        if day in nights
        and not (nights[day].proposed or _easy(nights[day]))
        and context.club_on(day)
        and day not in planner.no_hard
    )


def _clock(planner: Planner, date: dt.date, board: Board) -> dt.time | None:
    return start_time(planner, date, club=date in board.club)


def start_time(planner: Planner, date: dt.date, *, club: bool) -> dt.time | None:
    """When a session of that day begins, where it is known."""
    day = WEEKDAYS[date.weekday()]
    if club:
        return next((night.time for night in planner.request.training.club_nights if night.day == day), None)
    return planner.request.runner.times.get(day)


def _far_enough(
    planner: Planner, days: int, first: dt.time | None, second: dt.time | None, heavy: bool
) -> bool:
    context = planner.context
    if days - 1 < context.easy_days:
        return False
    hours = days * 24.0
    if first is not None and second is not None:
        hours += (second.hour - first.hour) + (second.minute - first.minute) / 60
    return hours >= context.limits.number("day.hard_gap_long" if heavy else "day.hard_gap")


def _apart(planner: Planner, one: Piece, first: dt.date, two: Piece, second: dt.date) -> bool:
    if first > second:
        one, first, two, second = two, second, one, first
    days = (second - first).days
    if days == 1:
        return False
    fresh_days = planner.context.limits.number("day.test_after_long")
    if two.test and one.long and one.draft.work_s > 0 and days < fresh_days:
        return False
    if not (one.draft.hard and two.draft.hard):
        return True

    def clock(date: dt.date) -> dt.time | None:
        return start_time(planner, date, club=planner.context.club_on(date))

    return _far_enough(planner, days, clock(first), clock(second), one.heavy)


def _cost(planner: Planner, board: Board, pieces: Sequence[Piece], dates: Sequence[dt.date]) -> float:
    cost = 0.0
    preferred = planner.request.runner.long_run_day
    before = {session.kind: session.date.weekday() for session in board.before}
    keys = sorted(date for piece, date in zip(pieces, dates, strict=True) if not piece.long)
    nights = planner.request.nights
    together = {date for date in board.club if date in nights and _easy(nights[date])}
    free_club = [date for date in board.club if date in board.open_days and date not in together]
    for piece, date in zip(pieces, dates, strict=True):
        if piece.long:
            if WEEKDAYS[date.weekday()] != preferred:
                cost += LONG_DAY_COST + 0.1 * (6 - date.weekday())
            continue
        if free_club and date not in board.club:
            cost += OFF_CLUB_COST
        if date in together:  # the others run easily then
            cost += 2 * OFF_CLUB_COST
        if piece.draft.kind in before and before[piece.draft.kind] != date.weekday():
            cost += MOVED_COST
        cost += 0.05 * abs(date.weekday() - 1.5)
        if piece.draft.kind in FLAT_RHYTHM:
            since = planner.days_since_flat(date)
            late = since is not None and since > planner.context.limits.number("course_work.flat_rhythm")
            cost += LATE_FLAT_COST if late else 0.0
    long_dates = [date for piece, date in zip(pieces, dates, strict=True) if piece.long]
    ordered = sorted([*keys, *long_dates])
    for first, second in pairwise(ordered):
        if (second - first).days == 2:
            cost += CROWDED_COST
    return cost


def choose_easy_days(
    planner: Planner, board: Board, taken: Sequence[dt.date], long_date: dt.date | None, count: int
) -> list[dt.date]:
    """Days for the easy runs: club nights first, rest days kept on the same weekdays."""
    free = [date for date in board.open_days if date not in taken and date not in board.races]
    must = [date for date in free if date in board.club]
    others = sorted(
        (date for date in free if date not in board.club),
        key=lambda date: (_rest_wish(date, long_date, board, planner), date),
    )
    return sorted([*must, *others[: max(0, count - len(must))]])


def _rest_wish(date: dt.date, long_date: dt.date | None, board: Board, planner: Planner) -> float:
    """How much a day would rather be a rest day."""
    wish = 0.0
    preferred = WEEKDAYS.index(planner.request.runner.long_run_day)
    if (date.weekday() - preferred) % 7 == 1:
        wish += 3.0
    if (preferred - date.weekday()) % 7 == 1:
        wish += 1.5
    if long_date is not None and abs((date - long_date).days) == 1:
        wish += 1.0
    if any(race - date == DAY for race in board.races):
        wish += -0.5
    if planner.context.days_to_race(date) == 2:
        wish += 2.0
    return wish + 0.01 * date.weekday()


def rested(
    planner: Planner, frame: Frame, board: Board, taken: Sequence[dt.date], easy: Sequence[dt.date]
) -> list[dt.date]:
    """The easy days less those that would leave seven days without a rest; nights and races to come count."""
    kept = list(easy)
    if len(planner.context.running_days) == 7 and not planner.context.careful and len(kept) + len(taken) == 7:
        return kept
    before = {session.date for session in board.before if is_run(session)}
    race = planner.context.race.date
    nights = {
        date
        for date in (frame.last_day + ahead * DAY for ahead in range(1, 7))
        if date < race and planner.context.club_on(date)
    }
    races = {day for day in board.races if day >= frame.first_day and (day - frame.last_day).days < 7}
    ran = {*before, *taken, *nights, *races}
    for last in [*frame.days, *sorted(day for day in races if day > frame.last_day)]:
        window = {last - back * DAY for back in range(7)}
        while len(window & {*ran, *kept, race}) == 7:
            able = [date for date in kept if date in window and date not in board.club]
            if not able:
                break
            kept.remove(min(able, key=lambda date: (date + DAY in ran, date)))
    return kept
