"""An accepted plan: its weeks, what it was made from, and when it was accepted by which command."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, fields
from typing import Literal

from planbuilder.plan.types import Session, Week
from planbuilder.schedule.replan import Held
from planbuilder.settings.models import Result

Nights = tuple[tuple[str, str, bool], ...]  # date as 2027-03-02, line, whether a coach typed it
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
    nights: Nights | None = None  # the club nights of the runner; None in plans of before they were kept


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
    again: bool = False  # after forgetting: it stands in the place of the line before
    laid: tuple[Session, ...] = ()  # club nights laid out anew, as they were before anything cut them


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
