"""What a squad does on the club nights for which the coach typed nothing.

Receives: a voice for each kind of runner, the typed nights.
Gives: a session for each of the other nights that serves most of what the squad needs then. Every week is
planned for the most usual runners before it is proposed: a night on which next to nobody could work is an
easy run together. The kinds are counted, so the order of the roster changes nothing; whoever comes alone goes
by their own plan.
"""

from __future__ import annotations

import datetime as dt
import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, groupby
from typing import Final

from planbuilder.demands.types import Demand
from planbuilder.rules.doses import worth_warming_up
from planbuilder.rules.night_row import night_share
from planbuilder.rules.orders import MainSet
from planbuilder.rules.phases import Frame
from planbuilder.rules.typed_night import OR_OWN, SHORT_S, TypedNight, read_night
from planbuilder.rules.write_session import write_session
from planbuilder.schedule.group_night import group_reason, runs_easily
from planbuilder.schedule.orders import base_order
from planbuilder.schedule.state import FLAT_RHYTHM, Planner
from planbuilder.schedule.types import Request
from planbuilder.schedule.voices import Voice
from planbuilder.schedule.wants import HILL_KINDS, Turn, turns_for
from planbuilder.schedule.week import FoundWeek
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import WEEKDAYS
from planbuilder.units import in_minutes

_WORDS: Final = {
    "threshold_repeats": ("threshold", "easy jog"),
    "threshold_run": ("threshold", ""),
    "intervals": ("intervals", "easy jog"),
    "goal_repeats": ("race effort", "easy jog"),
    "repetitions": ("repetitions", "walk or jog"),
    "fartlek": ("fartlek", "easy"),
    "short_hill_reps": ("short hills", "jog down"),
    "long_hill_reps": ("hills", "jog down"),
}
_IN_LIGHT_WEEKS: Final = ("goal_repeats", "threshold_repeats", "threshold_run", "fartlek")
CLIMBS_EVERY: Final = 12  # days: every second week
LEVELS: Final = ("novice", "intermediate", "club", "advanced")
TRIES: Final = 2  # other kinds for a night on which nobody would work
DAY: Final = dt.timedelta(days=1)


def propose_nights(
    voices: Sequence[Voice], typed: Mapping[dt.date, TypedNight], limits: Limits
) -> tuple[dict[dt.date, TypedNight], list[Voice]]:
    """A session for every club night to which two or more come and for which nothing was typed.

    And the voices, with the weeks that stand for them then. The most frequent voices come first.
    """
    held = dict(typed)
    voices = [replace(voice, request=replace(voice.request, nights=held)) for voice in voices]
    used: dict[str, list[dt.date]] = {}
    for _, days in groupby(_club_dates(voices), key=lambda date: date - date.weekday() * DAY):
        dates = list(days)
        for voice in voices:
            voice.settle_before(dates[0])
        tried: dict[dt.date, tuple[str, ...]] = {}
        _propose(voices, dates, held, typed, used, tried, limits)
        worked, weeks = _rehearsed(voices, dates, limits)
        for _ in range(TRIES):
            idle = [date for date in dates if date not in typed and date not in worked and _works(held, date)]
            if not idle:
                break
            for date in idle:
                tried[date] = (*tried.get(date, ()), held[date].base)
            _propose(voices, idle, held, typed, used, tried, limits)
            worked, weeks = _rehearsed(voices, dates, limits)
        while idle := [one for one in dates if one not in typed and one not in worked and _works(held, one)]:
            for date in idle:
                held[date] = _easy(voices[0].request, date, limits)
            worked, weeks = _rehearsed(voices, dates, limits)  # an easy night leaves room for other work
        for date in sorted(worked):
            used.setdefault(held[date].base, []).append(date)
        _settle(voices, dates, held, typed, weeks, limits)
    return {date: night for date, night in held.items() if date not in typed}, voices


def _settle(
    voices: Sequence[Voice],
    dates: Sequence[dt.date],
    held: dict[dt.date, TypedNight],
    typed: Mapping[dt.date, TypedNight],
    rehearsed: Mapping[str, FoundWeek | None],
    limits: Limits,
) -> None:
    """The week of every voice stands; an easy night ends for all when enough of them are done."""
    weeks = [
        rehearsed[key] if (key := voice.request.runner_key) in rehearsed else voice.try_week(dates[0])
        for voice in voices
    ]
    lasting: dict[dt.date, list[tuple[float, int]]] = {}  # seconds, and how many of those come
    for voice, found in zip(voices, weeks, strict=True):
        for session in found.week.sessions if found else ():
            if session.role == "club" and session.date in held:
                lasting.setdefault(session.date, []).append((session.duration_s, voice.come_on(session.date)))
    ended = {date for date in dates if date not in typed and date in lasting and runs_easily(held[date])}
    for date in ended:
        held[date] = _easy(voices[0].request, date, limits, lasting[date])
    for voice, found in zip(voices, weeks, strict=True):
        if found is not None and any(session.date in ended for session in found.week.sessions):
            found = voice.try_week(dates[0])
        if found is not None:
            voice.settle(found)


