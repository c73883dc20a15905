"""Reading a block folder: every mistake in every file in one run, with its line."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

from planbuilder.block.club import read_club
from planbuilder.block.course_files import inside, wrong_course
from planbuilder.block.finish_times import wrong_time
from planbuilder.block.roster import read_roster
from planbuilder.block.types import Block, BlockRunner
from planbuilder.rules.library import load_library
from planbuilder.rules.typed_night import TypedNight
from planbuilder.settings.limits import Limits, default_limits
from planbuilder.settings.models import BlockSettings, RaceSettings, RunnerSettings, TuneUp
from planbuilder.settings.names import without_accents
from planbuilder.settings.problems import InputProblems, Problem, did_you_mean
from planbuilder.settings.toml_lines import KeyPath, Lines, line_of, parse_model, read_toml
from planbuilder.units import MARATHON_M, say_date

BLOCK_FILE: Final = "block.toml"
_SESSIONS_FILE: Final = "sessions.toml"


def read_block(folder: Path, *, skip_bad: bool = False) -> Block:
    """The block in a folder.

    Raises InputProblems that holds every mistake of block.toml, roster and sessions.toml together. With
    ``skip_bad`` the rows of the roster that have one are left out and told of in ``Block.skipped``.
    """
    try:
        there, is_folder = folder.exists(), folder.is_dir()
    except OSError:  # a name that is longer than a disk takes
        there = is_folder = False
    if not is_folder:
        found = "it is a file" if there else "nothing is there"
        raise InputProblems(
            [Problem(str(folder), None, "the block must be a folder with a block.toml", found)]
        )
    shown_as = str(folder / BLOCK_FILE)
    data, lines = read_toml(folder / BLOCK_FILE, shown_as=shown_as)
    settings, problems = parse_model(BlockSettings, data, lines, shown_as=shown_as)
    checker = _Checker(shown_as, lines, folder)
    limits, more = _with_overrides(data.get("limits"), checker)
    problems += more
    library = None
    try:
        extra = folder / _SESSIONS_FILE
        library = load_library(extra if extra.exists() else None, shown_as=str(extra))
    except InputProblems as error:
        problems += error.problems
    entries: list[_Entry] = []
    skipped: list[Problem] = []
    left_out = 0
    nights: dict[dt.date, TypedNight] = {}
    off: dict[dt.date, str] = {}
    if settings is not None and library is not None:
        club, wrong_nights = read_club(settings.training.club, checker.inside, library, limits)
        problems += wrong_nights
        off = dict.fromkeys(settings.training.nights_off, shown_as) | dict(club.off)
        settings, library, nights = club.applied_to(settings, library)
    if settings is not None:
        entries, wrong_rows, left_out = _entries(settings, checker)
        (skipped if skip_bad else problems).extend(wrong_rows)
        problems += checker.check(settings, entries)
        good: list[_Entry] = []
        for entry, wrong in zip(entries, checker.check_entries(settings, entries), strict=True):
            passed_over = skip_bad and entry.in_roster and bool(wrong)
            (skipped if passed_over else problems).extend(wrong)
            left_out += passed_over
            good += [] if passed_over else [entry]
        entries = good
        if not entries and not problems and settings.training.roster is not None:
            problems += skipped or [_nobody(folder / settings.training.roster)]
    if problems or settings is None or library is None:
        raise InputProblems(problems)
    race = settings.race
    return Block(
        folder=folder,
        key=race.id or slug(race.name),
        settings=settings,
        runners=tuple(BlockRunner(runner_key(entry.runner), entry.runner) for entry in entries),
        first_day=settings.training.first_day or default_first_day(race.date, race.distance_m),
        limits=limits,
        library=library,
        skipped=tuple(skipped),
        rows_left_out=left_out if skip_bad else 0,
        nights=nights,
        off=off,
    )


_SPELLED: Final = str.maketrans(
    {"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i"}
)  # letters that are not a plain one with a mark


def slug(name: str) -> str:
    """A name as a folder or address part: lower case letters, digits and hyphens; may be empty.

    >>> slug("Inês A."), slug("10 km – Quarry"), slug("Größl Ł")
    ('ines-a', '10-km-quarry', 'grossl-l')
    """
    plain = without_accents(name).translate(_SPELLED).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")


def runner_key(runner: RunnerSettings) -> str:
    """The runner's fixed key: the ``id`` setting, else the slug of the name."""
    return runner.id or slug(runner.name)


