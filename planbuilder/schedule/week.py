"""One week: what it should hold, written, placed, filled up and checked; the best legal one is kept.

Receives: a ``Planner`` with the weeks before, the plan of long runs and descents.
Gives: the week. Limits are never broken; sessions that do not fit are softened, moved or dropped.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from planbuilder.plan.types import Reason, Session, Week
from planbuilder.plan.walk import HARD_S
from planbuilder.rules import Breach, week_findings
from planbuilder.rules.checks_days import hard_most
from planbuilder.rules.checks_load import longest_before, run_time_cap_s, single_run_cap_m
from planbuilder.rules.context import is_run
from planbuilder.rules.orders import Draft
from planbuilder.rules.phases import Frame
from planbuilder.schedule.course_work import long_date
from planbuilder.schedule.days import Board, Piece, Placement, choose_easy_days, placements, rested
from planbuilder.schedule.easy import STRIDES_S, EasyDay, easy_days, fill
from planbuilder.schedule.extras import strength_sessions, with_second_runs
from planbuilder.schedule.group_night import group_draft, group_want, until_the_end
from planbuilder.schedule.load import Target, WeekKind, target_for
from planbuilder.schedule.orders import write_easy, write_want
from planbuilder.schedule.reasons import explained
from planbuilder.schedule.sessions import longer_warm_up, race_session, session_of, tune_up_session, week_of
from planbuilder.schedule.state import Planner
from planbuilder.schedule.types import Want
from planbuilder.schedule.wants import choose, key_count
from planbuilder.schedule.words import why_for
from planbuilder.settings.models import WEEKDAYS

DAY: Final = dt.timedelta(days=1)
TYPED: Final = Reason("rule", "The coach set the kind of this club night.", "day.club_nights")
HARD_LONGS: Final = ("hill_finish_long_run", "race_simulation", "long_run_goal_effort")
ROLLING_EVERY: Final = 13  # days, so every second week
LEAST_WORK_S: Final = 170.0
TRIES: Final = 3
MORE_TRIES: Final = 8  # weeks looked at in the hope of one that needs no exception


@dataclass(frozen=True, slots=True)
class BlockPlan:
    """What was decided for the whole block before the first week was written."""

    kinds: tuple[WeekKind, ...]
    longs: Mapping[int, Want]
    descents: Mapping[int, Want]
    tests: Mapping[int, Want]


@dataclass(slots=True)
class Written:
    """A want with its draft."""

    want: Want
    draft: Draft


@dataclass(slots=True)
class Attempt:
    """One way to fill the week."""

    long: Written | None
    keys: list[Written] = field(default_factory=list)

    @property
    def written(self) -> list[Written]:
        """The long run, then the keys."""
        return [*([self.long] if self.long else []), *self.keys]

    def pieces(self) -> list[Piece]:
        """What has to be placed, in the order of ``written``."""
        return [Piece(one.draft, one is self.long, one.want.fixed) for one in self.written]


def plan_week(planner: Planner, index: int, block: BlockPlan) -> Week:
    """The next week."""
    frame, kind = planner.context.frames[index], block.kinds[index]
    recovery = kind in ("recovery", "tune_up", "away")
    purpose = purpose_of(planner, frame, kind)
    shell = week_of(frame, (), recovery=recovery, purpose=purpose)
    if kind == "tune_up":
        shell = replace(shell, sessions=tuple(_races(planner, frame)))
    shells = [*planner.weeks, shell]
    cap = single_run_cap_m(
        longest_before(shells, index, planner.context, long_date(planner, frame)), planner.context
    )
    target = target_for(planner, shells, index, block.kinds, cap)
    board = board_of(planner, frame)
    best: tuple[tuple[int, int], Week, list[Breach]] | None = None
    tried = 0
    for attempt, ways in _ways(planner, board, _attempts(planner, frame, index, block, target, board)):
        for week in _weeks(planner, frame, board, attempt, ways, target, recovery, purpose):
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
    planner.excepted += [one for one in best[2] if one.excepted]
    return explained(planner, best[1], target)


def _ways(
    planner: Planner, board: Board, attempts: Iterable[Attempt]
) -> Iterator[tuple[Attempt, Sequence[Placement]]]:
    """All attempts with the long run on its own day, the fullest first; then with the long run moved."""
    moved: list[tuple[Attempt, Sequence[Placement]]] = []
    for attempt in attempts:
        ways = placements(planner, board, attempt.pieces())
        yield attempt, [way for way in ways if way.keeps_long_day][:TRIES]
        moved.append((attempt, [way for way in ways if not way.keeps_long_day][:TRIES]))
    yield from moved


def board_of(planner: Planner, frame: Frame) -> Board:
    """The days of a week and what stands around them."""
    context = planner.context
    races = {race.date for race in context.tune_ups} | {context.race.date}
    open_days = [
        day
        for day in frame.days
        if WEEKDAYS[day.weekday()] in context.running_days and day not in races and day < context.race.date
    ]
    open_days = _with_trips(planner, frame, open_days)
    club = frozenset(
        day for day in open_days if WEEKDAYS[day.weekday()] in context.club_days and day not in context.away
    )
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


# What the week should hold -------------------------------------------------------------------------------


def _attempts(
    planner: Planner, frame: Frame, index: int, block: BlockPlan, target: Target, board: Board
) -> Iterator[Attempt]:
    """From the fullest week to the barest; the first legal one is taken."""
    long_want = _long_want(planner, frame, index, block, target)
    draft = None if long_want is None else _long_draft(planner, long_want, frame, target, target.climb_m)
    seen: set[tuple[str, ...]] = set()
    plain = _easy_long(planner, frame) if long_want is not None else None
    choices = _with_nights(
        planner, frame, _key_wants(planner, frame, index, block, target, draft), target, board
    )
    for keys in choices:
        for long_now, count in _thinner(long_want, plain, len(keys)):
            chosen = keys[:count]
            names = (long_now.kind if long_now else "", *(want.kind for want in chosen))
            if names in seen:
                continue
            seen.add(names)
            attempt = _write(planner, frame, long_now, chosen, target)
            if attempt is not None:
                yield attempt
    yield Attempt(None)


def _thinner(long_want: Want | None, plain: Want | None, keys: int) -> list[tuple[Want | None, int]]:
    """Which long run with how many key sessions: rolling ground goes before a key does, other work after."""
    counts = range(keys, -1, -1)
    if long_want is not None and long_want.kind == "rolling_long_run":
        return [(long_now, count) for count in counts for long_now in (long_want, plain)]
    return [(long_now, count) for long_now in (long_want, plain) for count in counts]


def _with_nights(
    planner: Planner, frame: Frame, keys: list[Want], target: Target, board: Board
) -> list[list[Want]]:
    """The key sessions with the club nights whose kind is set among them; then without, where that fails."""
    if not keys:
        return [keys]
    group = [date for date in board.club if date in planner.request.nights]
    due = [want for want in keys if want.role == "test" or want.kind == "controlled_downhill"]
    if group and target.kind not in ("loaded", "taper"):
        return [due]
    typed = _typed_nights(planner, frame, board, target)
    if not typed:
        return [keys]
    own = [want for want in keys if want not in due and want.kind not in {night.kind for night in typed}]
    return [[*due, *typed, *own][: len(keys)], [*typed, *own][: len(keys)], keys]


def _easy_long(planner: Planner, frame: Frame) -> Want:
    return Want("long_run", "long", why_for(planner, "long_run", frame.phase))


def _long_want(planner: Planner, frame: Frame, index: int, block: BlockPlan, target: Target) -> Want | None:
    shortest = planner.context.limits.number("load.shortest_run") * 60
    if target.long_s < shortest + 300 or (target.kind == "tune_up" and not _keeps_long(planner, frame)):
        return None
    want = block.longs.get(index) or _easy_long(planner, frame)
    if want.kind == "rolling_long_run":
        since = planner.days_since((want.kind,), long_date(planner, frame))
        if since is not None and since < ROLLING_EVERY:
            return _easy_long(planner, frame)
    return want


def _keeps_long(planner: Planner, frame: Frame) -> bool:
    """Whether a tune-up leaves the long run: only a short race in a marathon block does."""
    context = planner.context
    races = [plan.race for plan in planner.tune_ups if plan.race.date in frame.days]
    return context.race.distance_m > 30_000 and all(race.distance_m <= 10_500 for race in races)


def _key_wants(
    planner: Planner, frame: Frame, index: int, block: BlockPlan, target: Target, long_draft: Draft | None
) -> list[Want]:
    """Key sessions in the order in which they would be kept."""
    context, kind = planner.context, target.kind
    if not context.allowed.anything_above_easy or kind == "stub":
        return []
    shell = week_of(frame, (), recovery=kind != "loaded", purpose="")
    most = hard_most([*planner.weeks, shell], index, context)
    long_hard = long_draft is not None and long_draft.hard
    if index in block.tests:
        planner.pending_test = block.tests[index]
    found = [planner.pending_test] if planner.pending_test and kind in ("loaded", "recovery") else []
    count = _count(planner, frame, kind, most, long_hard=long_hard)
    if index in block.descents:
        found.append(block.descents[index])
        count += "controlled_downhill" not in planner.count  # the first one is short and not hard
    race_week = frame.last_day >= context.race.date
    if race_week:
        return [Want("race_touch", "key", why_for(planner, "race_touch", frame.phase), dose=0.4)]
    if kind == "taper":
        return _taper_keys(planner, frame, max(count, 1))
    taken = tuple(want.kind for want in found)
    coming = block.longs.get(index + 1)
    flat_first = most <= 1 and coming is not None and coming.kind in HARD_LONGS
    chosen = choose(
        planner,
        frame,
        max(0, count - len(found)),
        taken=taken,
        known_only=kind != "loaded",
        flat_first=flat_first,
    )
    return [*found, *chosen]


def _typed_nights(planner: Planner, frame: Frame, board: Board, target: Target) -> list[Want]:
    """Club nights whose kind is set, for the date or for every week, as far as this runner may join in."""
    if frame.last_day >= planner.context.race.date:
        return []
    found = []
    for date in sorted(board.club):
        if date in planner.request.nights:
            want = group_want(planner, frame, date)
            if want and group_draft(
                planner, want, frame.phase, target.work_s, target.climb_m, target.run_cap_m
            ):
                found.append(want)
            continue
        kind = next(
            night.kind
            for night in planner.request.training.club_nights
            if night.day == WEEKDAYS[date.weekday()]
        )
        if kind and kind in planner.request.library and kind not in ("group_easy", "easy_run"):
            why = why_for(planner, kind, frame.phase)
            found.append(Want(kind, "club", why, fixed=date, reasons=(TYPED,)))
    return found


def _count(planner: Planner, frame: Frame, kind: WeekKind, most: int, *, long_hard: bool) -> int:
    if kind == "loaded":
        return key_count(planner, frame, most, long_hard=long_hard)
    if kind == "taper":
        return min(most, 1)
    return min(1, most)


def _taper_keys(planner: Planner, frame: Frame, count: int) -> list[Want]:
    """Nothing new: race effort if it was trained, else the threshold that was."""
    for kind in ("goal_repeats", "threshold_repeats", "threshold_run", "fartlek"):
        if kind in planner.count:
            return [Want(kind, "key", why_for(planner, kind, frame.phase), dose=0.0)][:count]
    return [Want("race_touch", "key", why_for(planner, "race_touch", frame.phase), dose=0.5)][:count]


# Writing it ----------------------------------------------------------------------------------------------


def _write(
    planner: Planner, frame: Frame, long_want: Want | None, keys: Sequence[Want], target: Target
) -> Attempt | None:
    """Drafts within the work and the climbing that the week allows; the long run comes first."""
    work_s, climb_m = target.work_s, target.climb_m
    attempt = Attempt(None)
    rolling = long_want is not None and long_want.kind == "rolling_long_run"
    if long_want is not None and not rolling:
        draft = _long_draft(planner, long_want, frame, target, climb_m)
        if draft is None:
            return None
        attempt.long = Written(long_want, draft)
        work_s -= draft.work_s
        climb_m -= draft.climb_m
    for number, want in enumerate(keys):
        share = work_s / (len(keys) - number)
        others = {*(one.kind for one in keys), *(one.draft.kind for one in attempt.keys)} - {want.kind}
        draft = _key_draft(planner, want, frame, share, climb_m, target, others)
        if draft is None:
            continue
        attempt.keys.append(Written(want, draft))
        work_s -= draft.work_s
        climb_m -= draft.climb_m
    if long_want is not None and rolling:  # the climbs of the key sessions come first
        draft = _long_draft(planner, long_want, frame, target, climb_m)
        if draft is None:
            return None
        attempt.long = Written(long_want, draft)
    return attempt


def _long_draft(planner: Planner, want: Want, frame: Frame, target: Target, climb_m: float) -> Draft | None:
    """The long run within distance, time, work and climbing; it leaves work for a key session if it can."""
    plain = want.kind in ("long_run", "rolling_long_run")
    hour = planner.context.race.distance_m > 30_000 and want.kind == "long_run_goal_effort"
    share = 0.62 if want.decisive else 0.5
    work_s = (
        target.work_s if plain else max(target.work_s * share, min(target.work_s, 3900.0 if hour else 0.0))
    )
    if want.kind == "hill_finish_long_run" and planner.context.hard_limit <= 1:
        work_s = min(work_s, HARD_S - 10)  # not hard, so that a flat key session stays
    seconds = target.long_s // 300 * 300
    while seconds >= 1800:
        draft = write_want(planner, want, frame.phase, duration_s=seconds, work_limit_s=work_s)
        fits = (
            draft.distance_m <= target.run_cap_m and draft.duration_s <= run_time_cap_s(planner.context) + 1
        )
        if fits:
            bad = draft.work_s > work_s + 61 or draft.climb_m > climb_m
            return None if bad and draft.kind != "long_run" else draft
        seconds -= 300
    return None


def _key_draft(
    planner: Planner,
    want: Want,
    frame: Frame,
    work_s: float,
    climb_m: float,
    target: Target,
    others: set[str],
) -> Draft | None:
    """The session as wanted, else a flat one, else none."""
    if work_s < LEAST_WORK_S and want.kind != "controlled_downhill":
        return None
    if want.night is not None:
        return group_draft(planner, want, frame.phase, work_s, climb_m, target.run_cap_m)
    kinds = (want.kind,) if want.role == "test" else (want.kind, "threshold_repeats", "fartlek")
    for kind in kinds:
        if kind in others:
            continue
        now = (
            want
            if kind == want.kind
            else replace(want, kind=kind, demand=None, second=None, why=why_for(planner, kind, frame.phase))
        )
        if kind != want.kind and frame.phase == "taper" and kind not in planner.count:
            continue
        draft = write_want(planner, now, frame.phase, work_limit_s=work_s)
        if draft.work_s <= work_s + 1 and draft.climb_m <= climb_m and draft.distance_m <= target.run_cap_m:
            return draft
    return None


# Placing and filling -------------------------------------------------------------------------------------


def _weeks(
    planner: Planner,
    frame: Frame,
    board: Board,
    attempt: Attempt,
    ways: Sequence[Placement],
    target: Target,
    recovery: bool,
    purpose: str,
) -> Iterator[Week]:
    """Whole weeks for an attempt, the best placement first."""
    for way in ways:
        dates = dict(zip(way.dates, attempt.written, strict=True))
        full = False
        for fewer, as_long in ((0, False), (0, True), (1, False)):
            if full and as_long:
                continue
            sessions = _sessions(planner, frame, board, dates, attempt.long, target, fewer, as_long=as_long)
            week = week_of(frame, sessions, recovery=recovery, purpose=purpose)
            full = full or week.distance_m >= max(target.least_m, 0.93 * target.volume_m)
            if full or as_long or fewer:
                yield week


def _sessions(
    planner: Planner,
    frame: Frame,
    board: Board,
    dates: Mapping[dt.date, Written],
    long: Written | None,
    target: Target,
    fewer: int,
    *,
    as_long: bool,
) -> list[Session]:
    long_on = next((date for date, one in dates.items() if one is long), None)
    sessions = _races(planner, frame)
    for date, one in dates.items():
        role = "long" if one is long else "club" if date in board.club else one.want.role
        why = (
            one.want.why if one.draft.kind == one.want.kind else why_for(planner, one.draft.kind, frame.phase)
        )
        sessions.append(session_of(planner, one.draft, date, role, why, one.want.reasons))
    race_week = frame.last_day >= planner.context.race.date
    easy_on = _easy_dates(planner, frame, board, list(dates), long_on, target, fewer, race_week=race_week)
    if race_week and len(easy_on) <= 2:
        extra = 15 if len(easy_on) == 2 else 25
        sessions = [
            longer_warm_up(planner, one, extra) if one.kind == "race_touch" else one for one in sessions
        ]
    shake = {
        race - DAY
        for race in board.races
        if race - DAY in easy_on and (race == planner.context.race.date or _raced(planner, race))
    }
    phase = frame.phase
    covered = sum(session.distance_m for session in sessions if session.role not in ("race", "tune_up"))
    for date in shake:
        minutes = int(planner.context.limits.number("day.shakeout"))
        draft = write_easy(planner, "shakeout", minutes, phase)
        role = "club" if date in board.club else "easy"
        sessions.append(session_of(planner, draft, date, role, why_for(planner, draft.kind, phase)))
        covered += draft.distance_m
    rest = [date for date in easy_on if date not in shake]
    hard_on = [date for date, one in dates.items() if one.draft.hard]
    most = _easy_most(planner, target, long, as_long=as_long)
    stressed_before = {one.date for one in board.before if one.hard or one.role == "long"}
    spare = target.work_s - sum(one.draft.work_s for one in dates.values())
    days = easy_days(
        planner, rest, hard_on, long_on, phase=phase, club=board.club, earlier=stressed_before, most_min=most,
        strides=spare > STRIDES_S and planner.context.allowed.fast and
        planner.context.allowed.anything_above_easy, turn=frame.number,
    )  # fmt: skip
    days = until_the_end(planner, _short_day(planner, days))
    for date, draft in fill(planner, days, phase, target, covered).items():
        role = "club" if date in board.club else "easy"
        sessions.append(session_of(planner, draft, date, role, why_for(planner, draft.kind, phase)))
    sessions = with_second_runs(planner, phase, target.kind, sessions)
    return [*sessions, *strength_sessions(planner, frame, target.kind, sessions)]


def _short_day(planner: Planner, days: Sequence[EasyDay]) -> list[EasyDay]:
    """On seven running days the same weekday stays short."""
    short = int(planner.context.limits.number("day.short_day"))
    return [
        replace(day, most_min=min(day.most_min, short))
        if day.date.weekday() == planner.short_weekday
        else day
        for day in days
    ]


def _raced(planner: Planner, date: dt.date) -> bool:
    return any(plan.raced and plan.race.date == date for plan in planner.tune_ups)


def _easy_most(planner: Planner, target: Target, long: Written | None, *, as_long: bool) -> int:
    """The longest easy run besides the long one, minutes."""
    context = planner.context
    cap = min(run_time_cap_s(context), target.run_cap_m * planner.easy_s_per_km / 1000 * 0.97)
    if target.kind == "taper" and target.long_s == 0:  # race week
        cap = min(cap, context.limits.number("taper.race_week_run") * (85 if as_long else 60))
    if target.kind == "away":
        cap = min(cap, context.limits.numbers("load.away_run")[1] * 60)
    if long is not None:
        shorter = 300 if target.kind == "loaded" and not as_long else 0
        cap = min(cap, max(long.draft.duration_s - shorter, 1500))
    return int(max(cap // 300 * 5, 15))


def _easy_dates(
    planner: Planner,
    frame: Frame,
    board: Board,
    taken: Sequence[dt.date],
    long_on: dt.date | None,
    target: Target,
    fewer: int,
    *,
    race_week: bool,
) -> list[dt.date]:
    context = planner.context
    if race_week:
        return _race_week_dates(planner, frame, board, taken, fewer, target)
    open_count = len(board.open_days)
    often = target.volume_m > context.limits.number("load.seven_days_from")
    most = 7 if len(context.running_days) == 7 and often and not context.careful else 6
    if context.careful:
        most = 5
    if context.allowed.minor:
        most = min(most, int(context.limits.number("safety.minor_runs")))
    most -= sum(race in frame.days for race in board.races)
    shortest = context.limits.number("load.shortest_run") * 60
    covered_runs = len(taken)
    holds = int(target.volume_m * planner.easy_s_per_km / 1000 / (shortest * 1.15))
    count = min(open_count, most, max(holds, covered_runs + 1)) - covered_runs - fewer
    chosen = choose_easy_days(planner, board, taken, long_on, max(0, count))
    return rested(planner, frame, board, taken, chosen)


def _race_week_dates(
    planner: Planner,
    frame: Frame,
    board: Board,
    taken: Sequence[dt.date],
    fewer: int,
    target: Target,
) -> list[dt.date]:
    """Race week: the day before short, two days before off, nothing after the last touch but easy running."""
    context = planner.context
    free = [date for date in board.open_days if date not in taken]
    must = [date for date in free if date in board.club]
    usual = [
        len({session.date for session in week.sessions if is_run(session)})
        for week in planner.weeks[-6:]
        if week.phase != "taper" and not week.recovery
    ]
    count = (sorted(usual)[len(usual) // 2] if usual else len(free)) - 1 - len(taken) - fewer
    shortest_m = context.limits.number("load.shortest_run") * 60_000 / planner.easy_s_per_km
    holds = int(target.most_m / shortest_m) - len(taken) * 2
    count = min(count, max(1, holds), 4 - len(taken) if context.careful else 6)
    order = {1: 0.0, 3: 1.0, 4: 2.0, 5: 3.0, 6: 4.0, 2: 5.0}
    others = sorted(
        (date for date in free if date not in must),
        key=lambda date: order.get(context.days_to_race(date), 6.0),
    )
    chosen = sorted([*must, *others[: max(0, count - len(must))]])
    return rested(planner, frame, board, taken, chosen)


def _races(planner: Planner, frame: Frame) -> list[Session]:
    """Tune-ups of the week, and the race."""
    context = planner.context
    found: list[Session] = []
    for plan in planner.tune_ups:
        if plan.race.date in frame.days:
            found.append(tune_up_session(planner, plan, frame.phase))
    if frame.last_day >= context.race.date and context.allowed.race_distance:
        found.append(race_session(planner))
    return found


def purpose_of(planner: Planner, frame: Frame, kind: WeekKind) -> str:
    """What the week is for."""
    if frame.last_day >= planner.context.race.date:
        return "Race week: rest, a touch of race effort, race."
    if kind == "stub":
        return "A short first week: easy running only."
    if kind == "tune_up":
        names = [plan.race.name for plan in planner.tune_ups if plan.race.date in frame.days]
        return f"A lighter week around {' and '.join(names)}."
    if kind == "away":
        return "Days away: fewer runs, enough to keep the habit."
    if kind == "recovery":
        return "Recovery week: less of everything, so that the last weeks sink in."
    return {
        "base": "Base: regular easy running and the first quicker minutes.",
        "build": "Build: threshold and strength, the ground begins to look like the course.",
        "specific": "Specific: race effort on ground like the race, in its order.",
        "taper": "Taper: the load falls, the paces stay.",
        "after": "Recovery after the race.",
    }[frame.phase]
