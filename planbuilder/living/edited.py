"""A person's word: an edit that is written, and what it changes.

Receives: the words of an edit.
Gives: proposals; the edit of a session holds at once, any other is answered by re-planning.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from planbuilder import pipeline
from planbuilder.block import Block, read_block
from planbuilder.block import edits as edits_file
from planbuilder.block.club import night_off
from planbuilder.block.history import STATE_FOLDER, Accepted
from planbuilder.block.living import Records, read_records
from planbuilder.block.named import no_session
from planbuilder.living.proposals import Proposal, accept, proposed, whole_records
from planbuilder.outputs.safe_write import one_writer
from planbuilder.settings.edit_models import EVERYONE, SessionEdit
from planbuilder.settings.problems import CannotWrite, InputProblems, Problem


def edit(
    folder: Path, values: Mapping[str, Any], *, today: dt.date, now: dt.datetime
) -> tuple[Proposal, ...]:
    """Write an edit; one of a single session holds at once, any other is answered by re-planning.

    Gives what it changes for every runner it is about. Raises InputProblems where the edit cannot be read or
    carried out and CannotWrite where the disk takes no more; the edit is not kept then.
    """
    with one_writer(folder / STATE_FOLDER):
        block = read_block(folder)
        before = whole_records(block, today)
        check_session(block, values)
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
        yield proposed(prepared, runner, today, edits_alone=alone)


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


def check_session(block: Block, values: Mapping[str, Any]) -> None:
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
