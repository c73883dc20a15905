"""What a block folder knows about its plan besides the settings: what was accepted, run and changed.

Receives: a ``Block``, the ``Request`` of a runner.
Gives: ``Records``, and the ``Situation`` that re-planning answers.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import shlex
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import TypeVar

from planbuilder.block.edits import Edited, night_date, of_everyone, of_runner, read_edits
from planbuilder.block.history import STATE_FOLDER, Basis, History, PaceSource, read_history
from planbuilder.block.log import LOG_FILE, read_good_lines
from planbuilder.block.log_lines import Logged
from planbuilder.block.named import no_session
from planbuilder.block.nights import nights_of, nights_then, nights_told
from planbuilder.block.recordings import DONE_FOLDER, Recorded, read_recordings
from planbuilder.block.results import results_of
from planbuilder.block.types import Block, BlockRunner
from planbuilder.course.types import Course
from planbuilder.runner import trusted_volume
from planbuilder.runner.new_results import FirstResult, NewForm, first_result, new_form
from planbuilder.runner.types import Form
from planbuilder.schedule.replan import Done, EditLine, NightTold, Situation
from planbuilder.schedule.types import Request
from planbuilder.settings.edit_models import AwayFromTraining, Goal, NewResult, SessionEdit
from planbuilder.settings.models import Away, Result
from planbuilder.settings.problems import InputProblems, Problem
from planbuilder.units import count_of

Told = TypeVar("Told")

_LAYOUT = ("name", "conditions", "notes", "stations", "wordings", "place", "published_ascent_m")
_LOOKS = ("name", "goal_time_s", "units", "reminder", "busy", "page_link", "start_offset_s", "strategy")


@dataclass(frozen=True)
class Records:
    """Accepted plans, the log, the edits."""

    history: History = field(default_factory=History)
    logged: tuple[Logged, ...] = ()
    edited: tuple[Edited, ...] = ()
    recorded: tuple[Recorded, ...] = ()
    passed_over: tuple[Problem, ...] = ()  # lines of the log that are not in ``logged``

    def log_of(self, key: str) -> tuple[Done, ...]:
        """The log of one runner; a recording speaks for its session where no line of the log does."""
        lines = [one.done for one in self.logged if one.runner == key]
        said = {line.session for line in lines if line.session}
        more = [one.done for one in self.recorded if one.runner == key and one.done.session not in said]
        return tuple(sorted((*lines, *more), key=lambda line: (line.date, line.line)))

    def edits_of(self, key: str, today: dt.date) -> tuple[EditLine, ...]:
        """The edits of one runner that were written by a day."""
        return of_runner(self.edited, key, today)

    def last_day(self, key: str, *, until: dt.date) -> dt.date:
        """The day of the last word about one runner: their plan's, or that of their log within the plan."""
        days = [one.date for one in self.log_of(key) if one.date <= until]
        return max([self.history.day(key), *days])

    def courses_of(self, keys: Collection[str]) -> set[str]:
        """The courses, files or kinds of ground, of results since the block began."""
        told = [one.line.edit for one in self.edited if one.runner in keys]
        return {edit.course for edit in told if isinstance(edit, NewResult)}

    def facts_digest(self, key: str) -> str:
        """A digest of everything that was told of one runner."""
        told = (
            [repr(one) for one in self.log_of(key)],
            [repr(one.line) for one in self.edited if one.runner == key],
        )
        return _digest(repr(told)) if told != ([], []) else ""


def read_records(block: Block) -> Records:
    """What stands beside the settings. A line of the log or a recording that is wrong is passed over.

    Raises InputProblems with the mistakes of everything else.
    """
    problems: list[Problem] = []
    logged: tuple[Logged, ...] = ()
    passed_over: tuple[Problem, ...] = ()
    edited: tuple[Edited, ...] = ()
    history = read_history(block.folder / STATE_FOLDER)
    try:
        logged, passed_over = _good_lines(block, history)
    except InputProblems as error:
        problems += error.problems
    try:
        edited = read_edits(block)
    except InputProblems as error:
        problems += error.problems
    if problems:
        raise InputProblems(problems)
    recorded: list[Recorded] = []
    if (block.folder / DONE_FOLDER).is_dir():
        for runner in block.runners:
            accepted = history.accepted(runner.key)
            sessions = [one for week in accepted.weeks for one in week.sessions] if accepted else []
            recorded += read_recordings(block, runner, sessions)
    records = Records(history, logged, edited, tuple(recorded), passed_over)
    problems += _unknown_sessions(block, records)
    if problems:
        raise InputProblems(problems)
    return records


