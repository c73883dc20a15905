"""The block: the one door to the folder a coach keeps for one race.

Receives: a folder with ``block.toml`` and the files it names.
Gives: a ``Block`` (types.py), or ``InputProblems`` with every mistake in every file.
"""

from planbuilder.block.course_files import course_files
from planbuilder.block.read import default_first_day, read_block, slug
from planbuilder.block.types import Block, BlockRunner

__all__ = ["Block", "BlockRunner", "course_files", "default_first_day", "read_block", "slug"]
