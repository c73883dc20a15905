"""The course files that a block names: of results and tune-ups, in block.toml, the roster and edits.toml.

Receives: the block folder, what a person wrote as a course.
Gives: whether that is a file, what is wrong with it, and every file that a block names.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from planbuilder.block.types import Block, BlockRunner


def is_course_file(words: str) -> bool:
    """Whether the ``course`` of a result or tune-up names a file and not a kind of ground."""
    return words not in ("flat", "rolling", "hilly")


def inside(folder: Path, path: str, *, shared: bool = False) -> Path | None:
    """The path in the block folder (or beside it, for what blocks share), None where it leaves that."""
    whole, home = folder / path, folder.resolve()
    try:
        resolved = whole.resolve()
    except (OSError, RuntimeError):  # a name that no disk takes, links that go round in a ring
        return None
    return whole if resolved.is_relative_to(home.parent if shared else home) else None


def wrong_course(folder: Path, path: str) -> tuple[str, str, str] | None:
    """What a course must be, what was found, what to do; None for a kind of ground or a file there is."""
    if not is_course_file(path):
        return None
    found = inside(folder, path)
    if found is None:
        return "a course file must be inside the block folder", f'not "{path}"', "Copy it in."
    if not found.exists():
        return "a course file must exist in the block folder", f'"{path}" is not there', ""
    if not found.is_file():
        return "a course file must be a file", f'"{path}" is not one', ""
    return None


def course_files(block: Block, runners: Sequence[BlockRunner], more: Iterable[str] = ()) -> tuple[str, ...]:
    """The course files that the results and tune-ups of these runners name, and ``more``, each once."""
    tune_ups = [*block.settings.training.tune_ups, *(race for r in runners for race in r.settings.tune_ups)]
    named = [
        *(race.course for race in tune_ups),
        *(res.course for r in runners for res in r.settings.results),
        *more,
    ]
    return tuple(sorted({words for words in named if is_course_file(words)}))
