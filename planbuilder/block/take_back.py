"""What was said last, and so is taken back first: an accepted plan, or an edit that waits for one.

Receives: edits, the history, a runner's key or none for the whole squad, today.
Gives: which of the two an undo takes back; the edits that no accepted plan has taken in.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from planbuilder.block.accepted import Entry
from planbuilder.block.edits import Edited, of_runner
from planbuilder.block.history import History
from planbuilder.block.types import Block
from planbuilder.settings.problems import InputProblems, Problem


def waiting(
    edited: Sequence[Edited], history: History, key: str | None, today: dt.date
) -> tuple[tuple[Edited, ...], ...]:
    """The edits that no accepted plan has taken in, oldest first: each with everyone it is about."""
    answered = {line for runner in history.runners for line in history.answered(runner)}
    counts = {
        line.line for runner in {one.runner for one in edited} for line in of_runner(edited, runner, today)
    }
    by_line: dict[str, list[Edited]] = {}
    for one in edited:
        if one.line.line in counts - answered:
            by_line.setdefault(one.line.line, []).append(one)
    return tuple(tuple(own) for own in by_line.values() if key is None or key in {one.runner for one in own})


def waits_last(
    block: Block, edited: Sequence[Edited], history: History, key: str | None, today: dt.date
) -> tuple[Edited, ...]:
    """The waiting edit that was written after the last accepted change; empty where none was.

    The files do not tell apart what was written and what was accepted on one day for different runners: then
    InputProblems asks for the runner.
    """
    left, accepted = waiting(edited, history, key, today), [entry for entry, _ in history.to_undo(key)]
    if not left or not accepted:
        return left[-1] if left else ()
    last, entry = left[-1], accepted[0]
    about, on = {one.runner for one in last}, last[0].line.edit.on
    place = {one.line.line: number for number, one in enumerate(edited)}
    taken_in = [place[line] for one in accepted for line in one.plan.lines if line in place]
    if taken_in and place[last[0].line.line] < max(taken_in):
        return ()
    if (entry.by == "edit" and taken_in) or about & {one.plan.runner for one in accepted}:
        return last
    if str(on) == entry.day:
        raise InputProblems([_whose(block, last[0], entry)])
    return last if str(on) > entry.day else ()


def _whose(block: Block, last: Edited, entry: Entry) -> Problem:
    names = {runner.key: runner.settings.name for runner in block.runners}
    one, other = (names.get(key, key) for key in (entry.plan.runner, last.runner))
    return Problem(
        str(block.folder),
        None,
        "an undo must say whose change it takes back",
        f"on {entry.day} a change of {one} was accepted and one of {other} was written",
        f'Say --runner "{one}" or --runner "{other}".',
    )
