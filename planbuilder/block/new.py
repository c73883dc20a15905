"""Writing the smallest block.toml: a coach's answers in, a commented file that ``build`` takes unchanged."""

from __future__ import annotations

import contextlib
import datetime as dt
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final

import tomlkit

from planbuilder.block.finish_times import wrong_time
from planbuilder.block.read import BLOCK_FILE, default_first_day
from planbuilder.block.weekdays import read_weekday, read_weekdays
from planbuilder.outputs.safe_write import write_whole
from planbuilder.settings.models import SHORTEST_RUN_M, read_zone
from planbuilder.settings.problems import InputProblems, Problem
from planbuilder.units import parse_distance, parse_time

Check = Callable[[str], object]  # raises ValueError, the end of a sentence "… must be", for a wrong answer
Ask = Callable[[str, str, str | None, Check], str | None]  # question, kind of answer, default, check


@dataclass(frozen=True, slots=True)
class NewBlock:
    """The answers, as typed; quantities keep the words of the person who gave them."""

    race_name: str
    race_date: dt.date
    distance: str
    timezone: str
    start_time: str
    course: str | None  # a path inside the block folder
    first_day: dt.date
    runner_name: str = ""  # "" with a roster
    roster: str | None = None  # a path inside the block folder
    units: str = "km"
    weekly_distance: str | None = None
    longest_run: str | None = None
    days: Sequence[str] = ()
    long_run_day: str = "sunday"
    result: tuple[str, str, dt.date] | None = None  # distance, time, date
    goal_time: str | None = None
    age: int | None = None
    screening: str | None = None


def answers_from(given: Mapping[str, Any], *, ask: Ask | None, today: dt.date) -> NewBlock:
    """The answers from options and questions, in a coach's order; a race in the past is refused."""

    def answer(
        name: str, question: str, kind: str = "text", default: str | None = None, check: Check = _anything
    ) -> str | None:
        value = given.get(name)
        if value is not None and (ask is None or str(value) != default):
            found = str(value)
        elif ask is not None:
            return ask(question, kind, default, check)
        elif default is not None:
            found = default
        else:
            return None
        try:
            check(found)
        except ValueError as error:
            problem = Problem(_option(name), None, f"{_subject(question)} must be {error}")
            raise InputProblems([problem]) from None
        return found

    def required(
        name: str, question: str, kind: str = "text", default: str | None = None, check: Check = _anything
    ) -> str:
        value = answer(name, question, kind, default, _needed(check))
        if not value:
            problem = Problem(_option(name), None, f"{_subject(question)} must be given", "it is missing")
            raise InputProblems([problem])
        return value

    race_name = required("race_name", "Name of the race")
    race_date = dt.date.fromisoformat(
        required("race_date", "Race day (YYYY-MM-DD)", "date", check=_day(after=today))
    )
    distance = required("distance", "Distance", "distance", "half marathon")
    start_time = required("start_time", "Clock time of the start", "clock", "09:00")
    zone = machine_zone()
    asked = "Time zone of the race" + ("" if zone else " (this machine does not say one)")
    timezone = required("timezone", asked, "zone", zone or "UTC")
    course = answer("course", "Course file inside the folder, GPX or CSV (empty for none)")
    usual = max(default_first_day(race_date, parse_distance(distance)), today).isoformat()
    first_day = dt.date.fromisoformat(
        required("first_day", "First day of the block", "date", usual, _day(before=race_date))
    )
    block = partial(
        NewBlock,
        race_name=race_name,
        race_date=race_date,
        distance=distance,
        timezone=timezone,
        start_time=start_time,
        course=course,
        first_day=first_day,
    )
    runner_name, roster = "", given.get("roster")
    if not roster:
        runner_name = required(
            "runner_name", "First name of the runner, and an initial (or a roster file, such as roster.csv)"
        )
        roster = runner_name if runner_name.lower().endswith(".csv") else None
    if roster:
        return block(roster=str(roster))
    units = required("units", "Kilometres or miles (km, mi)", "units", "km")
    result_distance = answer("result_distance", "Distance of a recent race (empty for none)", "distance")
    result = None
    if result_distance:
        time = required("result_time", "Its time", "time", check=_raced(result_distance))
        day = required("result_date", "Its date", "date", check=_day(before=race_date))
        result = result_distance, time, dt.date.fromisoformat(day)
    age = answer("age", "Age on the first day (empty to leave out)", "age")
    return block(
        runner_name=runner_name,
        roster=None,
        units=units,
        result=result,
        goal_time=answer("goal_time", "The time hoped for (empty for none)", "time", check=_raced(distance)),
        weekly_distance=answer(
            "weekly_distance", "Distance a week, mean of the last four", f"distance {units}", check=_run
        ),
        longest_run=answer("longest_run", "Longest run of the last 30 days", f"distance {units}", check=_run),
        days=read_weekdays(required("days", "Days on which to run", default=_DAYS, check=read_weekdays)),
        long_run_day=read_weekday(
            required("long_run_day", "Day of the long run", default="sunday", check=read_weekday)
        ),
        age=int(age) if age else None,
        screening=answer(
            "screening", "Health questions: passed, cleared or needed (empty: unanswered)", "screening"
        ),
    )


_DAYS: Final = "tuesday, thursday, saturday, sunday"


