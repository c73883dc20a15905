"""Whether a block says more by now than the plan that was accepted.

Receives: a block.
Gives: a sentence for each runner of whom it does.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator

from planbuilder.block import Block
from planbuilder.block.living import read_records, settings_stand
from planbuilder.block.survey import survey


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