def _works(held: Mapping[dt.date, TypedNight], date: dt.date) -> bool:
    return date in held and not runs_easily(held[date])


def _propose(
    voices: Sequence[Voice],
    dates: Sequence[dt.date],
    held: dict[dt.date, TypedNight],
    typed: Mapping[dt.date, TypedNight],
    used: Mapping[str, list[dt.date]],
    tried: Mapping[dt.date, tuple[str, ...]],
    limits: Limits,
) -> None:
    """Proposals for these nights of one week; a kind that stands in the week already has had its turn."""
    now = {kind: list(dates) for kind, dates in used.items()}
    for date in dates:
        night = typed.get(date) or _proposal(voices, date, now, tried.get(date, ()), limits)
        if night is None:
            held.pop(date, None)
            continue
        held[date] = night
        now.setdefault(night.base, []).append(date)


def _rehearsed(
    voices: Sequence[Voice], dates: Sequence[dt.date], limits: Limits
) -> tuple[set[dt.date], dict[str, FoundWeek | None]]:
    """The nights of a week on which enough of those who come, and may work at all, would work.

    And the week of each of them, by the key of the runner.
    """
    works, comes = Counter[dt.date](), Counter[dt.date]()
    weeks: dict[str, FoundWeek | None] = {}
    for voice in voices:
        if not voice.works:
            continue
        found = weeks[voice.request.runner_key] = voice.try_week(dates[0])
        for session in found.week.sessions if found else ():
            if session.role == "club" and session.date in dates:
                number = voice.come_on(session.date)
                comes[session.date] += number
                night = voice.request.nights.get(session.date)
                works[session.date] += number if night and group_reason(session) else 0
    share = limits.number("squad.fewest_workers")
    return {date for date in dates if works[date] and works[date] >= share * comes[date]}, weeks


def _club_dates(voices: Sequence[Voice]) -> Iterator[dt.date]:
    """Every night of the blocks before race week to which at least two come."""
    if not voices:
        return
    days = Counter[str]()
    for voice in voices:
        days.update(voice.comes)
    race_day, off = voices[0].request.race.date, voices[0].request.training.nights_off
    date = min(voice.request.first_day for voice in voices)
    last = race_day - dt.timedelta(days=race_day.weekday() + 1)
    while date <= last:
        if days[WEEKDAYS[date.weekday()]] > 1 and date not in off:
            yield date
        date += DAY


@dataclass(frozen=True, slots=True)
class _Need:
    """How much a kind is asked for, and by whom."""

    weight: float
    askers: tuple[tuple[int, Voice, Demand | None], ...]  # how many of them come
    demand: Demand | None

    def usual(self) -> tuple[Voice, Demand | None]:
        """The middle one of those who ask, at the level at which most of them stand."""
        levels = Counter[str]()
        for comes, voice, _ in self.askers:
            levels[voice.request.level] += comes
        level = max(levels, key=lambda name: (levels[name], LEVELS.index(name)))
        alike = [one for one in self.askers if one[1].request.level == level]
        alike.sort(key=lambda one: (one[1].planner.context.baseline.work_s, one[1].request.runner_key))
        half = levels[level] / 2
        for comes, voice, demand in alike:
            half -= comes
            if half <= 0:
                return voice, demand
        raise AssertionError("somebody asks")


def _proposal(
    voices: Sequence[Voice],
    date: dt.date,
    used: Mapping[str, list[dt.date]],
    tried: Sequence[str],
    limits: Limits,
) -> TypedNight | None:
    needs: dict[str, _Need] = {}
    loaded = light = easy = 0
    for voice in voices:
        week, comes = voice.week_of(date), voice.come_on(date)
        if week is None or not comes or not voice.works:
            continue
        frame, kind = week
        if kind not in ("loaded", "taper", "recovery", "tune_up"):
            easy += comes
            continue
        if kind == "loaded":
            loaded += comes
        else:
            light += comes
        for turn in _turns(voice, frame, used, known_only=kind != "loaded"):
            if turn.kind in tried:
                continue
            _add(needs, voice, turn, comes * _overdue(voice, frame, turn, date, used), comes)
    if easy >= loaded + light:
        return _easy(voices[0].request, date, limits) if easy else None
    needs = _by_turns(needs, date, used)
    if not needs:
        return _easy(voices[0].request, date, limits) if light > loaded or tried else None
    order = list(_WORDS)
    for best in sorted(needs, key=lambda kind: (-round(needs[kind].weight, 6), order.index(kind))):
        times = len(used.get(best, ()))
        if (night := _written(needs[best], best, date, times, limits, light=light > loaded)) is not None:
            return night
    return _easy(voices[0].request, date, limits)


def _by_turns(needs: dict[str, _Need], date: dt.date, used: Mapping[str, list[dt.date]]) -> dict[str, _Need]:
    """What is left to choose from: flat rhythm where a week passed without, then the climbs of the course."""

    def since(kinds: Iterable[str]) -> float:
        last = max((used[kind][-1] for kind in kinds if kind in used), default=None)
        return float("inf") if last is None else (date - last).days

    flat = {kind: need for kind, need in needs.items() if kind in FLAT_RHYTHM}
    if flat and since(FLAT_RHYTHM) > 7:
        return flat
    climbs = {kind: need for kind, need in needs.items() if kind in HILL_KINDS and need.demand is not None}
    return climbs if climbs and since(climbs) > CLIMBS_EVERY else needs


