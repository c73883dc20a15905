"""``state/history.jsonl``: every accepted plan of every runner, one JSON object a line, append-only.

Receives: the state folder of a block; entries to append, by a holder of its lock.
Gives: ``History``: what is accepted now, what can be undone, which ids are taken.

A line holds the weeks that differ from the runner's line before, so the file grows by what changed. Nothing
about health stands in it: an entry points to the lines of log.csv and edits.toml it answers.
"""

from __future__ import annotations

import datetime as dt
import json
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields, replace
from pathlib import Path
from typing import Any, Final, Literal, get_args

from planbuilder.outputs.safe_write import one_writer, write_whole
from planbuilder.plan.store import week_from_data, week_to_data
from planbuilder.plan.types import Week
from planbuilder.schedule.replan import Held
from planbuilder.settings.models import Result
from planbuilder.settings.problems import CannotWrite, InputProblems, Problem

HISTORY_FILE: Final = "history.jsonl"
STATE_FOLDER: Final = "state"

By = Literal["publish", "replan", "edit", "undo"]


@dataclass(frozen=True, slots=True)
class PaceSource:
    """A result that paces came to stand on during the block, where its file has no fresh one."""

    distance_m: float
    time_s: float
    date: str  # as 2027-03-14
    course: str
    climb_m: float | None
    temperature_c: float | None
    humidity: float | None
    effort: Literal["all-out", "hard", "training"]

    @classmethod
    def of(cls, result: Result) -> PaceSource:
        """The same result, ready for the file."""
        said = {one.name: getattr(result, one.name) for one in fields(cls)}
        return cls(**{**said, "date": result.date.isoformat()})

    @property
    def result(self) -> Result:
        """The result again."""
        said = {one.name: getattr(self, one.name) for one in fields(self)}
        return Result.model_construct(**{**said, "date": dt.date.fromisoformat(self.date)})


@dataclass(frozen=True, slots=True)
class Basis:
    """What an accepted plan was made from, besides its weeks."""

    settings: str = ""  # digest of the runner's settings and the course
    facts: str = ""  # digest of the runner's lines in log.csv and edits.toml
    time_factor: float = 1.0  # predicted times against those of the block file, after new results
    goal_time_s: float | None = None  # the goal in force
    source: PaceSource | None = None  # what paces come from, where it is not in the block file