def default_first_day(race_day: dt.date, distance_m: float) -> dt.date:
    """The Monday of 12 weeks (marathon: 16), race week the last of them.

    >>> default_first_day(dt.date(2027, 5, 16), 21097.5)
    datetime.date(2027, 2, 22)
    """
    weeks = 16 if distance_m >= MARATHON_M else 12
    return race_day - dt.timedelta(days=race_day.weekday(), weeks=weeks - 1)


def _nobody(roster: Path) -> Problem:
    must = "the roster must hold a runner"
    return Problem(str(roster), None, must, "it has a header alone", "Write one runner a row below it.")


def _with_overrides(typed: Any, checker: _Checker) -> tuple[Limits, list[Problem]]:
    """The limits with the coach's numbers; a wrong name or shape is a problem."""
    limits, problems = default_limits(), []
    names = [limit.name for limit in limits]
    overrides: dict[str, Any] = {}
    for section, entries in typed.items() if isinstance(typed, Mapping) else ():
        for key, value in entries.items() if isinstance(entries, Mapping) else ():
            name = f"{section}.{key}"
            at: KeyPath = ("limits", section, key)
            if name not in limits:
                problems.append(
                    checker.problem(
                        at, f'"{name}" must be the name of a limit', "it is not", did_you_mean(name, names)
                    )
                )
            elif not _same_shape(value, limits.limit(name).value):
                ours = limits.limit(name)
                problems.append(
                    checker.problem(
                        at, f"limits.{name} must look like {ours.value} ({ours.unit})", f"not {value}"
                    )
                )
            elif wrong := _out_of_reason(value, (ours := limits.limit(name)).value, ours.unit):
                must = f"limits.{name} must be near {ours.value} ({ours.unit}), not {value}"
                problems.append(checker.problem(at, must, wrong))
            else:
                overrides[name] = value
    return limits.with_overrides(overrides), problems


_TIMES_OURS: Final = 100.0  # so far may a coach's number be from ours
_NONE_OF_OURS: Final = 10.0  # and so large where ours is 0


def _out_of_reason(value: Any, default: Any, unit: str) -> str:
    """What no coach can mean by a number of the right shape; "" where there is nothing.

    >>> _out_of_reason(-1, 3, "km"), _out_of_reason([0.9, 0.6], [0.65, 0.85], "share")
    ('it is negative', 'its numbers are turned round')
    """
    if isinstance(default, Mapping):
        return next(filter(None, (_out_of_reason(value[key], default[key], unit) for key in value)), "")
    if isinstance(default, list):
        span = len(default) == 2 and all(isinstance(one, int | float) for one in default) and "," not in unit
        if span and default[0] <= default[1] and value[0] > value[1]:
            return "its numbers are turned round"
        pairs = zip(value, default, strict=True)
        return next(filter(None, (_out_of_reason(one, ours, unit) for one, ours in pairs)), "")
    if isinstance(default, bool) or not isinstance(default, int | float):
        return ""
    if not math.isfinite(value) or abs(value) > max(abs(default) * _TIMES_OURS, _NONE_OF_OURS):
        return "it is too large"
    return "it is negative" if value < 0 <= default else ""


def _same_shape(value: Any, default: Any) -> bool:
    if isinstance(default, bool) or isinstance(value, bool):
        return isinstance(default, bool) and isinstance(value, bool)
    if isinstance(default, int | float):
        return isinstance(value, int | float)
    if isinstance(default, list):
        return (
            isinstance(value, list) and len(value) == len(default) and all(map(_same_shape, value, default))
        )
    if isinstance(default, dict):
        return (
            isinstance(value, dict)
            and set(value) <= set(default)
            and all(_same_shape(value[key], default[key]) for key in value)
        )
    return isinstance(value, type(default))


@dataclass(frozen=True, slots=True)
class _Entry:
    """A runner with the place where each of their settings stands."""

    runner: RunnerSettings
    problem: Callable[..., Problem]  # (path inside the runner, must, found, todo)
    in_roster: bool = False

    def key_of_its_own(self, key: str) -> str:
        """What to do where another runner has the key."""
        if self.in_roster:
            return f'Write more of the surname, or add a column "id" and give one of them {key}-2.'
        return f'Give one of them a key of its own: id = "{key}-2".'


