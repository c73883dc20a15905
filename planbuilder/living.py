"""The plan after its first day, on one page: what was run, what a person changed, what that does to the rest.

    log.csv, edits.toml -> situation -> replan -> a proposal -> history

Receives: a block, a command's words, today.
Gives: proposals with every change and its reason; the history gets a line only when one is accepted.
"""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from planbuilder import delivery, pipeline
from planbuilder.block import Block, BlockRunner, read_block
from planbuilder.block import edits as edits_file
from planbuilder.block import history as history_file
from planbuilder.block import log as log_file
from planbuilder.block.chat import PASTED_FORM, pasted
from planbuilder.block.club import night_off
from planbuilder.block.history import STATE_FOLDER, Accepted, Entry, append
from planbuilder.block.left import with_left
from planbuilder.block.living import Records, read_records, runner_now, settings_stand, situation_of
from planbuilder.block.log_lines import Logged, problems_of
from planbuilder.block.log_table import LogLine
from planbuilder.block.named import no_session
from planbuilder.block.recordings import DONE_FOLDER, forget_recordings
from planbuilder.block.results import is_race
from planbuilder.block.survey import ROUTES, survey
from planbuilder.block.take_back import waiting, waits_last
from planbuilder.outputs.safe_write import one_writer
from planbuilder.plan.types import Session
from planbuilder.rehearse import forget_routes
from planbuilder.schedule.replan import Replan, edit_only, replan
from planbuilder.schedule.replan.notes import new_times, summary
from planbuilder.schedule.types import Request
from planbuilder.settings.edit_models import EVERYONE, Edit, SessionEdit
from planbuilder.settings.problems import CannotWrite, InputProblems, Problem
from planbuilder.units import System, say_date

MOST_DAYS_OFF: Final = 3  # so far from its day a session may be run
_WEATHER: Final = ("race.heat_stop", "race.heat_no_goal", "race.heat_caution", "race.cold_caution")


@dataclass(frozen=True)
class Proposal:
    """What would change for one runner."""

    name: str
    key: str
    units: System
    answer: Replan
    accepted: Accepted  # ready for the history
    stands: bool  # nothing changes, and nothing new was told
    times: tuple[str, ...] = ()  # what a result or a goal moves beside the sessions
    weather: tuple[str, ...] = ()  # what the weather of a race day to come asks for, with unit marks


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


@dataclass(frozen=True)
class TakenBack:
    """What an undo took back: accepted plans by name, or edits alone; and what is written and waits still."""

    accepted: tuple[tuple[str, Entry], ...]
    edits: tuple[tuple[str, Edit], ...]  # of whom, by name or Everyone
    left: tuple[tuple[str, Edit], ...]

    @property
    def logged(self) -> bool:
        """Whether a plan that is taken back had answered lines of the log."""
        lines = (line for _, entry in self.accepted for line in entry.plan.lines)
        return any(not line.startswith("edit/") for line in lines)


# Log -----------------------------------------------------------------------------------------------------


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
            found.append(_ahead(day, today, where, number))
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


# Re-planning ---------------------------------------------------------------------------------------------


def propose(block: Block, *, today: dt.date, only: str | None = None) -> Iterator[Proposal]:
    """What re-planning from today would change, runner by runner; nothing is written.

    Raises InputProblems where a line of the log is wrong: what it says may be what matters.
    """
    runners = block.runners_named(only)
    prepared = pipeline.prepare(block, runners, _whole_records(block, today))
    for runner in runners:
        yield _propose(prepared, runner, today)


def accept(
    block: Block, proposals: Sequence[Proposal], *, by: history_file.By, today: dt.date, now: dt.datetime
) -> tuple[Proposal, ...]:
    """Let proposals hold; a plan that never was accepted is taken as it stands first.

    Gives those that were written: whose plan changes, or of whom something new was told.
    """
    written = tuple(one for one in proposals if not one.stands)
    if not written:
        return ()
    new = [one.accepted for one in written]
    with one_writer(block.folder / STATE_FOLDER):
        delivery.accept_as_they_stand(block, now=now, only={one.runner for one in new})
        append(block.folder / STATE_FOLDER, new, by=by, block=block.key, day=today, now=now)
    return written