@dataclass(frozen=True, slots=True)
class Accepted:
    """A plan to be accepted, or one that was."""

    runner: str  # key
    weeks: tuple[Week, ...]
    basis: Basis
    why: str = ""  # what changed and why, for the runner; nothing about health
    lines: tuple[str, ...] = ()  # ids of the lines of log.csv and edits.toml that it answers
    held: tuple[Held, ...] = ()  # days held back, with the line each answers
    fresh: bool = False  # laid out anew: what later changes are measured against


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the file."""

    version: int
    at: str  # UTC, as 20270315T080000Z
    day: str  # from which day on it changed anything
    by: By
    block: str  # key of the block, frozen with the first line
    plan: Accepted
    undoes: int | None = None  # version that this one takes back


@dataclass(frozen=True)
class History:
    """All lines, oldest first."""

    entries: tuple[Entry, ...] = ()
    good_bytes: int = 0  # length of the file up to the last whole line
    torn: bool = False  # a crash left part of a line behind it
    standing: Mapping[str, tuple[Entry, ...]] = field(default_factory=dict)  # not taken back, by runner

    @property
    def block_key(self) -> str | None:
        """The key under which the block was first accepted."""
        return self.entries[0].block if self.entries else None

    @property
    def version(self) -> int:
        """The last version."""
        return self.entries[-1].version if self.entries else 0

    def accepted(self, runner: str) -> Accepted | None:
        """The plan that holds for a runner now."""
        return self._last(runner).plan if self.standing.get(runner) else None

    def original(self, runner: str) -> tuple[Week, ...]:
        """The weeks as they were last laid out: no later change may make them heavier."""
        laid = [entry.plan.weeks for entry in self.standing.get(runner, ()) if entry.plan.fresh]
        return laid[-1] if laid else ()

    def nights(self, runner: str) -> dict[dt.date, str]:
        """The club sessions of a runner, by the day on which they were laid out."""
        return {
            session.date: session.id
            for week in self.original(runner)
            for session in week.sessions
            if session.role == "club"
        }

    def day(self, runner: str) -> dt.date:
        """The day of the last word about a runner's plan, an undo counted."""
        return dt.date.fromisoformat(self.of(runner)[-1].day)

    def answered(self, runner: str) -> frozenset[str]:
        """Ids of the lines that the accepted plan has already taken in."""
        return frozenset(line for entry in self.standing.get(runner, ()) for line in entry.plan.lines)

    def ids(self, runner: str) -> frozenset[str]:
        """Every session id that was ever given to a runner: none is given twice."""
        return frozenset(
            session.id
            for entry in self.entries
            if entry.plan.runner == runner
            for week in entry.plan.weeks
            for session in week.sessions
        )

    def of(self, runner: str | None) -> tuple[Entry, ...]:
        """The lines of one runner, or all."""
        return tuple(entry for entry in self.entries if runner in (None, entry.plan.runner))

    def with_entry(self, plan: Accepted, *, block: str, day: dt.date) -> History:
        """The history as it would be with this plan accepted; nothing is written."""
        entry = Entry(self.version + 1, "", day.isoformat(), "publish", self.block_key or block, plan)
        entries = (*self.entries, entry)
        return replace(self, entries=entries, standing=_standing(entries))

    def to_undo(self, runner: str | None) -> tuple[tuple[Entry, Accepted], ...]:
        """What an undo takes back, for one runner or for all of the last version, with what stood before.

        The first acceptance of a plan stays. Empty where there is nothing to take back.
        """
        last = [
            entries[-1]
            for key, entries in self.standing.items()
            if runner in (None, key) and len(entries) > 1
        ]
        version = max((entry.version for entry in last), default=0)
        return tuple(
            (entry, self.standing[entry.plan.runner][-2].plan) for entry in last if entry.version == version
        )

    def _last(self, runner: str) -> Entry:
        return self.standing[runner][-1]


def read_history(state: Path) -> History:
    """The history of a block, empty before the first publish.

    Part of a last line, left by a crash, is passed over; the next line takes its place. Raises InputProblems
    for any other line that is not ours.
    """
    path = state / HISTORY_FILE
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return History()
    except OSError as error:
        raise _broken(path, None, str(error.strerror).lower()) from error
    good = data.rfind(b"\n") + 1
    entries: list[Entry] = []
    weeks: dict[str, dict[int, Week]] = {}
    for number, line in enumerate(data[:good].splitlines(), start=1):
        try:
            entries.append(_from_data(json.loads(line), weeks))
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            raise _broken(path, number, f"not {error}") from error
    return History(tuple(entries), good, torn=good < len(data), standing=_standing(entries))


def append(
    state: Path, plans: Sequence[Accepted], *, by: By, block: str, day: dt.date, now: dt.datetime
) -> History:
    """Accept plans: one new line each, all under one version. The holder of the lock calls it.

    Raises CannotWrite; the lines before are whole then.
    """
    with one_writer(state):
        history = read_history(state)
        entries = [
            Entry(history.version + 1, _stamp(now), day.isoformat(), by, history.block_key or block, plan)
            for plan in plans
        ]
        _write(state, history, entries)
        return read_history(state)


def undo(state: Path, runner: str | None, *, day: dt.date, now: dt.datetime) -> tuple[Entry, ...]:
    """Take back the last change of a runner, or of everyone whose plan the last version changed.

    A new line holds what stood before; nothing is removed. Raises InputProblems where nothing can be undone.
    """
    with one_writer(state):
        history = read_history(state)
        found = history.to_undo(runner)
        if not found:
            must = "there must be a change to take back"
            raise InputProblems(
                [Problem(str(state / HISTORY_FILE), None, must, "none was accepted since the first plan")]
            )
        entries = [
            Entry(
                history.version + 1,
                _stamp(now),
                day.isoformat(),
                "undo",
                entry.block,
                replace(before, why=f"Version {entry.version} was taken back.", lines=(), fresh=False),
                undoes=entry.version,
            )
            for entry, before in found
        ]
        _write(state, history, entries)
        return tuple(entry for entry, _ in found)