def _entries(settings: BlockSettings, checker: _Checker) -> tuple[list[_Entry], list[Problem], int]:
    """The runners of block.toml and of the roster; what is wrong with rows of the roster, and how many."""
    entries = [_Entry(runner, checker.of_runner(i)) for i, runner in enumerate(settings.runners)]
    if settings.training.roster is None:
        return entries, [], 0
    path = checker.inside(settings.training.roster)
    if path is None:
        outside = checker.problem(
            ("training", "roster"),
            "the roster must be inside the block folder",
            f'not "{settings.training.roster}"',
        )
        return entries, [outside], 0
    try:
        roster = read_roster(path, shown_as=str(path))
    except InputProblems as error:
        return entries, list(error.problems), 0
    entries += [
        _Entry(runner, checker.of_row(str(path), line), in_roster=True)
        for runner, line in zip(roster.runners, roster.lines, strict=True)
    ]
    return entries, list(roster.problems), roster.left_out


class _Checker:
    """The mistakes that no single setting shows: dates, keys, paths."""

    def __init__(self, shown_as: str, lines: Lines, folder: Path) -> None:
        self._shown_as, self._lines, self._folder = shown_as, lines, folder
        self._most_weeks = int(default_limits().number("phase.most_weeks"))

    def problem(self, at: KeyPath, must: str, found: str, todo: str = "") -> Problem:
        return Problem(self._shown_as, line_of(at, self._lines), must, found, todo)

    def of_runner(self, index: int) -> Callable[..., Problem]:
        """Problems of the runner at this place in block.toml."""

        def problem(at: KeyPath, must: str, found: str, todo: str = "") -> Problem:
            return self.problem(("runner", index, *at), must, found, todo)

        return problem

    def of_row(self, shown_as: str, line: int) -> Callable[..., Problem]:
        """Problems of the runner in this row of the roster."""

        def problem(_at: KeyPath, must: str, found: str, todo: str = "") -> Problem:
            return Problem(shown_as, line, must, found, todo)

        return problem

    def inside(self, path: str, *, shared: bool = False) -> Path | None:
        """The path in the block folder (or beside it, for what blocks share), None where it leaves that."""
        return inside(self._folder, path, shared=shared)

    def check(self, settings: BlockSettings, entries: Sequence[_Entry]) -> list[Problem]:
        race, first = settings.race, settings.training.first_day
        problems: list[Problem] = []
        if first is not None and first >= race.date:
            problems.append(
                self.problem(
                    ("training", "first_day"),
                    f"training.first_day must be before the race on {say_date(race.date, year=True)}",
                    f"not {first}",
                )
            )
        elif first is not None and first < self._earliest(race.date):
            problems.append(
                self.problem(
                    ("training", "first_day"), *self._too_long("training.first_day", first, race.date)
                )
            )
        first = first or default_first_day(race.date, race.distance_m)
        problems += _start_problems(("race", "start_time"), "race", race, race, self.problem)
        for number, tune_up in enumerate(settings.training.tune_ups):
            at: KeyPath = ("training", "tune_ups", number)
            problems += _start_problems((*at, "start_time"), tune_up.name, tune_up, race, self.problem)
            problems += _tune_up_problems(tune_up, at, self.problem, first, race.date)
            problems += self._course_file(tune_up.course, (*at, "course"), self.problem)
        if race.course is not None:
            path = race.course if isinstance(race.course, str) else race.course.file
            problems += self._course_file(path, ("race", "course"), self.problem)
        return [*problems, *self._keys(settings, entries), *self._places(settings)]

    def check_entries(self, settings: BlockSettings, entries: Sequence[_Entry]) -> Iterator[list[Problem]]:
        """What is wrong with each runner; of two with one key the second is."""
        race, seen = settings.race, dict[str, str]()
        first = settings.training.first_day or default_first_day(race.date, race.distance_m)
        for entry in entries:
            found = list(self._runner(entry, settings, entry.runner.first_day or first))
            yield [*found, *self._key(entry, seen)]

    def _earliest(self, race_day: dt.date) -> dt.date:
        return race_day - dt.timedelta(weeks=self._most_weeks)

    def _too_long(self, named: str, first: dt.date, race_day: dt.date) -> tuple[str, str]:
        earliest = self._earliest(race_day)
        return f"{named} must be at most {self._most_weeks} weeks before the race: {earliest}", f"not {first}"

    def _runner(self, entry: _Entry, settings: BlockSettings, first: dt.date) -> Iterator[Problem]:
        runner, race = entry.runner, settings.race
        if first >= race.date and runner.first_day is not None:
            yield entry.problem(
                ("first_day",),
                f"the first day of {runner.name} must be before the race on {say_date(race.date, year=True)}",
                f"not {runner.first_day}",
            )
        elif runner.first_day is not None and first < self._earliest(race.date):
            named = f"the first day of {runner.name}"
            yield entry.problem(("first_day",), *self._too_long(named, first, race.date))
        for number, result in enumerate(runner.results):
            at: KeyPath = ("results", number)
            if result.date >= race.date:
                yield entry.problem(
                    (*at, "date"), f"a result of {runner.name} must be before race day", f"not {result.date}"
                )
            yield from self._course_file(result.course, (*at, "course"), entry.problem)
            what = f"the time of {runner.name} on {result.date}"
            yield from _time_problems(entry, (*at, "time"), what, result.time_s, result.distance_m)
        if runner.goal_time_s is not None:
            what = f"the goal time of {runner.name}"
            yield from _time_problems(entry, ("goal_time",), what, runner.goal_time_s, race.distance_m)
        for number, away in enumerate(runner.away):
            if away.last_day < away.first_day:
                yield entry.problem(
                    ("away", number, "to"),
                    f"the last day away of {runner.name} must not be before the first, {away.first_day}",
                    f"not {away.last_day}",
                )
        for number, tune_up in enumerate(runner.tune_ups):
            at = ("tune_ups", number)
            yield from _start_problems((*at, "start_time"), tune_up.name, tune_up, race, entry.problem)
            yield from _tune_up_problems(tune_up, at, entry.problem, first, race.date)
            yield from self._course_file(tune_up.course, (*at, "course"), entry.problem)

    def _keys(self, settings: BlockSettings, entries: Sequence[_Entry]) -> Iterator[Problem]:
        if not (settings.race.id or slug(settings.race.name)):
            yield self.problem(
                ("race", "name"),
                "the race name must hold a letter or digit that can stand in an address",
                f'not "{settings.race.name}"',
                'Or give it a key: id = "spring-half".',
            )
        if not entries and settings.training.roster is None:
            yield self.problem(
                ("runner",), "the block must have a runner", "none was found", "Add a [[runner]] table."
            )

    def _key(self, entry: _Entry, seen: dict[str, str]) -> Iterator[Problem]:
        runner, key = entry.runner, runner_key(entry.runner)
        at = ("id" if runner.id else "name",)
        if not key or key != slug(key):
            yield entry.problem(
                at,
                "a runner's key must be lower case letters, digits and hyphens",
                f'not "{runner.id or runner.name}"',
                'Add a column "id" and write ines-a there.'
                if entry.in_roster
                else 'Give one: id = "ines-a".',
            )
        elif key in seen:
            yield entry.problem(
                at,
                f'two runners must not share the key "{key}"',
                f"{runner.name} and {seen[key]} do",
                entry.key_of_its_own(key),
            )
        else:
            seen[key] = runner.name

    def _course_file(self, path: str, at: KeyPath, problem: Callable[..., Problem]) -> Iterator[Problem]:
        wrong = wrong_course(self._folder, path)
        if wrong is not None:
            yield problem(at, *wrong)

    def _places(self, settings: BlockSettings) -> Iterator[Problem]:
        race = settings.race
        places: list[tuple[KeyPath, float]] = []
        places += [(("race", "note", i, "at"), note.at_m) for i, note in enumerate(race.notes)]
        places += [(("race", "station", i, "at"), station.at_m) for i, station in enumerate(race.stations)]
        for at, place_m in places:
            if not 0 <= place_m <= race.distance_m:
                yield self.problem(at, "a place must be on the course", f"{place_m / 1000:.1f} km is not")


