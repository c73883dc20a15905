"""What re-planning from today would change, runner by runner, and how it comes to hold.

Receives: a block, today.
Gives: proposals with every change and its reason; the history gets a line only when one is accepted.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from planbuilder import delivery, pipeline
from planbuilder.block import Block, BlockRunner
from planbuilder.block import history as history_file
from planbuilder.block import log as log_file
from planbuilder.block.history import STATE_FOLDER, Accepted, append
from planbuilder.block.living import Records, read_records, runner_now, situation_of
from planbuilder.outputs.safe_write import one_writer
from planbuilder.schedule.replan import Replan, edit_only, replan
from planbuilder.schedule.replan.notes import new_times, summary
from planbuilder.schedule.types import Request
from planbuilder.settings.problems import InputProblems, Problem
from planbuilder.units import System

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


def propose(block: Block, *, today: dt.date, only: str | None = None) -> Iterator[Proposal]:
    """What re-planning from today would change, runner by runner; nothing is written.

    Raises InputProblems where a line of the log is wrong: what it says may be what matters.
    """
    runners = block.runners_named(only)
    prepared = pipeline.prepare(block, runners, whole_records(block, today))
    for runner in runners:
        yield proposed(prepared, runner, today)


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


def whole_records(block: Block, today: dt.date) -> Records:
    """What was told, where every line of the log is good and none is of a day to come."""
    records = read_records(block)
    where = str(block.folder / log_file.LOG_FILE)
    ahead = [
        day_ahead(one.done.date, today, where, one.row) for one in records.logged if one.done.date > today
    ]
    if records.passed_over or ahead:
        raise InputProblems(sorted((*records.passed_over, *ahead), key=lambda one: one.line or 0))
    return records


def day_ahead(day: dt.date, today: dt.date, where: str, line: int | None) -> Problem:
    return Problem(where, line, f"the date must be {today} or before", f"not {day}")


def proposed(
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