def forget_runner(state: Path, runner: str) -> bool:
    """Take every line of a person out of the history: the one time that it shrinks. True if there was any."""
    with one_writer(state):
        history = read_history(state)
        kept = [entry for entry in history.entries if entry.plan.runner != runner]
        if len(kept) == len(history.entries):
            return False
        lines: list[bytes] = []
        weeks: dict[str, tuple[Week, ...]] = {}
        for entry in kept:
            lines.append(_line(entry, weeks.get(entry.plan.runner, ())))
            weeks[entry.plan.runner] = entry.plan.weeks
        write_whole(state / HISTORY_FILE, b"".join(lines))
    return True


def _standing(entries: Iterable[Entry]) -> dict[str, tuple[Entry, ...]]:
    found: dict[str, tuple[Entry, ...]] = {}
    for entry in entries:
        before = found.get(entry.plan.runner, ())
        found[entry.plan.runner] = before[:-1] if entry.undoes is not None else (*before, entry)
    return found


def _write(state: Path, history: History, entries: Sequence[Entry]) -> None:
    path = state / HISTORY_FILE
    last = {entry.plan.runner: entry.plan.weeks for entry in history.entries}
    data = b"".join(_line(entry, last.get(entry.plan.runner, ())) for entry in entries)
    try:
        with path.open("ab") as file:
            if history.torn:
                file.truncate(history.good_bytes)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise CannotWrite(f"{path}: could not be written ({error.strerror or error}).") from error


def _line(entry: Entry, before: Sequence[Week]) -> bytes:
    known = {week.number: week for week in before}
    plan = entry.plan
    data = {
        "version": entry.version,
        "at": entry.at,
        "day": entry.day,
        "by": entry.by,
        "block": entry.block,
        "runner": plan.runner,
        "why": plan.why,
        "lines": list(plan.lines),
        "held": [[one.line, str(one.first), str(one.last), one.no_running] for one in plan.held],
        "fresh": plan.fresh,
        "undoes": entry.undoes,
        "basis": asdict(plan.basis),
        "numbers": [week.number for week in plan.weeks],
        "weeks": [week_to_data(week) for week in plan.weeks if known.get(week.number) != week],
    }
    return (json.dumps(data, ensure_ascii=False, separators=(",", ":")) + "\n").encode()


def _from_data(data: Mapping[str, Any], known: dict[str, dict[int, Week]]) -> Entry:
    """The entry; ``known`` holds the weeks of each runner so far, and learns the new ones."""
    own = known.setdefault(data["runner"], {})
    own.update({week["number"]: week_from_data(week) for week in data["weeks"]})
    if data["by"] not in get_args(By):
        raise ValueError(f"{data['by']!r} as the one who wrote it")
    return Entry(
        version=int(data["version"]),
        at=data["at"],
        day=data["day"],
        by=data["by"],
        block=data["block"],
        plan=Accepted(
            runner=data["runner"],
            weeks=tuple(own[number] for number in data["numbers"]),
            basis=_basis(data["basis"]),
            why=data["why"],
            lines=tuple(data["lines"]),
            held=tuple(_held(one) for one in data.get("held", ())),
            fresh=bool(data["fresh"]),
        ),
        undoes=data["undoes"],
    )


def _basis(data: Mapping[str, Any]) -> Basis:
    """The basis; lines from before results could set paces know of no source."""
    source = data.get("source")
    return Basis(**{**data, "source": PaceSource(**source) if source is not None else None})


def _held(data: Sequence[Any]) -> Held:
    line, first, last, no_running = data
    return Held(line, dt.date.fromisoformat(first), dt.date.fromisoformat(last), bool(no_running))


def _stamp(now: dt.datetime) -> str:
    return now.astimezone(dt.UTC).strftime("%Y%m%dT%H%M%SZ")


def _broken(path: Path, line: int | None, found: str) -> InputProblems:
    must = "the history of accepted plans must be as planbuilder wrote it"
    return InputProblems([Problem(str(path), line, must, found, "Put back your copy of the state folder.")])
