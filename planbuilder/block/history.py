"""``state/history.jsonl``: every accepted plan of every runner, one JSON object a line, append-only.

Receives: the state folder of a block; plans to accept, by a holder of its lock.
Gives: ``History``: what is accepted now, what can be undone, which ids are taken.

A line holds the weeks that differ from the runner's line before, so the file grows by what changed. It may be
many times what memory should hold, so only heads are kept, and a runner's plans are read when they are asked
for. Nothing about health stands in it: an entry points to the lines of log.csv and edits.toml it answers.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from itertools import chain
from pathlib import Path
from typing import Final

from planbuilder.block.accepted import Accepted, Basis, By, Entry, PaceSource
from planbuilder.block.history_lines import Head, basis_of, entry_of, head_of, line_of
from planbuilder.outputs.safe_write import one_writer, write_whole
from planbuilder.outputs.waiting import Waiting
from planbuilder.plan.types import Week
from planbuilder.schedule.replan import with_laid
from planbuilder.settings.problems import CannotWrite, InputProblems, Problem

__all__ = [
    "HISTORY_FILE",
    "STATE_FOLDER",
    "Accepted",
    "Basis",
    "By",
    "Entry",
    "History",
    "PaceSource",
    "accepting",
    "append",
    "forget_runner",
    "is_torn",
    "read_history",
    "undo",
]

HISTORY_FILE: Final = "history.jsonl"
STATE_FOLDER: Final = "state"
_NOT_OURS: Final = (ValueError, KeyError, TypeError, AttributeError, RecursionError)


@dataclass(frozen=True)
class History:
    """All lines, oldest first: their heads, and the plans of a runner when they are asked for."""

    path: Path = Path(HISTORY_FILE)
    heads: tuple[Head, ...] = ()
    good_bytes: int = 0  # length of the file up to the last whole line
    torn: bool = False  # a crash left part of a line behind it
    more: tuple[Entry, ...] = ()  # the last heads, where they are not of the file
    _by_runner: Mapping[str, tuple[Head, ...]] = field(init=False, repr=False, compare=False)
    _at_hand: dict[str, tuple[Entry, ...]] = field(  # of the last runner that was asked for
        default_factory=dict, init=False, repr=False, compare=False
    )

    def __post_init__(self) -> None:
        found: dict[str, list[Head]] = {}
        for head in self.heads:
            found.setdefault(head.runner, []).append(head)
        object.__setattr__(self, "_by_runner", {key: tuple(heads) for key, heads in found.items()})

    @property
    def runners(self) -> tuple[str, ...]:
        """The keys of everyone whose plan was ever accepted."""
        return tuple(self._by_runner)

    @property
    def block_key(self) -> str | None:
        """The key under which the block was first accepted."""
        return self.heads[0].block if self.heads else None

    @property
    def version(self) -> int:
        """The last version."""
        return self.heads[-1].version if self.heads else 0

    def knows(self, runner: str) -> bool:
        """Whether a plan of this runner was accepted; nothing is read for it."""
        return runner in self._by_runner

    def accepted(self, runner: str) -> Accepted | None:
        """The plan that holds for a runner now."""
        standing = self._standing(runner)
        return self.of(runner)[standing[-1]].plan if standing else None

    def basis(self, runner: str) -> Basis | None:
        """What the plan that holds for a runner was made from; its weeks are not read."""
        standing = self._standing(runner)
        if not standing:
            return None
        head = self._by_runner[runner][standing[-1]]
        if not head.number:
            return next(one.plan.basis for one in self.more if Head.of(one) == head)
        ((_, line),) = self._lines(runner, head)
        try:
            return basis_of(line)
        except _NOT_OURS as error:
            raise _broken(self.path, head.number, f"not {error}") from error

    def last_weeks(self, runner: str) -> tuple[Week, ...]:
        """The weeks of the runner's last line."""
        return self.of(runner)[-1].plan.weeks if self.knows(runner) else ()

    def original(self, runner: str) -> tuple[Week, ...]:
        """The weeks as they were last laid out, club nights since: no later change may make them heavier."""
        layouts = self._layouts(runner)
        return layouts[-1] if layouts else ()

    def nights(self, runner: str) -> dict[dt.date, str]:
        """The club sessions of a runner, by the day on which they were last laid out."""
        return _nights_of(self.original(runner))

    def nights_ever(self, runner: str) -> dict[dt.date, str]:
        """The same with the nights of every layout before: an edit names a night by the day it had then."""
        return {day: id_ for weeks in self._layouts(runner) for day, id_ in _nights_of(weeks).items()}

    def _layouts(self, runner: str) -> list[tuple[Week, ...]]:
        """The weeks of every time they were laid out anew, with the club nights laid since; oldest first.

        What was taken back is left out.
        """
        heads, found = self._by_runner.get(runner, ()), list[tuple[Week, ...]]()
        for at in self._standing(runner):
            plan = self.of(runner)[at].plan
            if heads[at].fresh:
                found.append(plan.weeks)
            elif found:
                found[-1] = with_laid(found[-1], plan.laid)
        return found

    def day(self, runner: str) -> dt.date:
        """The day of the last word about a runner's plan, an undo counted."""
        return dt.date.fromisoformat(self._by_runner[runner][-1].day)

    def by(self, runner: str) -> By:
        """By which command the plan that holds was accepted."""
        return self._by_runner[runner][self._standing(runner)[-1]].by

    def answered(self, runner: str) -> frozenset[str]:
        """Ids of the lines that the accepted plan has already taken in."""
        heads = self._by_runner.get(runner, ())
        return frozenset(line for at in self._standing(runner) for line in heads[at].lines)

    def ids(self, runner: str) -> frozenset[str]:
        """Every session id that was ever given to a runner: none is given twice."""
        return frozenset(
            session.id for entry in self.of(runner) for week in entry.plan.weeks for session in week.sessions
        )

    def of(self, runner: str) -> tuple[Entry, ...]:
        """The lines of one runner, weeks and all. Raises InputProblems for one that is not ours."""
        found = self._at_hand.get(runner)
        if found is None:
            found = tuple(self._read(runner))
            self._at_hand.clear()
            self._at_hand[runner] = found
        return found

    def digest(self, runner: str) -> str:
        """A digest of everything that was ever accepted for a runner; no plan is made of it."""
        found = hashlib.sha256()
        for _, line in self._lines(runner):
            found.update(line)
        return found.hexdigest()

    def with_entry(self, plan: Accepted, *, block: str, day: dt.date) -> History:
        """The history as it would be with this plan accepted; nothing is written."""
        entry = Entry(self.version + 1, "", day.isoformat(), "publish", self.block_key or block, plan)
        return replace(self, heads=(*self.heads, Head.of(entry)), more=(*self.more, entry))

    def to_undo(self, runner: str | None) -> tuple[tuple[Entry, Accepted], ...]:
        """What an undo takes back, for one runner or for all of the last version, with what stood before.

        The first acceptance of a plan stays. Empty where there is nothing to take back.
        """
        last = {
            key: standing[-2:]
            for key in ([runner] if runner is not None else self.runners)
            if len(standing := self._standing(key)) > 1
        }
        versions = {key: self._by_runner[key][at].version for key, (_, at) in last.items()}
        version = max(versions.values(), default=0)
        return tuple(
            (self.of(key)[at], self.of(key)[before].plan)
            for key, (before, at) in last.items()
            if versions[key] == version
        )

    def _standing(self, runner: str) -> list[int]:
        """Which of the runner's lines were not taken back, by their place among them.

        A plan that was written again stands in the place of the line before it.
        """
        found: list[int] = []
        for at, head in enumerate(self._by_runner.get(runner, ())):
            if head.undoes is not None or head.again:
                found.pop()
            if head.undoes is None:
                found.append(at)
        return found

    def _read(self, runner: str) -> Iterator[Entry]:
        weeks: dict[int, Week] = {}
        for head, line in self._lines(runner):
            try:
                entry = entry_of(line, weeks)
                if (entry.version, entry.plan.runner) != (head.version, runner):
                    raise ValueError("another line than a moment ago")
            except _NOT_OURS as error:
                raise _broken(self.path, head.number, f"not {error}") from error
            yield entry
        yield from (entry for entry in self.more if entry.plan.runner == runner)

    def _lines(self, runner: str, only: Head | None = None) -> Iterator[tuple[Head, bytes]]:
        heads = [only] if only else [head for head in self._by_runner.get(runner, ()) if head.number]
        if not heads:
            return
        try:
            with self.path.open("rb") as file:
                for head in heads:
                    file.seek(head.start)
                    yield head, file.read(head.size)
        except OSError as error:
            raise _broken(self.path, None, str(error.strerror).lower()) from error


