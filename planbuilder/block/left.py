"""Who has left a squad: no runner of the block any more, but still in its history, its log or its edits.

Receives: a block, a name as somebody wrote it.
Gives: the runner of that name, whether or not they still have a row; the block with everyone who has left.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cached_property

from planbuilder.block.history import STATE_FOLDER, read_history
from planbuilder.block.log_table import LOG_FILE, columns_of, line_of, rows_of
from planbuilder.block.read import slug
from planbuilder.block.types import Block, BlockRunner
from planbuilder.settings.edit_models import EVERYONE
from planbuilder.settings.models import RunnerSettings
from planbuilder.settings.names import without_accents
from planbuilder.settings.toml_lines import read_spreadsheet_text, read_toml


class EverKnown:
    """The runners of a block, and those who had a plan in it and have left."""

    def __init__(self, block: Block) -> None:
        self._block = block
        self._found: dict[str, BlockRunner | None] = {}

    def find(self, name: str) -> BlockRunner | None:
        """The runner whom a name is for; None where it is nobody's, or that of several."""
        if name not in self._found:
            self._found[name] = self._block.runner_named(name) or self._left(name)
        return self._found[name]

    @cached_property
    def keys_left(self) -> frozenset[str]:
        """The keys of those who had a plan and have no row."""
        there = {runner.key for runner in self._block.runners}
        return frozenset(read_history(self._block.folder / STATE_FOLDER).runners) - there

    def _left(self, name: str) -> BlockRunner | None:
        said = slug(name)
        if not said or _is_first_name(name, self._block):
            return None
        whole = [key for key in self.keys_left if key == said]
        keys = whole or [key for key in self.keys_left if key.partition("-")[0] == said]
        return _without_row(keys[0], name) if len(keys) == 1 else None


def with_left(block: Block) -> Block:
    """The block as if everyone who has left still had a row, those who never had a plan among them."""
    known, left = EverKnown(block), dict[str, str]()
    for name in _written(block):
        if name.casefold() == EVERYONE or block.runner_named(name) or _is_first_name(name, block):
            continue
        found = known.find(name)
        key = found.key if found is not None else slug(name)
        if key and key not in {runner.key for runner in block.runners}:
            left[key] = name if slug(name) == key else left.get(key, _name_of(key))
    left = {key: _name_of(key) for key in known.keys_left} | left
    return replace(block, runners=(*block.runners, *(_without_row(key, left[key]) for key in sorted(left))))


def _written(block: Block) -> Iterator[str]:
    """The names that stand in the log and in the edits."""
    log, edits = block.folder / LOG_FILE, block.folder / "edits.toml"
    if log.exists():
        text = read_spreadsheet_text(log, shown_as=str(log))
        columns = columns_of(text)
        yield from (line_of(cells, columns).runner for _, cells in rows_of(text)[1:])
    tables = read_toml(edits, shown_as=str(edits))[0].get("edit") if edits.exists() else None
    for table in tables if isinstance(tables, list) else ():
        if isinstance(table, Mapping):
            yield str(table.get("runner", ""))


def _is_first_name(name: str, block: Block) -> bool:
    """Whether a runner of the block has this first name: then it is theirs to clear up whose it is."""
    said = without_accents(name.strip())
    return any(without_accents(runner.settings.name).split()[:1] == [said] for runner in block.runners)


def _without_row(key: str, name: str) -> BlockRunner:
    return BlockRunner(key, RunnerSettings.model_construct(name=name))


def _name_of(key: str) -> str:
    """A name that finds the key as people type it."""
    return key.replace("-", " ")