def _whole_records(block: Block, today: dt.date) -> Records:
    """What was told, where every line of the log is good and none is of a day to come."""
    records = read_records(block)
    where = str(block.folder / log_file.LOG_FILE)
    ahead = [_ahead(one.done.date, today, where, one.row) for one in records.logged if one.done.date > today]
    if records.passed_over or ahead:
        raise InputProblems(sorted((*records.passed_over, *ahead), key=lambda one: one.line or 0))
    return records


def _ahead(day: dt.date, today: dt.date, where: str, line: int | None) -> Problem:
    return Problem(where, line, f"the date must be {today} or before", f"not {day}")


def _propose(
    prepared: pipeline.Prepared, runner: BlockRunner, today: dt.date, *, edits_alone: bool = False
) -> Proposal:
    """The answer for one runner. A plan that never was accepted is answered as if it just had been."""
    block, ground, records, key = prepared.block, prepared.ground, prepared.records, runner.key
    if not records.history.knows(key):
        records = replace(records, history=_as_if_accepted(prepared, runner, today))
    accepted = records.history.accepted(key)
    assert accepted is not None
    who = runner_now(runner, records, accepted.basis)
    before = pipeline.request_for(block, ground, who, accepted.basis)
    news = pipeline.news_on(block, ground, runner, records, today)
    situation, basis = situation_of(records, before, news=news, today=today), news.basis
    times: tuple[str, ...] = ()
    if edits_alone:
        answer, basis = edit_only(situation), replace(accepted.basis, facts=basis.facts)
    else:
        who = runner_now(runner, records, basis)
        request = pipeline.request_for(block, ground, who, basis)
        answer = replan(replace(situation, request=request))
        if _sets_times(basis) != _sets_times(accepted.basis):
            times = tuple(new_times(before, request))
    told = {line.line for line in situation.edits} | {line.line for line in situation.log}
    return Proposal(
        name=runner.settings.name,
        key=key,
        units=runner.settings.units,
        answer=answer,
        accepted=Accepted(
            runner=key,
            weeks=answer.weeks,
            basis=basis,
            why=summary(answer),
            lines=tuple(sorted(told - records.history.answered(key))),
            held=answer.held,
            fresh=situation.fresh and not edits_alone,
            laid=answer.laid,
        ),
        stands=not answer.changes and basis == accepted.basis,
        times=times,
        weather=tuple(_weather(before, today)),
    )


def _weather(request: Request, today: dt.date) -> Iterator[str]:
    """What heat or cold asks for on a race day to come; it moves no session, so no change tells of it."""
    if today <= request.race.date:
        yield from (note.text for note in request.race_plan.notes if note.rule in _WEATHER)


def _sets_times(basis: history_file.Basis) -> tuple[object, ...]:
    """What of a basis predicted times and paces come from."""
    return basis.time_factor, basis.goal_time_s, basis.source


def _as_if_accepted(prepared: pipeline.Prepared, runner: BlockRunner, today: dt.date) -> history_file.History:
    block, records = prepared.block, prepared.records
    bare = replace(prepared, records=replace(records, history=history_file.History()))
    first = delivery.first_accepted(block, prepared.ground, runner, pipeline.plan_now(bare, runner))
    return records.history.with_entry(first, block=block.key, day=today)


# A person's word -----------------------------------------------------------------------------------------


def edit(
    folder: Path, values: Mapping[str, Any], *, today: dt.date, now: dt.datetime
) -> tuple[Proposal, ...]:
    """Write an edit; one of a single session holds at once, any other is answered by re-planning.

    Gives what it changes for every runner it is about. Raises InputProblems where the edit cannot be read or
    carried out and CannotWrite where the disk takes no more; the edit is not kept then.
    """
    with one_writer(folder / STATE_FOLDER):
        block = read_block(folder)
        before = _whole_records(block, today)
        _check_session(block, values)
        edited = edits_file.add_edit(block, values)
        alone = isinstance(edited[0].line.edit, SessionEdit)
        try:
            found = tuple(_answers(block, edited, today, alone=alone))
            if alone:
                changed = [one for one in found if one.answer.changes]
                _must_change(folder, found, changed)
                found = tuple(replace(one, accepted=_of_edit(one, edited[0], before)) for one in changed)
                accept(block, found, by="edit", today=today, now=now)
        except (InputProblems, CannotWrite):
            with suppress(CannotWrite):
                edits_file.remove_edit(block, edited[0].line.line)
            raise
    return found


