"""What was said last, taken back: an edit that waits, or an accepted change.

Receives: a block folder, today.
Gives: what is taken back, and what is written and waits still.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from planbuilder.block import edits as edits_file
from planbuilder.block import history as history_file
from planbuilder.block import read_block
from planbuilder.block.history import STATE_FOLDER, Entry
from planbuilder.block.take_back import waiting, waits_last
from planbuilder.outputs.safe_write import one_writer
from planbuilder.settings.edit_models import Edit
from planbuilder.settings.problems import InputProblems, Problem


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
