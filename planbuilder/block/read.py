"""Reading a block folder: every mistake in every file in one run, with its line."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from planbuilder.block.types import Block, BlockRunner
from planbuilder.rules.library import load_library
from planbuilder.settings.limits import Limits, default_limits
from planbuilder.settings.models import BlockSettings, RunnerSettings, TuneUp
from planbuilder.settings.problems import InputProblems, Problem, did_you_mean
from planbuilder.settings.toml_lines import KeyPath, Lines, line_of, parse_model, read_toml
from planbuilder.units import MARATHON_M, say_date

BLOCK_FILE: Final = "block.toml"
_SESSIONS_FILE: Final = "sessions.toml"
_FASTEST_S_PER_KM: Final = 120.0  # quicker than any human over 800 m or more: a slip of the pen
_SLOWEST_S_PER_KM: Final = 1200.0  # slower than a stroll


def read_block(folder: Path) -> Block:
    """The block in a folder.

    Raises InputProblems that holds every mistake of block.toml and sessions.toml together.
    """
    if not folder.is_dir():
        found = "it is a file" if folder.exists() else "nothing is there"
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
    if settings is not None:
        problems += checker.check(settings)
    if problems or settings is None or library is None:
        raise InputProblems(problems)
    race = settings.race
    return Block(
        folder=folder,
        key=race.id or slug(race.name),
        settings=settings,
        runners=tuple(BlockRunner(runner_key(runner), runner) for runner in settings.runners),
        first_day=settings.training.first_day or default_first_day(race.date, race.distance_m),
        limits=limits,
        library=library,
    )


def slug(name: str) -> str:
    """A name as a folder or address part: lower case letters, digits and hyphens; may be empty.

    >>> slug("Inês A."), slug("10 km – Quarry")
    ('ines-a', '10-km-quarry')
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")


def runner_key(runner: RunnerSettings) -> str:
    """The runner's fixed key: the ``id`` setting, else the slug of the name."""
    return runner.id or slug(runner.name)


def default_first_day(race_day: dt.date, distance_m: float) -> dt.date:
    """Monday 12 weeks (marathon: 16) before race week ends.

    >>> default_first_day(dt.date(2027, 5, 16), 21097.5)
    datetime.date(2027, 2, 22)
    """
    weeks = 16 if distance_m >= MARATHON_M else 12
    return race_day - dt.timedelta(days=race_day.weekday(), weeks=weeks - 1)


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
            else:
                overrides[name] = value
    return limits.with_overrides(overrides), problems


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