def _tune_up_problems(
    tune_up: TuneUp, at: KeyPath, problem: Callable[..., Problem], first: dt.date, race_day: dt.date
) -> Iterator[Problem]:
    if not first <= tune_up.date < race_day:
        yield problem(
            (*at, "date"),
            f"the tune-up race {tune_up.name} must be between {first} and the day before the race",
            f"not {tune_up.date}",
        )


def _start_problems(
    at: KeyPath, name: str, event: TuneUp | RaceSettings, race: RaceSettings, problem: Callable[..., Problem]
) -> Iterator[Problem]:
    """A start in the hour that the clocks skip is one at which nobody can stand."""
    if event.start_time is None:
        return
    typed, zone = dt.datetime.combine(event.date, event.start_time), ZoneInfo(race.timezone)
    there = typed.replace(tzinfo=zone).astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None)
    if there != typed:
        yield problem(
            at,
            f"the start of the {name} must be a time that the clocks of {race.timezone} show on {event.date}",
            f"not {typed:%H:%M}, which they skip",
            f"When that hour is over it is {there:%H:%M}." if there > typed else "",
        )


def _time_problems(
    entry: _Entry, at: KeyPath, what: str, time_s: float, distance_m: float
) -> Iterator[Problem]:
    wrong = wrong_time(what, time_s, distance_m)
    if wrong is not None:
        yield entry.problem(at, *wrong)