def _subject(question: str) -> str:
    return question.partition(" (")[0].lower()


def _option(name: str) -> str:
    known = {"race_name": "race", "race_date": "date", "runner_name": "name"}
    return "--" + known.get(name, name).replace("_", "-")


def _anything(_: str) -> None:
    """Any answer will do."""


def _needed(check: Check) -> Check:
    def checked(text: str) -> None:
        if not text.strip():
            raise ValueError("given; it is missing")
        check(text)

    return checked


def _day(*, after: dt.date | None = None, before: dt.date | None = None) -> Check:
    """A check that a date lies on the right side of today or of race day."""

    def checked(text: str) -> None:
        day = dt.date.fromisoformat(text)
        if after is not None and day <= after:
            raise ValueError(f"a day to come, not {day}")
        if before is not None and day >= before:
            raise ValueError(f"before the race on {before}, not {day}")

    return checked


def _run(text: str) -> None:
    """A check that a distance is one that a runner covers in a week or in a run."""
    if text and parse_distance(text) < SHORTEST_RUN_M:
        raise ValueError(f"a distance of at least 1 km (m: metres, mi: miles), not {text!r}")


def _raced(distance: str) -> Check:
    """A check that a time over a distance is one that a person can run or walk."""

    def checked(text: str) -> None:
        wrong = wrong_time("it", parse_time(text), parse_distance(distance)) if text else None
        if wrong is not None:
            must, found, todo = wrong
            raise ValueError(f"{must.removeprefix('it must be ')}, {found}. {todo}".rstrip("."))

    return checked


def machine_zone() -> str | None:
    """The time zone of the coach's machine, where it says: TZ, /etc/localtime or /etc/timezone."""
    found = [os.environ.get("TZ", "").removeprefix(":")]
    found.append(str(Path("/etc/localtime").resolve()).partition("zoneinfo/")[2])
    with contextlib.suppress(OSError, UnicodeDecodeError):
        found.append(Path("/etc/timezone").read_text("utf-8").strip())
    for name in found:
        with contextlib.suppress(ValueError):
            return read_zone(name)
    return None


def write_new_block(folder: Path, answers: NewBlock) -> Path:
    """Write ``block.toml`` into the folder, made where it is missing; never over an existing one."""
    path = folder / BLOCK_FILE
    if path.exists():
        raise InputProblems(
            [Problem(str(path), None, "a new block must not replace another", "this file is there already")]
        )
    write_whole(path, new_block_text(answers).encode())
    return path


def _text(words: str) -> str:
    return tomlkit.item(words).as_string()


def new_block_text(answers: NewBlock) -> str:
    """The commented file. A line that was not answered stands as a comment with an example."""
    lines = [
        "# One race, and the runners who train for it. Lines that start with # are remarks and examples.",
        "",
        "[race]",
        f"name = {_text(answers.race_name)}",
        f"date = {answers.race_date}",
        f"distance = {_text(answers.distance)}",
        f"start_time = {_text(answers.start_time)}",
        f"timezone = {_text(answers.timezone)}",
        "# The course: a GPX or CSV file in this folder. Without one the plan assumes rolling ground.",
        _line("course", answers.course and _text(answers.course), '"course.gpx"'),
        "",
        "[training]",
        f"first_day = {answers.first_day}",
        "# A squad: a table in this folder, one runner a row, instead of the runners below.",
        _line("roster", answers.roster and _text(answers.roster), '"roster.csv"'),
        '# club_nights = [{ day = "tuesday", time = "19:00", place = "the track" }]',
        '# tune_ups = [{ name = "Quarry 10", date = 2027-04-18, distance = "10 km", course = "hilly" }]',
        "",
    ]
    return "\n".join(lines if answers.roster else [*lines, *_runner_lines(answers)])


def _runner_lines(answers: NewBlock) -> list[str]:
    days = ", ".join(_text(day) for day in answers.days)
    result = None
    if answers.result is not None:
        distance, time, date = answers.result
        result = f"[{{ distance = {_text(distance)}, time = {_text(time)}, date = {date} }}]"
    return [
        "[[runner]]",
        f"name = {_text(answers.runner_name)}",
        f"units = {_text(answers.units)}",
        "# Recent races, of the last 12 weeks. Without one the plan runs by effort and has a test.",
        _line("results", result, '[{ distance = "10 km", time = "48:30", date = 2027-01-17 }]'),
        _line("goal_time", answers.goal_time and _text(answers.goal_time), '"1:45:00"'),
        "# What was really run: the mean of the last four weeks, and the longest run of the last 30 days.",
        _line("weekly_distance", answers.weekly_distance and _text(answers.weekly_distance), '"40 km"'),
        _line("longest_run", answers.longest_run and _text(answers.longest_run), '"14 km"'),
        "# Minutes a week at an effort of 5 or more out of 10.",
        "# fast_minutes = 20",
        f"days = [{days}]",
        f"long_run_day = {_text(answers.long_run_day)}",
        _line("age", None if answers.age is None else str(answers.age), "40"),
        '# Health questions: "passed", "cleared" by a professional, "needed". Unanswered: easy only.',
        _line("screening", answers.screening and _text(answers.screening), '"passed"'),
        "",
    ]


def _line(key: str, value: str | None, example: str) -> str:
    return f"{key} = {value}" if value else f"# {key} = {example}"
