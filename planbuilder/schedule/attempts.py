"""What a week could hold: its long run and key sessions, written, from the fullest choice to the barest.

Receives: a ``Planner``, what was decided for the block, the target of the week.
Gives: ``Attempt`` after ``Attempt``, each within the work and the climbing that the week allows.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from planbuilder.plan.types import Reason
from planbuilder.rules.checks_days import hard_most
from planbuilder.rules.orders import Draft
from planbuilder.rules.phases import Frame
from planbuilder.schedule.course_work import ROLLING_EVERY, long_date, rolls
from planbuilder.schedule.days import Board, Piece
from planbuilder.schedule.drafts import Written, key_written, long_draft, on_the_course, rolling_least_m
from planbuilder.schedule.easy import STRIDES_S
from planbuilder.schedule.group_night import group_draft, group_want, nothing_is_new
from planbuilder.schedule.load import USUAL_SHARE, Target, WeekKind
from planbuilder.schedule.race_week import touch_frame, touch_wants
from planbuilder.schedule.sessions import week_of
from planbuilder.schedule.state import Planner
from planbuilder.schedule.travel import long_while_away, spent_away, trip_wants
from planbuilder.schedule.types import Want
from planbuilder.schedule.wants import HILL_KINDS, choose, key_count, measured_descents, on_the_level
from planbuilder.schedule.words import why_for, why_in_phase
from planbuilder.settings.models import WEEKDAYS

TYPED: Final = Reason("rule", "The coach set the kind of this club night.", "day.club_nights")
HARD_LONGS: Final = ("hill_finish_long_run", "race_simulation", "long_run_goal_effort")
TOUCH: Final = "race_touch"
WORKING_WEEKS: Final = ("loaded", "taper", "recovery", "tune_up")  # that may hold work of the group
KEY_SHARE: Final = 0.14  # of a week's distance that one key session takes, about
LEAST_DESCENTS_S: Final = 120.0  # that a long run leaves for descents of the same week


@dataclass(frozen=True, slots=True)
class BlockPlan:
    """What was decided for the whole block before the first week was written."""

    kinds: tuple[WeekKind, ...]
    longs: Mapping[int, Want]
    descents: Mapping[int, Want]
    tests: Mapping[int, Want]


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
        return [
            Piece(one.draft, one is self.long, one.want.fixed, test=one.want.role == "test")
            for one in self.written
        ]


def attempts(
    planner: Planner, frame: Frame, index: int, block: BlockPlan, target: Target, board: Board
) -> Iterator[Attempt]:
    """From the fullest week to the barest; the first legal one is taken."""
    long_want = _long_want(planner, frame, index, block, target)
    draft = None if long_want is None else long_draft(planner, long_want, frame, target, target.climb_m)
    if long_want and not long_want.decisive and draft and draft.hard:
        none_left = not _key_wants(planner, frame, index, block, target, draft)
        if none_left and any(want.night for want in _typed_nights(planner, frame, board, target)):
            long_want, draft = _easy_long(planner, frame), None
    left = _less_strides(planner, board, target)
    seen: set[tuple[str, ...]] = set()
    plain = _easy_long(planner, frame) if long_want is not None else None
    wants = _key_wants(planner, frame, index, block, target, draft)
    if target.kind == "away" and spent_away(planner, board):
        long_want = plain = long_while_away(planner, frame, board) if plain else None
        wants = trip_wants(planner, frame, board) if wants else []
    choices = list(_choices(planner, frame, _with_nights(planner, frame, wants, target, board)))
    for long_now, chosen in _ways(choices, long_want, plain):
        names = (long_now.kind if long_now else "", *(_name(want) for want in chosen))
        if names in seen:
            continue
        seen.add(names)
        attempt = _write(planner, frame, long_now, chosen, left)
        if attempt is not None:
            yield attempt
    yield Attempt(None)


def _less_strides(planner: Planner, board: Board, target: Target) -> Target:
    """What a week leaves for its other work where a club night holds strides."""
    nights = planner.request.nights
    if not any(date in nights and nights[date].template.shape == "strides" for date in board.club):
        return target
    return replace(target, work_s=max(target.work_s - STRIDES_S, 0.0))


def _ways(
    choices: Sequence[list[Want]], long_want: Want | None, plain: Want | None
) -> Iterator[tuple[Want | None, list[Want]]]:
    """Every long run with every choice of keys; with club nights among them all choices come before none."""
    found: list[tuple[Want | None, list[Want]]] = []
    for keys in choices:
        touch = bool(keys) and keys[0].kind == TOUCH
        found += [
            (long_now, keys[:count])
            for long_now, count in _thinner(long_want, plain, len(keys), least=len(keys) if touch else 0)
        ]
    if any(want.night for keys in choices for want in keys):
        decisive = long_want is not None and long_want.decisive
        found.sort(
            key=lambda way: (
                decisive and way[0] is not long_want,
                -sum(map(_by_the_coach, way[1])),
                not way[1],
            )
        )
    yield from found


def _choices(planner: Planner, frame: Frame, found: list[list[Want]]) -> Iterator[list[Want]]:
    """The same choices of key sessions; in the week of the last touch it comes before all of them."""
    context = planner.context
    if context.races and context.allowed.anything_above_easy and frame == touch_frame(context):
        others = [[want for want in keys if want.kind != TOUCH] for keys in found]
        for count in range(max(len(keys) for keys in others), -1, -1):
            for touch in touch_wants(planner, frame):
                yield from ([touch, *keys[:count]] for keys in others if len(keys) >= count)
    yield from found


def _name(want: Want) -> str:
    return want.kind if want.most_work_s is None else f"short {want.kind}"


def _thinner(
    long_want: Want | None, plain: Want | None, keys: int, least: int
) -> list[tuple[Want | None, int]]:
    """Which long run with how many key sessions: rolling ground goes before a key does, other work after."""
    counts = range(keys, least - 1, -1)
    if long_want is not None and long_want.kind == "rolling_long_run":
        return [(long_now, count) for count in counts for long_now in (long_want, plain)]
    return [(long_now, count) for long_now in (long_want, plain) for count in counts]


def _with_nights(
    planner: Planner, frame: Frame, keys: list[Want], target: Target, board: Board
) -> list[list[Want]]:
    """The key sessions with the club nights whose kind is set among them; then without, where that fails.

    What the coach typed comes before a session of one's own that is due.
    """
    if not keys:
        return [keys]
    group = [date for date in board.club if date in planner.request.nights]
    due = [want for want in keys if want.role == "test" or want.kind == "controlled_downhill"]
    if not _days_of_ones_own(planner, board):
        due = []
    if group and target.kind not in WORKING_WEEKS:
        return [due]
    typed = _typed_nights(planner, frame, board, target)
    if any(night.kind == "test" for night in typed):  # the club's time trial is the test
        due = [want for want in due if want.role != "test"]
    if group and target.kind in ("recovery", "tune_up"):  # a smaller share of what is known already
        return [[*due, *typed][: len(keys)], [*typed][: len(keys)], due] if typed else [due]
    if not typed:
        return [keys]
    typed.sort(key=lambda night: not _by_the_coach(night))
    if len(due) + sum(map(_by_the_coach, typed)) > len(keys):
        due = []
    taken = {night.kind for night in typed}
    if taken & {*HILL_KINDS}:  # the group's hills are those of the week
        taken |= {*HILL_KINDS}
    own = [want for want in keys if want.role == "key" and want not in due and want.kind not in taken]
    if not _days_of_ones_own(planner, board):
        return [typed[: len(keys)], *([night] for night in typed), keys]
    return [[*due, *typed, *own][: len(keys)], [*typed, *own][: len(keys)], keys]


def _by_the_coach(want: Want) -> bool:
    """Whether it is a line that the coach typed for a night."""
    return want.night is not None and not want.night.proposed


def _days_of_ones_own(planner: Planner, board: Board) -> bool:
    """Whether a key session can stand on a day without a working club night or the long run."""
    nights = planner.request.nights
    return any(
        WEEKDAYS[date.weekday()] != planner.request.runner.long_run_day
        and (date not in nights or nights[date].own_too)
        for date in board.open_days
    )


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
    planner: Planner, frame: Frame, index: int, block: BlockPlan, target: Target, long: Draft | None
) -> list[Want]:
    """Key sessions in the order in which they would be kept."""
    context, kind = planner.context, target.kind
    if not context.allowed.anything_above_easy or kind in ("stub", "easy_week"):
        return []
    shell = week_of(frame, (), recovery=kind != "loaded", purpose="")
    most = hard_most([*planner.weeks, shell], index, context)
    long_hard = long is not None and long.hard
    if index in block.tests:
        planner.pending_test = block.tests[index]
    found: list[Want] = []
    if planner.pending_test and kind in ("loaded", "recovery"):  # it may have waited into another phase
        test = planner.pending_test
        found.append(replace(test, why=why_in_phase(test.why, frame.phase)))
    count = _count(planner, frame, kind, most, long_hard=long_hard)
    if index in block.descents:
        descents = block.descents[index]
        if descents.kind == "downhill_start" and "controlled_downhill" not in planner.count:
            descents = measured_descents(planner, descents, frame)  # none has found a place before it
        found.append(descents)
        count += "controlled_downhill" not in planner.count  # the first one is short and not hard
    if context.race_week(frame):
        return []  # a touch at most
    if kind == "taper":
        return _shorter_each_week(planner, _taper_keys(planner, frame, max(count, 1)))
    taken = tuple(want.kind for want in found)
    coming = block.longs.get(index + 1)
    flat_first = most <= 1 and coming is not None and coming.kind in HARD_LONGS
    if long is not None and long.kind == "rolling_long_run" and rolls(planner):
        flat_first = flat_first or index in block.descents  # up and down are in the week already
    chosen = choose(
        planner,
        frame,
        max(0, count - len(found)),
        taken=taken,
        known_only=kind != "loaded",
        flat_first=flat_first,
        course_taken=index in block.descents and "controlled_downhill" in planner.count,
        long_on_course=long is not None and long.course_specific,
    )
    return _short_before_a_race(planner, frame, [*found, *chosen])


def _shorter_each_week(planner: Planner, wants: list[Want]) -> list[Want]:
    """In the second week of a long taper the key session is shorter than in the first."""
    if not planner.weeks or planner.weeks[-1].phase != "taper":
        return wants
    before_s = max((one.work_s for one in planner.weeks[-1].sessions if one.role == "key"), default=0.0)
    share = float(planner.context.limits.table("taper.work_cut")["second_week"])
    return [replace(want, most_work_s=share * before_s) if before_s else want for want in wants]


def _short_before_a_race(planner: Planner, frame: Frame, wants: list[Want]) -> list[Want]:
    """The same sessions, short where a tune-up of the week is raced."""
    if not any(plan.raced and plan.race.date in frame.days for plan in planner.tune_ups):
        return wants
    most_s = planner.context.limits.number("day.before_tune_up_work") * 60
    return [want if want.role == "test" else replace(want, most_work_s=most_s) for want in wants]


def _typed_nights(planner: Planner, frame: Frame, board: Board, target: Target) -> list[Want]:
    """Club nights whose kind is set, for the date or for every week, as far as this runner may join in."""
    if planner.context.race_week(frame):
        return []
    found = []
    for date in sorted(board.club):
        if date in planner.request.nights:
            want = group_want(planner, frame, date)
            if want is not None:
                want = replace(want, known=known_kinds(planner, target, date))
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


def known_kinds(planner: Planner, target: Target, date: dt.date) -> frozenset[str] | None:
    """The kinds that are known where nothing may be new: in light weeks and in the last days."""
    if target.kind == "recovery":  # a test belongs there
        return frozenset([*planner.count, "test"])
    light = target.kind == "tune_up" or nothing_is_new(planner, date)
    return frozenset(planner.count) if light else None


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
            level = kind == "goal_repeats" and frame.phase == "specific"
            flat = planner.request.demands.first("long_flat") if level else None
            return [Want(kind, "key", why_for(planner, kind, frame.phase, flat), flat, dose=0.0)][:count]
    return [Want("race_touch", "key", why_for(planner, "race_touch", frame.phase), dose=0.5)][:count]


def _write(
    planner: Planner, frame: Frame, long_want: Want | None, keys: Sequence[Want], target: Target
) -> Attempt | None:
    """Drafts within the work and the climbing that the week allows; the long run comes first."""
    work_s, climb_m = target.work_s, target.climb_m
    attempt = Attempt(None)
    rolling = long_want is not None and long_want.kind == "rolling_long_run"
    if long_want is not None and not rolling:
        descents_s = LEAST_DESCENTS_S if any(want.kind == "controlled_downhill" for want in keys) else 0.0
        left = replace(target, work_s=max(work_s - descents_s, 0.0))
        draft = long_draft(planner, long_want, frame, left, climb_m)
        if draft is None:
            return None
        attempt.long = Written(long_want, draft)
        work_s -= draft.work_s
        climb_m -= draft.climb_m
    budget_m = climb_m
    if rolling:
        climb_m += _own_ground_m(planner, target, _rolling_reach_m(planner, target), KEY_SHARE * len(keys))
    kept_m = _kept_for_rolling(planner, frame, target, climb_m) if rolling else 0.0
    for number, want in enumerate(keys):
        share = work_s / (len(keys) - number)
        others = {*(one.kind for one in keys), *(one.draft.kind for one in attempt.keys)} - {want.kind}
        room_m = max(climb_m - kept_m, 0.0)
        if any(one.draft.hard and one.draft.course_specific for one in attempt.keys):
            want = on_the_level(planner, want, frame)
        written = key_written(planner, want, frame, share, room_m, target, others)
        if written is None and _by_the_coach(want) and share < work_s:  # before what comes after it
            written = key_written(planner, want, frame, work_s, room_m, target, others)
        if written is None:
            continue
        attempt.keys.append(written)
        work_s -= written.draft.work_s
        climb_m -= written.draft.climb_m
    attempt.keys = on_the_course(planner, frame, attempt.keys, max(climb_m - kept_m, 0.0))
    if long_want is not None and rolling:  # what the key sessions left, and what was kept for it
        hilly = [one.draft for one in attempt.keys if one.draft.hard or one.draft.climb_m > 0]
        share = sum(one.distance_m for one in hilly) / max(target.volume_m, 1.0)
        left_m = budget_m - sum(one.climb_m for one in hilly)
        for _ in range(2):  # a shorter run leaves more of the week to usual ground
            reach_m = (
                _rolling_reach_m(planner, target) if attempt.long is None else attempt.long.draft.distance_m
            )
            own_m = _own_ground_m(planner, target, reach_m, share)
            draft = long_draft(planner, long_want, frame, target, left_m + own_m)
            if draft is None:
                return None
            attempt.long = Written(long_want, draft)
    return attempt


def _rolling_reach_m(planner: Planner, target: Target) -> float:
    """How far the long run would go, metres."""
    return min(target.run_cap_m, target.long_s / planner.long_s_per_km * 1000)


def _own_ground_m(planner: Planner, target: Target, long_m: float, key_share: float) -> float:
    """Metres of climbing that the week's budget set aside for a rolling long run as for any easy running: its
    own climbs stand in their place. ``key_share`` is what key sessions take of the week's distance."""
    baseline = planner.context.baseline
    usual = baseline.climb_m / max(baseline.weekly_m, 1.0)
    easy_m = max((1 - key_share) * target.volume_m - long_m, 0.0)
    return usual * (USUAL_SHARE * target.volume_m - easy_m)


def _kept_for_rolling(planner: Planner, frame: Frame, target: Target, climb_m: float) -> float:
    """Metres of climbing that key sessions leave to a rolling long run: from build on a hilly race comes
    first on long legs, so its least is kept where the week can hold it at all."""
    if frame.phase == "base" or not rolls(planner):
        return 0.0
    least_m = 1.05 * rolling_least_m(planner, _rolling_reach_m(planner, target))
    return least_m if least_m <= climb_m else 0.0