def is_the_race(folder: Path, name: str, date: dt.date) -> bool | None:
    """Whether a result of a day was taken for the race; None where that is no race day of the runner."""
    (now,) = pipeline.plans_now(read_block(folder), only=name)
    race = now.plan.race_session
    return None if race is None or race.date != date else now.debrief is not None


def _answers(
    block: Block, edited: Sequence[edits_file.Edited], today: dt.date, *, alone: bool
) -> Iterator[Proposal]:
    """What an edit that has just been written changes, runner by runner."""
    about = {one.runner for one in edited}
    runners = tuple(one for one in block.runners if one.key in about)
    prepared = pipeline.prepare(block, runners)
    for runner in runners:
        yield _propose(prepared, runner, today, edits_alone=alone)


def _must_change(folder: Path, found: Sequence[Proposal], changed: Sequence[Proposal]) -> None:
    """An edit of a session that changes nothing for anybody is a mistake."""
    if changed:
        return
    said = [note.text for one in found for note in one.answer.notes] or ["it changes nothing"]
    must = "the edit must change something"
    raise InputProblems([Problem(str(folder), None, must, said[-1].rstrip("."))])


def _of_edit(found: Proposal, edited: edits_file.Edited, before: Records) -> Accepted:
    """The plan with an edit, which answers that edit alone: other news stays news."""
    last = before.history.accepted(found.key)
    known = last is None or last.basis.facts == before.facts_digest(found.key)
    basis = found.accepted.basis
    if last is not None and not known:
        basis = replace(basis, facts=last.basis.facts)
    return replace(found.accepted, lines=(edited.line.line,), basis=basis)


def undo(folder: Path, *, only: str | None, today: dt.date, now: dt.datetime) -> TakenBack:
    """Take back what was said last: an edit that waits for a re-plan, or the last accepted change.

    With an accepted edit of a session its line goes too; what an accepted re-plan answered stays written.
    """
    with one_writer(folder / STATE_FOLDER):
        block = read_block(folder)
        key = None if only is None else block.runners_named(only)[0].key
        history = history_file.read_history(folder / STATE_FOLDER)
        edited = edits_file.read_edits(block)
        gone = list(waits_last(block, edited, history, key, today))
        entries: tuple[Entry, ...] = ()
        _not_of_everyone(history, key, gone)
        if not gone:
            entries = history_file.undo(folder / STATE_FOLDER, key, day=today, now=now)
            lines = {line for entry in entries if entry.by == "edit" for line in entry.plan.lines}
            gone = [one for one in edited if one.line.line in lines]
        for line in dict.fromkeys(one.line.line for one in gone):
            edits_file.remove_edit(block, line)
        left = waiting(
            edits_file.read_edits(block), history_file.read_history(folder / STATE_FOLDER), key, today
        )
    names = {runner.key: runner.settings.name for runner in block.runners}
    return TakenBack(
        accepted=tuple((names.get(one.plan.runner, one.plan.runner), one) for one in entries),
        edits=tuple(_said_of(one, names) for one in {one.line.line: one for one in gone}.values()),
        left=tuple(_said_of(of_all[0], names) for of_all in left),
    )


def _said_of(edited: edits_file.Edited, names: Mapping[str, str]) -> tuple[str, Edit]:
    """Of whom an edit is, and what it says."""
    everyone = edits_file.of_everyone(edited.line.line)
    return "Everyone" if everyone else names.get(edited.runner, edited.runner), edited.line.edit


def _not_of_everyone(
    history: history_file.History, key: str | None, gone: Sequence[edits_file.Edited]
) -> None:
    """An edit of the whole squad is taken back for the whole squad."""
    if key is None:
        return
    last = [line for entry, _ in history.to_undo(key) if entry.by == "edit" for line in entry.plan.lines]
    if any(map(edits_file.of_everyone, [one.line.line for one in gone] or last)):
        must = "an edit of everyone must be taken back for everyone"
        raise InputProblems(
            [
                Problem(
                    str(history.path.parent.parent),
                    None,
                    must,
                    f'not for "{key}" alone',
                    "Leave out --runner.",
                )
            ]
        )