def passed_over_in_log(block: Block) -> tuple[Problem, ...]:
    """The lines of log.csv that every command passes over, with what is wrong with each.

    Those of somebody who has left are one problem.
    """
    path = block.folder / LOG_FILE
    if not path.exists():
        return ()
    found, problems = _good_lines(block, read_history(block.folder / STATE_FOLDER))
    there = {runner.key for runner in block.runners}
    left = _by_runner((line for line in found if line.runner not in there), lambda line: line.runner)
    gone = (
        Problem(
            str(path),
            min(line.row for line in lines),
            "the runner must have a row in the block",
            f'"{key}" has none any more, so {count_of(len(lines), "line")} of theirs are passed over',
            f"If they have left: planbuilder forget {shlex.quote(str(block.folder))} {key} --everything",
        )
        for key, lines in left.items()
    )
    return tuple(sorted((*problems, *gone), key=lambda one: one.line or 0))


def _good_lines(block: Block, history: History) -> tuple[tuple[Logged, ...], tuple[Problem, ...]]:
    """Lines of the log that can be read and whose session an accepted plan had; the others as problems."""
    lines, problems = read_good_lines(block)
    where = str(block.folder / LOG_FILE)
    unknown: dict[int, Problem] = {}
    for runner, own in _by_runner(lines, lambda line: line.runner).items():
        known = history.ids(runner) if any(line.done.session for line in own) else frozenset()
        for line in own:
            session = line.done.session
            if session and known and session not in known:
                unknown[line.row] = no_session(session, known, where=where, line=line.row)
    found = tuple(line for line in lines if line.row not in unknown)
    return found, tuple(sorted((*problems, *unknown.values()), key=lambda one: one.line or 0))


def _by_runner(told: Iterable[Told], whose: Callable[[Told], str]) -> dict[str, list[Told]]:
    """What was told of each runner: whoever asks the history about one after the other reads each once."""
    found: dict[str, list[Told]] = {}
    for one in told:
        found.setdefault(whose(one), []).append(one)
    return found


def runner_now(runner: BlockRunner, records: Records, basis: Basis) -> BlockRunner:
    """The runner with the goal that was accepted and the days away that were told of."""
    trips = tuple(
        Away.model_construct(first_day=edit.first_day, last_day=edit.last_day, runs=edit.runs, why=edit.why)
        for edit in (one.line.edit for one in records.edited if one.runner == runner.key)
        if isinstance(edit, AwayFromTraining)
    )
    changed: dict[str, object] = {}
    if trips:
        changed["away"] = (*runner.settings.away, *trips)
    if basis.goal_time_s is not None:
        changed["goal_time_s"] = basis.goal_time_s
    if not changed:
        return runner
    return replace(runner, settings=runner.settings.model_copy(update=changed))


@dataclass(frozen=True, slots=True)
class News:
    """What results since the block began make of a runner's form, and what a plan made today stands on."""

    basis: Basis
    form: NewForm
    nights: tuple[NightTold, ...]  # club nights that the accepted plan does not know as they are now
    first: FirstResult | None  # the one that ended training by effort
    fresh: bool  # the accepted plan was laid out from other settings or another course

    @property
    def words(self) -> tuple[str, ...]:
        """A sentence for each result that has something to say beside the source of the paces."""
        held = (self.first.held,) if self.first is not None and self.first.held else ()
        return (*held, *self.form.words)


def news_of(
    block: Block,
    records: Records,
    runner: BlockRunner,
    *,
    form_with: Callable[[Result | None], Form],
    courses: Mapping[str, Course],
    course: Course,
    today: dt.date,
) -> News:
    """What a plan made today stands on; ``form_with`` is form by the block file and one result more.

    Results of race day and after it say nothing of this plan: they are for the look back and the next block.
    """
    limits, key, form = block.limits, runner.key, form_with(None)
    edits, accepted = records.edits_of(key, today), records.history.accepted(key)
    results = results_of(
        edits,
        records.log_of(key),
        tune_ups=(*block.settings.training.tune_ups, *runner.settings.tune_ups),
        sessions=[one for week in accepted.weeks for one in week.sessions] if accepted else (),
        today=min(today, block.settings.race.date - dt.timedelta(days=1)),
        limits=limits,
    )
    weekly_m = trusted_volume(runner.settings, limits).weekly_distance_m
    first = first_result(
        form, results, form_with=form_with, weekly_distance_m=weekly_m, courses=courses, limits=limits
    )
    found = new_form(form, results, weekly_distance_m=weekly_m, courses=courses, limits=limits, first=first)
    goals = [one.edit for one in edits if isinstance(one.edit, Goal)]
    basis = Basis(
        settings=settings_digest(block, runner, course),
        facts=records.facts_digest(key),
        time_factor=found.time_factor,
        goal_time_s=goals[-1].goal_time_s if goals else None,
        source=PaceSource.of(first.run.result) if first is not None else None,
    )
    if accepted is None or not settings_stand(block, runner, course, accepted.basis):
        basis = replace(basis, nights=nights_of(block, runner))
        return News(basis, found, (), first, fresh=accepted is not None)
    basis = replace(basis, nights=nights_then(block, runner, accepted.basis, today))
    return News(basis, found, nights_told(block, runner, accepted.basis, today), first, fresh=False)


