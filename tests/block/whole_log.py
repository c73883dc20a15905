"""The whole log of a block, where nothing in it is wrong."""

from __future__ import annotations

from planbuilder.block.log import read_good_lines
from planbuilder.block.log_lines import Logged
from planbuilder.block.types import Block
from planbuilder.settings.problems import InputProblems


def read_log(block: Block) -> tuple[Logged, ...]:
    """All lines by date. Raises InputProblems with every mistake."""
    found, problems = read_good_lines(block)
    if problems:
        raise InputProblems(list(problems))
    return found
