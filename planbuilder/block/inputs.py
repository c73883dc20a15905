"""A digest of everything a runner's plan is a function of: equal digests, equal plans.

Receives: a block with its club nights, its course, its records.
Gives: one digest for what all runners share, and one a runner on top of it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path
from typing import Final

import planbuilder
from planbuilder.block.living import Records
from planbuilder.block.types import Block, BlockRunner
from planbuilder.course.file_bytes import files_in
from planbuilder.course.types import Course

_BESIDE: Final = ("routes", "done")  # folders that settings do not repeat
_SEEN: Final = (".gpx", ".csv")


def inputs_digest(block: Block, course: Course) -> str:
    """What the plans of all runners share: race, training, course, limits, nights, library, routes."""
    found = hashlib.sha256(planbuilder.__version__.encode())
    for text in (
        block.key,
        str(block.first_day),
        str(len(block.runners) <= block.limits.number("squad.board_rows")),
        block.settings.race.model_dump_json(),
        block.settings.training.model_dump_json(),
        repr([(limit.name, limit.value) for limit in block.limits]),
        repr(sorted((str(date), repr(night)) for date, night in block.nights.items())),
    ):
        found.update(text.encode() + b"\0")
    found.update(course.height_m.tobytes())
    for path in _files(block.folder):
        found.update(path.as_posix().encode() + b"\0" + _bytes(path))
    return found.hexdigest()


def _bytes(path: Path) -> bytes:
    """What stands in a file; nothing where it cannot be read, and is passed over."""
    try:
        return path.read_bytes()
    except OSError:
        return b""


def _pass(_: OSError) -> None:
    """What cannot be looked into is told by those who need it."""


def _files(folder: Path) -> Iterable[Path]:
    """Every file that may count: what stands in the block itself and in its folders of routes and runs."""
    here = [path for path in folder.iterdir() if path.suffix.lower() in _SEEN]
    skipped = {folder / "roster.csv", folder / "log.csv"}
    library = [path for path in (folder / "sessions.toml",) if path.is_file()]
    beside = [
        path
        for name in _BESIDE
        for path in files_in(folder / name, _SEEN, home=folder, deep=True, on_error=_pass)
    ]
    return sorted({*here, *library, *beside} - skipped)


def runner_digest(shared: str, runner: BlockRunner, records: Records) -> str:
    """What one plan is a function of."""
    history = records.history
    parts = (
        shared,
        runner.key,
        runner.settings.model_dump_json(),
        history.digest(runner.key) if history.knows(runner.key) else "",
        records.facts_digest(runner.key),
    )
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()