def situation_of(records: Records, request: Request, *, news: News, today: dt.date) -> Situation:
    """What re-planning of one runner looks at on a day; the runner has an accepted plan."""
    key, basis = request.runner_key, news.basis
    accepted = records.history.accepted(key)
    if accepted is None:
        raise KeyError(key)
    other = basis.source != accepted.basis.source
    return Situation(
        request=request,
        accepted=accepted.weeks,
        original=records.history.original(key),
        today=today,
        log=records.log_of(key),
        edits=tuple(_with_ids(records.edits_of(key, today), records.history.nights_ever(key))),
        answered=records.history.answered(key),
        used_ids=records.history.ids(key),
        held=accepted.held,
        pace_ratio=1.0 if other else basis.time_factor / accepted.basis.time_factor,
        pace_why=" ".join(news.words),
        pace_lines=news.form.lines,
        paced_until=news.form.last_day,
        new_source=(news.first.words if news.first else "") if other else None,
        rest_from=news.form.rest_from,
        fresh=news.fresh,
        nights=news.nights,
    )


def settings_stand(block: Block, runner: BlockRunner, course: Course, basis: Basis) -> bool:
    """Whether a plan that was accepted was laid out from the settings and the course as they are."""
    if basis.settings == settings_digest(block, runner, course):
        return True  # in plans of before the lines of nights were kept, nights that are off were settings
    return basis.nights is None and basis.settings == settings_digest(block, runner, course, off=True)


def settings_digest(block: Block, runner: BlockRunner, course: Course, *, off: bool = False) -> str:
    """A digest of the settings and the ground from which weeks are laid out.

    Club nights are not in it, nor are those that are ``off`` but where asked for: they are answered night by
    night.
    """
    training = block.settings.training
    extra = block.folder / "sessions.toml"
    parts = (
        block.settings.race.model_dump_json(exclude=set(_LAYOUT)),
        (training if off else training.model_copy(update={"nights_off": ()})).model_dump_json(),
        runner.settings.model_dump_json(exclude=set(_LOOKS)),
        repr([(limit.name, limit.value) for limit in block.limits if limit.overridden]),
        course.height_m.round(2).tobytes().hex(),
        extra.read_text("utf-8") if extra.exists() else "",
    )
    return _digest("\n".join(parts))


def _with_ids(lines: Iterable[EditLine], nights: Mapping[dt.date, str]) -> Iterator[EditLine]:
    """The edits with the ids of club nights that they name by date; those of nights elsewhere left out."""
    for line in lines:
        named: dict[str, str] = {}
        for word in ("session", "other"):
            night = night_date(getattr(line.edit, word, ""))
            if night is not None:
                named[word] = nights.get(night, "")
        if all(named.values()):
            yield replace(line, edit=line.edit.model_copy(update=named)) if named else line


def _unknown_sessions(block: Block, records: Records) -> list[Problem]:
    """Sessions that an edit names and that no accepted plan of its runner ever had."""
    history, where = records.history, str(block.folder / "edits.toml")
    edited = [
        (at, one.runner, of_everyone(one.line.line), one.line.edit.session)
        for at, one in enumerate(records.edited)
        if isinstance(one.line.edit, SessionEdit)
    ]
    everyone = block.runners if any(of_all for _, _, of_all, _ in edited) else ()
    nights = {night for runner in everyone for night in history.nights_ever(runner.key)}
    problems: dict[int, Problem] = {}
    for runner, own in _by_runner(edited, lambda one: one[1]).items():
        known, own_nights = history.ids(runner), history.nights_ever(runner)
        for at, _, of_all, session in own:
            if (
                known
                and session not in known
                and night_date(session) not in (nights if of_all else own_nights)
            ):
                problems[at] = no_session(session, known, where=where)
    return [problems[at] for at in sorted(problems)]


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:32]
