"""New lines of log.csv: checked against the plan, written, said back.

Receives: lines, a chat, the register of a club night.
Gives: the lines as they were understood; nothing is written where none is good.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from planbuilder import pipeline
from planbuilder.block import Block, read_block
from planbuilder.block import log as log_file
from planbuilder.block.chat import PASTED_FORM, pasted
from planbuilder.block.history import STATE_FOLDER
from planbuilder.block.log_lines import Logged, problems_of
from planbuilder.block.log_table import LogLine
from planbuilder.block.named import no_session
from planbuilder.block.results import is_race
from planbuilder.living.proposals import day_ahead
from planbuilder.outputs.safe_write import one_writer
from planbuilder.plan.types import Session
from planbuilder.settings.problems import InputProblems, Problem
from planbuilder.units import System, say_date

MOST_DAYS_OFF: Final = 3  # so far from its day a session may be run


@dataclass(frozen=True)
class Understood:
    """A line of the log as it was read, with the session it speaks of."""

    name: str
    units: System
    logged: Logged
    session: Session | None
    race: str = ""  # id of the race of that day, where a run names no session and is not taken for it


@dataclass(frozen=True)
class PastedLog:
    """What became of a chat: lines written, lines that stood there before, and those that were wrong."""

    understood: tuple[Understood, ...]
    repeated: int
    problems: tuple[Problem, ...]
    plain: int = 0  # lines of words without bars, passed over


def add_to_log(
    folder: Path, lines: Sequence[LogLine], *, today: dt.date | None = None
) -> tuple[Understood, ...]:
    """Write lines into log.csv and say how they were understood.

    Raises InputProblems, and writes nothing, where a line cannot be read, names a session that is none of
    its runner's plan, or a day after ``today``.
    """
    with one_writer(folder / STATE_FOLDER):
        block = read_block(folder)
        plans = _PlansToLog(block)
        problems = [one for line in lines for one in plans.problems(line, today, where="log")]
        if problems:
            raise InputProblems(problems)
        return plans.understood(log_file.add_lines(block, lines))


def paste_into_log(folder: Path, text: str, *, today: dt.date | None = None) -> PastedLog:
    """Write the good lines that runners sent from their pages, out of a whole chat; tell of the others.

    Raises InputProblems, and writes nothing, where no line is good.
    """
    with one_writer(folder / STATE_FOLDER):
        block = read_block(folder)
        found = pasted(text, block)
        plans, good, problems = _PlansToLog(block), [], list(found.problems)
        for number, line in found.lines:
            wrong = plans.problems(line, today, where="pasted lines", number=number)
            problems += wrong
            good += [] if wrong else [line]
        if not good:
            must = "the text must hold a line from a runner's page"
            such = f"Such as: {PASTED_FORM}"
            raise InputProblems(problems or [Problem("pasted lines", None, must, "none was found", such)])
        understood = plans.understood(log_file.add_lines(block, good))
    problems.sort(key=lambda one: one.line or 0)
    return PastedLog(understood, len(set(good)) - len(understood), tuple(problems), found.plain)


def register_night(
    folder: Path, date: dt.date, absent: Collection[str], *, today: dt.date | None = None
) -> tuple[Understood, ...]:
    """Write a club night's register: everyone with a club session that evening but those named."""
    block = read_block(folder)
    if today is not None and date > today:
        raise InputProblems([Problem("log", None, f"the night must be {today} or before", f"not {date}")])
    sessions = {
        now.plan.runner.key: session.id
        for now in pipeline.plans_now(block)
        for session in now.plan.sessions
        if session.date == date and session.role == "club" and not session.cancelled
    }
    if not sessions:
        must = "the night must be one on which somebody has a club session"
        raise InputProblems([Problem(str(folder), None, must, f"not {date}")])
    return add_to_log(folder, log_file.register(block, date, sessions, absent), today=today)


class _PlansToLog:
    """The sessions a line of the log may name, and what it says of them."""

    def __init__(self, block: Block) -> None:
        prepared = pipeline.prepare(block, block.runners)
        self._block, self._history = block, prepared.records.history
        self._sessions = {
            (runner.key, session.id): session
            for runner in block.runners
            for session in pipeline.plan_now(prepared, runner).plan.sessions
        }

    def problems(
        self, line: LogLine, today: dt.date | None, *, where: str, number: int | None = None
    ) -> list[Problem]:
        """What is wrong with a line before it is written."""
        found = problems_of(self._block, line, shown_as=where, number=number)
        runner = self._block.runner_named(line.runner)
        if found or runner is None:
            return found
        day = dt.date.fromisoformat(line.date)
        if today is not None and day > today:
            found.append(day_ahead(day, today, where, number))
        known = {id_ for key, id_ in self._sessions if key == runner.key} | self._history.ids(runner.key)
        if line.session and line.session not in known:
            found.append(no_session(line.session, known, where=where, line=number))
        session = self._sessions.get((runner.key, line.session))
        if session is not None and not found:
            found += _wrong_day(line, session, where, number)
        return found

    def understood(self, logged: Sequence[Logged]) -> tuple[Understood, ...]:
        return tuple(self._understood(one) for one in logged)

    def _understood(self, one: Logged) -> Understood:
        (runner,) = (runner.settings for runner in self._block.runners if runner.key == one.runner)
        session, race = self._sessions.get((one.runner, one.done.session)), self._race_on(one)
        if race is None:
            return Understood(runner.name, runner.units, one, session)
        found = is_race(one.done, race, self._block.settings.race.distance_m, self._block.limits)
        return Understood(runner.name, runner.units, one, race if found else None, "" if found else race.id)

    def _race_on(self, one: Logged) -> Session | None:
        """The race of the day of a run that names no session."""
        if one.done.session or one.done.went == "missed":
            return None
        own = (session for (key, _), session in self._sessions.items() if key == one.runner)
        return next((two for two in own if two.role == "race" and two.date == one.done.date), None)


def _wrong_day(line: LogLine, session: Session, where: str, number: int | None) -> Iterator[Problem]:
    """A session is missed on its own day; run it may be some days before or after."""
    days = 0 if line.went == "missed" else MOST_DAYS_OFF
    if abs((dt.date.fromisoformat(line.date) - session.date).days) > days:
        near = f"within {days} days of" if days else "that of"
        must = f"the date must be {near} {session.id}, {say_date(session.date)}"
        todo = "" if line.went == "missed" else "A run of another day goes without a session."
        yield Problem(where, number, must, f"not {line.date}", todo)
