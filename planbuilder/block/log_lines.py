"""The cells of log.csv, read: whose line it is, what was run, how it felt, and what is wrong with it.

Receives: a block, the text of the file or one line.
Gives: lines with their ids, and a ``Problem`` with its line for everything that could not be read.

An id names day, runner and session of a line and nothing else, so whoever points to it says nothing about
health: ``log/2027-03-02/ines-a/w01-club``.
"""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final, TypeVar, get_args

from planbuilder.block.finish_times import wrong_time
from planbuilder.block.left import EverKnown
from planbuilder.block.log_table import COLUMNS, LogLine, columns_of, line_of, rows_of
from planbuilder.block.types import Block, BlockRunner
from planbuilder.schedule.replan import Done, Went
from planbuilder.settings.models import Place, read_date
from planbuilder.settings.problems import Problem, did_you_mean
from planbuilder.units import parse_distance, parse_time

_NEEDED: Final = ("date", "runner")
_MOST_HOURS: Final = 24
_MOST_LETTERS: Final = 2000
_SHORTEST_TIMED_M: Final = 800.0  # over less a sprint may be quicker than any race
_PLACES: Final[Mapping[str, Place]] = {
    **{place: place for place in get_args(Place)},
    **{"heel": "plantar", "sole": "plantar", "arch": "plantar", "tendon": "achilles"},
    **{"thigh": "quad", "kneecap": "knee", "shins": "shin", "toe": "foot", "ankle": "foot", "glute": "hip"},
}
_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class Logged:
    """One line, read: whose, what it says, and the coach's copy of the free words."""

    runner: str  # key
    done: Done
    where: str
    note: str
    row: int = 0  # line of the file


def read_lines(text: str, block: Block, *, shown_as: str) -> tuple[list[Logged], list[Problem]]:
    """All lines of a text that can be read, in its order, and what is wrong with the others."""
    rows = rows_of(text)
    if not rows:
        return [], []
    first, columns = rows[0][0], columns_of(text)
    problems = [
        Problem(
            shown_as,
            first,
            f'"{name}" must be a column of the log ({", ".join(COLUMNS)})',
            "it is not",
            did_you_mean(name, COLUMNS),
        )
        for name in columns
        if name not in COLUMNS
    ]
    problems += [
        Problem(shown_as, first, f"the log must have the column {name}", "it is missing")
        for name in _NEEDED
        if name not in columns
    ]
    if problems:
        return [], problems
    found: list[Logged] = []
    seen: Counter[str] = Counter()
    known = EverKnown(block)
    for number, cells in rows[1:]:
        if len(cells) > len(columns):
            must = f"a line must have {len(columns)} cells at most"
            problems.append(Problem(shown_as, number, must, f"not {len(cells)}", "Quote cells with commas."))
            continue
        one, wrong = _Reader(block, shown_as, number, known.find).read(line_of(cells, columns), seen)
        problems += wrong
        if one is not None:
            found.append(one)
    return found, problems


def problems_of(block: Block, line: LogLine, *, shown_as: str, number: int | None) -> list[Problem]:
    """What is wrong with the cells of a line that is not in the file yet."""
    return _Reader(block, shown_as, number, block.runner_named).read(line, Counter())[1]


def place_of(words: str) -> Place | None:
    """The sore place that free words name; "other" for any other words.

    >>> place_of("left calf"), place_of("under the heel"), place_of("")
    ('calf', 'plantar', None)
    """
    said = re.findall(r"[a-z]+", words.lower())
    return next((_PLACES[word] for word in said if word in _PLACES), "other" if said else None)