def _add(needs: dict[str, _Need], voice: Voice, turn: Turn, weight: float, comes: int) -> None:
    before = needs.get(turn.kind, _Need(0.0, (), None))
    askers = (*before.askers, (comes, voice, turn.demand))
    needs[turn.kind] = _Need(before.weight + weight, askers, before.demand or turn.demand)


def _turns(voice: Voice, frame: Frame, used: Mapping[str, list[dt.date]], *, known_only: bool) -> list[Turn]:
    turns = [turn for turn in turns_for(voice.planner, frame) if turn.kind in _WORDS]
    if not known_only:
        return turns
    return [turn for turn in turns if turn.kind in _IN_LIGHT_WEEKS and turn.kind in used]


def _overdue(
    voice: Voice, frame: Frame, turn: Turn, date: dt.date, used: Mapping[str, list[dt.date]]
) -> float:
    """How far a kind is past its turn, as a multiple of the days between two turns.

    A kind that has not come yet waits from the first day of its phase, and is nearly due then.
    """
    if turn.kind in used:
        return ((date - used[turn.kind][-1]).days + 3) / turn.every_days
    began = next(week.first_day for week, _ in voice.weeks if week.phase == frame.phase)
    return ((date - began).days + 3) / turn.every_days + 0.9


def _easy(
    request: Request, date: dt.date, limits: Limits, lasting: Sequence[tuple[float, int]] = ()
) -> TypedNight:
    """An easy run together, as long as those of enough who come; to each their own before that is known."""
    text = request.library.template("group_easy").title
    if lasting:
        lasting = sorted(lasting)
        reached = list(accumulate(comes for _, comes in lasting))
        enough = bisect_left(reached, limits.number("squad.easy_night") * reached[-1])
        minutes = min(math.ceil(lasting[enough][0] / 600), _evening_min(request, date) // 10) * 10
        text = f"easy {minutes} min"
    return _read(f"{text}{OR_OWN}", date, request, limits)


def _read(text: str, date: dt.date, request: Request, limits: Limits) -> TypedNight:
    name = f"night_{date:%Y_%m_%d}"
    return read_night(text, name=name, library=request.library, limits=limits).as_proposed()


def _evening_min(request: Request, date: dt.date) -> int:
    day = WEEKDAYS[date.weekday()]
    return next(night.minutes for night in request.training.club_nights if night.day == day)


def _written(
    need: _Need, kind: str, date: dt.date, times: int, limits: Limits, *, light: bool
) -> TypedNight | None:
    """The line a coach would type, sized for the runners who ask for it most, and read back.

    None where the evening holds too little of it to be worth a warm-up.
    """
    voice, demand = need.usual()
    planner, week = voice.planner, voice.week_of(date)
    phase = week[0].phase if week else "specific"
    order = replace(
        base_order(planner, phase),
        kind=kind,
        demand=demand,
        occurrence=times,
        dose=0.0 if light else None,
        hills=True,
    )
    library = planner.request.library
    draft = write_session(order, library, limits)
    main = draft.main_set or MainSet(1, draft.work_s)
    rests = [step.duration_s for step in draft.steps if step.kind == "recovery" and step.set_no == 1]
    rest_s = rests[-1] if rests and main.repeats > 1 else None
    main = _within(planner, date, main, rest_s)
    if not worth_warming_up(main, limits.numbers("session.worth_warming_up")):
        return None
    text = night_text(kind, main, rest_s)
    return _read(text, date, planner.request, limits)


def _within(planner: Planner, date: dt.date, main: MainSet, rest_s: float | None) -> MainSet:
    """The repeats of those who do most, as many as the evening holds."""
    most = max(2, round(main.repeats / night_share(planner.request.level))) if rest_s is not None else 1
    limits, evening = planner.context.limits, _evening_min(planner.request, date)
    room_s = (evening - limits.number("squad.warm_up") - limits.number("squad.cool_down")) * 60
    if rest_s is None:
        return MainSet(1, min(main.seconds, room_s))
    holds = int((room_s + rest_s) // (main.seconds + rest_s))
    return MainSet(min(most, holds), main.seconds)


def night_text(kind: str, main: MainSet, rest_s: float | None) -> str:
    """A session in a coach's words.

    >>> night_text("intervals", MainSet(5, 180), 120)
    'intervals 5 x 3 min, 2 min easy jog'
    """
    effort, rest = _WORDS[kind]
    if kind == "long_hill_reps" and main.seconds <= SHORT_S:  # as short as the climb they stand for
        effort = "long hills"
    if rest_s is None:
        return f"{in_minutes(main.seconds)} min {effort}"
    return f"{effort} {main.repeats} x {_size(main.seconds)}, {_size(rest_s)} {rest}"


def _size(seconds: float) -> str:
    return f"{seconds / 60:g} min" if seconds % 60 == 0 else f"{seconds:g} s"