def read_history(state: Path) -> History:
    """The history of a block, empty before the first publish.

    Part of a last line, left by a crash, is passed over; the next line takes its place. Raises InputProblems
    for any other line that is not ours; what is wrong within the weeks of a line shows when they are read.
    """
    path = state / HISTORY_FILE
    heads: list[Head] = []
    start, line = 0, b""
    try:
        with path.open("rb") as file:
            for number, line in enumerate(file, start=1):
                if line.endswith(b"\n"):
                    heads.append(_head(path, line, number, start))
                    start += len(line)
    except FileNotFoundError:
        return History(path)
    except OSError as error:
        raise _broken(path, None, str(error.strerror).lower()) from error
    return History(path, tuple(heads), start, torn=bool(line) and not line.endswith(b"\n"))


def is_torn(state: Path) -> bool:
    """Whether a crash or a hand left part of a last line, which is passed over."""
    try:
        with (state / HISTORY_FILE).open("rb") as file:
            file.seek(-1, os.SEEK_END)
            return file.read() != b"\n"
    except OSError:  # there is none, or it is empty
        return False


def _nights_of(weeks: Iterable[Week]) -> dict[dt.date, str]:
    return {one.date: one.id for week in weeks for one in week.sessions if one.role == "club"}


def _head(path: Path, line: bytes, number: int, start: int) -> Head:
    try:
        return head_of(line, number=number, start=start)
    except _NOT_OURS as error:
        raise _broken(path, number, f"not {error}") from error


