"""What is known of a person's health, or of the person, taken out.

Receives: a block folder, a name.
Gives: how much of it there was; an accepted plan goes on standing.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

from planbuilder import pipeline
from planbuilder.block import Block, read_block
from planbuilder.block import edits as edits_file
from planbuilder.block import history as history_file
from planbuilder.block import log as log_file
from planbuilder.block.history import STATE_FOLDER, append
from planbuilder.block.left import with_left
from planbuilder.block.living import Records, read_records
from planbuilder.block.recordings import DONE_FOLDER, forget_recordings
from planbuilder.block.survey import ROUTES
from planbuilder.outputs.safe_write import one_writer
from planbuilder.rehearse import forget_routes
from planbuilder.settings.problems import CannotWrite


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
