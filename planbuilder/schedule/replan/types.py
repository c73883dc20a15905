"""What happened since a plan was accepted, and what re-planning answers.

Receives: lines of log.csv and edits.toml, as the block room reads them.
Gives: the types that the modules of re-planning hand to each other and to the pipeline.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from planbuilder.plan.types import Session, Week
from planbuilder.rules import Breach
from planbuilder.rules.typed_night import TypedNight
from planbuilder.schedule.types import Request
from planbuilder.settings.edit_models import Edit
from planbuilder.settings.models import Place
from planbuilder.settings.notes import Note

Went = Literal["done", "part", "missed"]


@dataclass(frozen=True, slots=True)
class Done:
    """One line of the log of one runner."""

    line: str  # id: what history points to
    date: dt.date
    session: str  # id, "" for a run outside the plan
    went: Went
    distance_m: float | None = None
    duration_s: float | None = None
    effort_rpe: float | None = None
    pain: int | None = None
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class EditLine:
    """One edit of one runner with the id that history points to."""

    line: str
    edit: Edit


@dataclass(frozen=True, slots=True)
class Held:
    """Days that the accepted plan holds back, and for which line: they stay so when the line is forgotten."""

    line: str
    first: dt.date
    last: dt.date
    no_running: bool  # else less of it


@dataclass(frozen=True, slots=True)
class NightTold:
    """A club night to come of which the coach says something else than the accepted plan was made with."""

    date: dt.date
    night: TypedNight | None  # what the group does now; None: off, or held without a line
    off: bool = False


@dataclass(frozen=True, repr=False)
class Situation:
    """Everything re-planning looks at; its answer is a function of it alone."""

    request: Request  # with today's form, goal and course
    accepted: tuple[Week, ...]
    original: tuple[Week, ...]  # as last laid out; nothing gets heavier than this
    today: dt.date  # first day that may change
    log: tuple[Done, ...] = ()
    edits: tuple[EditLine, ...] = ()
    answered: frozenset[str] = frozenset()  # lines that the accepted plan has taken in
    used_ids: frozenset[str] = frozenset()
    held: tuple[Held, ...] = ()  # of the accepted plan
    pace_ratio: float = 1.0  # paces now against those of the accepted sessions
    pace_why: str = ""  # why they move, and the lines that say so
    pace_lines: tuple[str, ...] = ()
    paced_until: dt.date | None = None  # day of the last result: what was run by then keeps its paces
    new_source: str | None = None  # that paces come from another result now; "": that they come from none
    rest_from: dt.date | None = None  # easy days from here on, after a clearly slower result
    fresh: bool = False  # race date, course or settings changed
    nights: tuple[NightTold, ...] = ()  # by date; a layout that is fresh has them anyhow


@dataclass(frozen=True, slots=True)
class Why:
    """Why a session changed: words the runner reads, the rule behind them, the lines it answers."""

    text: str  # with unit marks; nothing about health
    rule: str = ""
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Bound:
    """What sessions from one day to another may be."""

    first: dt.date
    last: dt.date
    why: Why
    no_running: bool = False
    cross: bool = False  # other exercise stands in for the running that is off
    no_hard: bool = False
    no_up: bool = False
    no_down: bool = False
    no_fast: bool = False
    easy_runs: int = 0  # so many first runs hold nothing hard
    hard_most: int | None = None
    whole_m: float | None = None  # all training runs together
    run_s: float | None = None  # any run
    first_run_s: float | None = None
    run_step_s: float = 0.0  # so much longer than the one before may each run behind the first be
    long_m: float | None = None  # the long runs
    long_s: float | None = None
    long_share: float | None = None  # of each long run, against the plan as laid out
    beside_long: bool = False  # easy runs stay at their share of the long run of their week
    work_share: float | None = None  # of the first hard session, against the plan as laid out
    runs_a_week: int | None = None
    health: bool = False  # wins over a person's edit of a session

    @property
    def rank(self) -> int:
        """Running at all comes first, then how hard, then how far."""
        if self.no_running or self.runs_a_week is not None:
            return 0
        return 2 if self.whole_m is not None else 1


@dataclass(frozen=True, slots=True)
class Change:
    """A session before and after."""

    before: Session | None  # None: new
    after: Session | None  # None: gone
    why: tuple[Why, ...]


@dataclass(frozen=True, slots=True)
class Replan:
    """The answer."""

    weeks: tuple[Week, ...]
    changes: tuple[Change, ...]  # by date
    breaches: tuple[Breach, ...]  # what a person's edit broke, and what re-planning could not mend
    notes: tuple[Note, ...]  # for the runner
    private_notes: tuple[Note, ...]  # health: for the coach alone
    held: tuple[Held, ...] = ()  # days held back, for when what they answer is forgotten
    offers: tuple[Note, ...] = ()  # what a person may do today and re-planning does not do by itself
    laid: tuple[Session, ...] = ()  # club nights laid out anew, before anything cut them

    @property
    def lines(self) -> tuple[str, ...]:
        """Ids of the lines that the changes answer, each once."""
        found = [line for change in self.changes for why in change.why for line in why.lines]
        return tuple(dict.fromkeys(found))