@contextmanager
def accepting(
    state: Path, *, by: By, block: str, day: dt.date, now: dt.datetime
) -> Iterator[Callable[[Accepted], None]]:
    """Accept plans one after the other, all under one version; their lines are written together at the end.

    None is kept in memory, and none is accepted where anything goes wrong before. Raises CannotWrite; the
    lines before are whole then.
    """
    with one_writer(state), Waiting() as lines:
        history = read_history(state)
        version, key = history.version + 1, history.block_key or block

        def accept(plan: Accepted) -> None:
            entry = Entry(version, _stamp(now), day.isoformat(), by, key, plan)
            lines.add(HISTORY_FILE, line_of(entry, history.last_weeks(plan.runner)))

        yield accept
        _write(history, (line for _, line in lines))


def append(
    state: Path, plans: Iterable[Accepted], *, by: By, block: str, day: dt.date, now: dt.datetime
) -> None:
    """Accept plans: one new line each, all under one version. Raises as ``accepting`` does."""
    with accepting(state, by=by, block=block, day=day, now=now) as accept:
        for plan in plans:
            accept(plan)


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
                [Problem(str(history.path), None, must, "none was accepted since the first plan")]
            )
        entries = [
            Entry(
                history.version + 1,
                _stamp(now),
                day.isoformat(),
                "undo",
                entry.block,
                replace(
                    before, why=f"Version {entry.version} was taken back.", lines=(), fresh=False, again=False
                ),
                undoes=entry.version,
            )
            for entry, before in found
        ]
        _write(history, [line_of(one, history.last_weeks(one.plan.runner)) for one in entries])
        return tuple(entry for entry, _ in found)


def forget_runner(state: Path, runner: str) -> bool:
    """Take every line of a person out of the history: the one time that it shrinks. True if there was any."""
    with one_writer(state):
        history = read_history(state)
        if not history.knows(runner):
            return False
        whole = history.path.read_bytes()
        kept = (whole[one.start : one.start + one.size] for one in history.heads if one.runner != runner)
        write_whole(history.path, b"".join(kept))
    return True


def _write(history: History, lines: Iterable[bytes]) -> None:
    """Add lines at the end of the file, and nothing where there are none."""
    path, first = history.path, next(lines := iter(lines), None)
    if first is None:
        return
    try:
        with path.open("ab") as file:
            if history.torn:
                file.truncate(history.good_bytes)
            for line in chain((first,), lines):
                file.write(line)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        with suppress(OSError):  # where the disk is full, none of the lines is accepted
            os.truncate(path, history.good_bytes)
        raise CannotWrite(f"{path}: could not be written ({error.strerror or error}).") from error


def _stamp(now: dt.datetime) -> str:
    return now.astimezone(dt.UTC).strftime("%Y%m%dT%H%M%SZ")


def _broken(path: Path, line: int | None, found: str) -> InputProblems:
    must = "the history of accepted plans must be as planbuilder wrote it"
    return InputProblems([Problem(str(path), line, must, found, "Put back your copy of the state folder.")])