class _Checker:
    """The mistakes that no single setting shows: dates, keys, paths."""

    def __init__(self, shown_as: str, lines: Lines, folder: Path) -> None:
        self._shown_as, self._lines, self._folder = shown_as, lines, folder

    def problem(self, at: KeyPath, must: str, found: str, todo: str = "") -> Problem:
        return Problem(self._shown_as, line_of(at, self._lines), must, found, todo)

    def check(self, settings: BlockSettings) -> list[Problem]:
        return [
            *self._dates(settings),
            *self._keys(settings),
            *self._paths(settings),
            *self._places(settings),
            *self._paces(settings),
        ]

    def _dates(self, settings: BlockSettings) -> Iterator[Problem]:
        race, first = settings.race, settings.training.first_day
        if first is not None and first >= race.date:
            yield self.problem(
                ("training", "first_day"),
                f"training.first_day must be before the race on {say_date(race.date, year=True)}",
                f"not {first}",
            )
        first = first or default_first_day(race.date, race.distance_m)
        for at, tune_up in _tune_ups(settings):
            if not first <= tune_up.date < race.date:
                yield self.problem(
                    (*at, "date"),
                    f"the tune-up race {tune_up.name} must be between {first} and the day before the race",
                    f"not {tune_up.date}",
                )
        for index, runner in enumerate(settings.runners):
            if runner.first_day is not None and runner.first_day >= race.date:
                yield self.problem(
                    ("runner", index, "first_day"),
                    f"the first day of {runner.name} must be before the race on {say_date(race.date, year=True)}",
                    f"not {runner.first_day}",
                )
            for number, result in enumerate(runner.results):
                if result.date >= race.date:
                    yield self.problem(
                        ("runner", index, "results", number, "date"),
                        f"a result of {runner.name} must be before race day",
                        f"not {result.date}",
                    )
            for number, away in enumerate(runner.away):
                if away.last_day < away.first_day:
                    yield self.problem(
                        ("runner", index, "away", number, "to"),
                        f"the last day away of {runner.name} must not be before the first, {away.first_day}",
                        f"not {away.last_day}",
                    )

    def _keys(self, settings: BlockSettings) -> Iterator[Problem]:
        if not (settings.race.id or slug(settings.race.name)):
            yield self.problem(
                ("race", "name"),
                "the race name must hold a letter or digit that can stand in an address",
                f'not "{settings.race.name}"',
                'Or give it a key: id = "spring-half".',
            )
        if not settings.runners and settings.training.roster is None:
            yield self.problem(
                ("runner",), "the block must have a runner", "none was found", "Add a [[runner]] table."
            )
        seen: dict[str, str] = {}
        for index, runner in enumerate(settings.runners):
            key, at = runner_key(runner), ("runner", index, "id" if runner.id else "name")
            if not key or key != slug(key):
                yield self.problem(
                    at,
                    "a runner's key must be lower case letters, digits and hyphens",
                    f'not "{runner.id or runner.name}"',
                    'Give one: id = "ines-a".',
                )
            elif key in seen:
                yield self.problem(
                    at,
                    f'two runners must not share the key "{key}"',
                    f"{runner.name} and {seen[key]} do",
                    f'Give one of them a key of its own: id = "{key}-2".',
                )
            seen[key] = runner.name

    def _paths(self, settings: BlockSettings) -> Iterator[Problem]:
        for at, path in _course_paths(settings):
            inside = (self._folder / path).resolve()
            if not inside.is_relative_to(self._folder.resolve()):
                yield self.problem(
                    at, "a course file must be inside the block folder", f'not "{path}"', "Copy it in."
                )
            elif not inside.exists():
                yield self.problem(
                    at, "a course file must exist in the block folder", f'"{path}" is not there'
                )

    def _places(self, settings: BlockSettings) -> Iterator[Problem]:
        race = settings.race
        places: list[tuple[KeyPath, float]] = []
        places += [(("race", "note", i, "at"), note.at_m) for i, note in enumerate(race.notes)]
        places += [(("race", "station", i, "at"), station.at_m) for i, station in enumerate(race.stations)]
        for at, place_m in places:
            if not 0 <= place_m <= race.distance_m:
                yield self.problem(at, "a place must be on the course", f"{place_m / 1000:.1f} km is not")

    def _paces(self, settings: BlockSettings) -> Iterator[Problem]:
        for index, runner in enumerate(settings.runners):
            timed: list[tuple[KeyPath, float, float]] = [
                (("runner", index, "results", number, "time"), result.time_s, result.distance_m)
                for number, result in enumerate(runner.results)
            ]
            if runner.goal_time_s is not None:
                timed.append((("runner", index, "goal_time"), runner.goal_time_s, settings.race.distance_m))
            for at, time_s, distance_m in timed:
                pace = time_s / distance_m * 1000
                if not _FASTEST_S_PER_KM <= pace <= _SLOWEST_S_PER_KM:
                    yield self.problem(
                        at,
                        f"a time of {runner.name} must be one that a person can run or walk",
                        f"{pace / 60:.1f} min per km is not",
                        "Is it hours:minutes:seconds?",
                    )


def _tune_ups(settings: BlockSettings) -> Iterator[tuple[KeyPath, TuneUp]]:
    for number, tune_up in enumerate(settings.training.tune_ups):
        yield ("training", "tune_ups", number), tune_up
    for index, runner in enumerate(settings.runners):
        for number, tune_up in enumerate(runner.tune_ups):
            yield ("runner", index, "tune_ups", number), tune_up


def _course_paths(settings: BlockSettings) -> Iterator[tuple[KeyPath, str]]:
    course = settings.race.course
    if course is not None:
        yield ("race", "course"), course if isinstance(course, str) else course.file
    for at, tune_up in _tune_ups(settings):
        if is_course_file(tune_up.course):
            yield (*at, "course"), tune_up.course
    for index, runner in enumerate(settings.runners):
        for number, result in enumerate(runner.results):
            if is_course_file(result.course):
                yield ("runner", index, "results", number, "course"), result.course


def is_course_file(words: str) -> bool:
    """Whether the ``course`` of a result or tune-up names a file and not a kind of ground."""
    return words not in ("flat", "rolling", "hilly")


def course_files(block: Block, runners: Sequence[BlockRunner]) -> tuple[str, ...]:
    """The course files that the results and tune-ups of these runners name, each once."""
    tune_ups = [*block.settings.training.tune_ups, *(race for r in runners for race in r.settings.tune_ups)]
    named = [
        *(race.course for race in tune_ups),
        *(res.course for r in runners for res in r.settings.results),
    ]
    return tuple(sorted({words for words in named if is_course_file(words)}))