def forget(folder: Path, name: str, *, everything: bool, now: dt.datetime) -> dict[str, int]:
    """Take out what is known of a person's health, or of the person; how much of it there was, by file.

    It may be somebody who has no row any more. An accepted plan goes on standing: what its makers knew of
    health is no news once it is gone. With the person go their recordings and the routes in their own folder.
    Raises CannotWrite.
    """
    with one_writer(folder / STATE_FOLDER):
        block = read_block(folder)
        ever = with_left(block)
        (runner,) = ever.runners_named(name)
        if not everything:
            before = read_records(block) if runner in block.runners else None
            gone = {
                log_file.LOG_FILE: log_file.forget_health(ever, runner),
                edits_file.EDITS_FILE: edits_file.forget_health(ever, runner),
            }
            if before is not None:
                _stand(block, runner.key, before, now)
            return gone
        gone = {
            log_file.LOG_FILE: log_file.forget_lines(ever, runner),
            edits_file.EDITS_FILE: edits_file.forget_edits(ever, runner),
            history_file.HISTORY_FILE: int(history_file.forget_runner(folder / STATE_FOLDER, runner.key)),
        }
        try:
            files = {
                f"{DONE_FOLDER}/": forget_recordings(block, runner),
                f"{ROUTES}/{runner.key}/": forget_routes(folder / ROUTES, runner.key),
            }
        except OSError as error:
            raise CannotWrite(f"{error.filename}: could not be deleted ({error.strerror}).") from error
        return gone | {place: count for place, count in files.items() if count}


def waits_for_clearance(block: Block, name: str) -> bool:
    """Whether the runs ahead of a runner wait until a practitioner has looked at something."""
    return any(one.told.waits_from is not None for one in pipeline.plans_now(block, only=name))


def _stand(block: Block, key: str, before: Records, now: dt.datetime) -> None:
    """Let the accepted plan of a runner stand by what is left, where it knew all that there was."""
    accepted, left = before.history.accepted(key), read_records(block).facts_digest(key)
    if accepted is None or accepted.basis.facts != before.facts_digest(key) or accepted.basis.facts == left:
        return
    plan = replace(accepted, basis=replace(accepted.basis, facts=left), again=True)
    history = before.history
    append(
        block.folder / STATE_FOLDER,
        [plan],
        by=history.by(key),
        block=block.key,
        day=history.day(key),
        now=now,
    )


def _check_session(block: Block, values: Mapping[str, Any]) -> None:
    """The session an edit names must be one of the runner's plan, or one of their club nights."""
    named = [str(values[word]) for word in ("session", "with") if word in values]
    if not named:
        return
    whom = str(values["runner"])
    plans = list(pipeline.plans_now(block, only=None if whom == EVERYONE else whom))
    sessions = [session for one in plans for session in one.plan.sessions]
    history = read_records(block).history
    nights = {str(date) for one in plans for date in history.nights(one.plan.runner.key)}
    nights |= {str(session.date) for session in sessions if session.role == "club"}
    known = sorted({session.id for session in sessions})
    problems = [
        night_off(block.off, id_) or no_session(id_, known, where=str(block.folder), nights=True)
        for id_ in named
        if id_ not in known and id_ not in nights
    ]
    if problems:
        raise InputProblems(problems)


def moved_away(block: Block) -> Iterator[str]:
    """For whom the block says more by now than the plan that was accepted, a sentence each."""
    records = read_records(block)
    if not records.history.runners:
        return
    ground = survey(block, block.runners)
    keys = {runner.key for runner in block.runners}
    see = f"See: planbuilder replan {shlex.quote(str(block.folder))}"
    for runner in block.runners:
        accepted = records.history.accepted(runner.key)
        if accepted is None:
            yield f"{runner.settings.name} is new since the plan was accepted; publish takes this plan."
        elif not settings_stand(block, runner, ground.course, accepted.basis):
            yield (
                f"The settings or the course of {runner.settings.name} have changed since the plan was "
                f"accepted; it is built as accepted. {see}"
            )
        elif records.facts_digest(runner.key) != accepted.basis.facts:
            yield f"There is news of {runner.settings.name} since the plan was accepted. {see}"
    forget_them = f"planbuilder forget {shlex.quote(str(block.folder))}"
    for key in sorted(set(records.history.runners) - keys):
        yield (
            f'The accepted plan of "{key}" has no runner any more. If it is a runner under a new name, give '
            f'them id = "{key}". If they have left: {forget_them} {key} --everything'
        )