class _Reader:
    """One line, and what is wrong with it."""

    def __init__(
        self, block: Block, shown_as: str, number: int | None, find: Callable[[str], BlockRunner | None]
    ) -> None:
        self._block, self._shown_as, self._number, self._find = block, shown_as, number, find
        self._problems: list[Problem] = []

    def read(self, line: LogLine, seen: Counter[str]) -> tuple[Logged | None, list[Problem]]:
        runner = self._runner(line.runner)
        date = self._take("date", line.date, _date)
        if date is None and not line.date:
            self._wrong("the date must be given", "it is missing")
        went = self._went(line)
        done = Done(
            line="",
            date=date or dt.date.min,
            session=line.session,
            went=went,
            distance_m=self._take("distance", line.distance, _distance),
            duration_s=self._take("time", line.time, _duration),
            effort_rpe=self._take("effort", line.effort, _effort),
            pain=self._take("pain", line.pain, _pain),
            place=place_of(line.where) if line.pain else None,
        )
        for name, words in (("where", line.where), ("note", line.note)):
            if len(words) > _MOST_LETTERS:
                self._wrong(f"{name} must be at most {_MOST_LETTERS:,} letters", f"not {len(words):,}")
        if runner is not None:
            self._check_time(done, runner)
        if self._problems or runner is None:
            return None, self._problems
        stem = "/".join(part for part in ("log", str(done.date), runner.key, line.session) if part)
        seen[stem] += 1
        id_ = stem if seen[stem] == 1 else f"{stem}/{seen[stem]}"
        return Logged(runner.key, replace(done, line=id_), line.where, line.note, self._number or 0), []

    def _check_time(self, done: Done, runner: BlockRunner) -> None:
        """A race is run or walked; of another run only what is too fast is surely a slip of the pen."""
        raced_m = _raced_m(done, self._block, runner)
        over_m = done.distance_m or raced_m
        if done.duration_s is None or not over_m or over_m < _SHORTEST_TIMED_M:
            return
        wrong = wrong_time("the time", done.duration_s, over_m, slow_too=raced_m is not None)
        if wrong is not None:
            self._wrong(*wrong)

    def _wrong(self, must: str, found: str, todo: str = "") -> None:
        self._problems.append(Problem(self._shown_as, self._number, must, found, todo))

    def _take(self, name: str, text: str, parse: Callable[[str], _T]) -> _T | None:
        if not text:
            return None
        try:
            return parse(text)
        except ValueError as error:
            must, _, found = str(error).partition(", not ")
            self._wrong(f"{name} must be {must}", f"not {found or repr(text)}")
            return None

    def _went(self, line: LogLine) -> Went:
        if line.went and line.went not in get_args(Went):
            self._wrong(f"went must be one of {', '.join(get_args(Went))}", f'not "{line.went}"')
        if line.went == "missed" or line.distance.strip() in ("0", "0 km", "0 mi"):
            return "missed"
        return "part" if line.went == "part" else "done"

    def _runner(self, name: str) -> BlockRunner | None:
        found = self._find(name)
        if found is None:
            self._problems.append(self._block.no_runner(name, self._shown_as, self._number))
        return found


def _raced_m(done: Done, block: Block, runner: BlockRunner) -> float | None:
    """The length of the race or tune-up race that a line is of; None for any other run."""
    race = block.settings.race
    if done.date == race.date and done.session.endswith("-race"):
        return race.distance_m
    tune_ups = (*block.settings.training.tune_ups, *runner.settings.tune_ups)
    if not done.session.endswith("-tune-up"):
        return None
    return next((one.distance_m for one in tune_ups if one.entered and one.date == done.date), None)


def _date(text: str) -> dt.date:
    return read_date(text, such="2027-03-02")


def _distance(text: str) -> float:
    return 0.0 if text.strip() == "0" else parse_distance(text)


def _duration(text: str) -> float:
    found = parse_time(text)
    if found > _MOST_HOURS * 3600:
        raise ValueError(f"a time of less than a day, not {text!r}")
    return found


def _effort(text: str) -> float:
    return _between(text, 10, "an effort from 0 to 10")


def _pain(text: str) -> int:
    found = _between(text.partition("/")[0], 10, "a pain from 0 to 10")
    if found != int(found):
        raise ValueError(f"a whole number from 0 to 10, not {text!r}")
    return int(found)


def _between(text: str, most: float, what: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0 <= value <= most:
        raise ValueError(f"{what}, not {text!r}")
    return value
