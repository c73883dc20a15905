"""The files that somebody gives as courses or recordings, and the bytes of one.

Receives: a folder, or a path and its name in messages.
Gives: paths; the bytes, or ``InputProblems`` for what is no plain file, cannot be read or is too large.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Collection
from pathlib import Path

from planbuilder.settings.limits import Limits
from planbuilder.settings.problems import InputProblems, Problem


def files_in(
    folder: Path, endings: Collection[str], *, home: Path, deep: bool, on_error: Callable[[OSError], None]
) -> tuple[Path, ...]:
    """The plain files of a folder with one of these endings, ``deep`` those in its folders too, by path.

    Links that lead out of ``home`` are left alone. ``on_error`` is told of what cannot be looked into.
    """
    home = home.resolve()
    found = []

    def tell(error: OSError) -> None:
        if not isinstance(error, FileNotFoundError | NotADirectoryError):
            on_error(error)

    for place, folders, names in os.walk(folder, onerror=tell):
        if not deep:
            folders.clear()
        for path in (Path(place) / name for name in names):
            try:
                if path.suffix.lower() in endings and path.is_file() and path.resolve().is_relative_to(home):
                    found.append(path)
            except OSError as error:
                tell(error)
    return tuple(sorted(found))


def folder_problem(error: OSError) -> Problem:
    """That a folder cannot be looked into: the one that bars the way to what was asked for."""
    place = Path(error.filename)
    while place != place.parent and not os.access(place.parent, os.X_OK):
        place = place.parent
    must = "must be a folder that can be looked into"
    return Problem(str(place), None, must, (error.strerror or str(error)).lower())


def raise_it(error: OSError) -> None:
    """For those who cannot go on without a folder."""
    raise error


def bytes_of(path: Path, shown_as: str, limits: Limits) -> bytes:
    """The whole of a plain file. Raises InputProblems."""
    most = limits.number("course.most_bytes")
    problem = Problem(shown_as, None, "must be a file that can be read", "not one that cannot be opened")
    try:
        size = path.stat().st_size
        if not path.is_file():  # a folder; a device, which may never end
            problem = Problem(shown_as, None, "must be a file that can be read", "not a folder or a device")
        elif size > most:
            must, found = f"must be smaller than {most / 1e6:.0f} MB", f"not {size / 1e6:.0f} MB"
            todo = "Thin it out: a point every 10 m is enough."
            problem = Problem(shown_as, None, must, found, todo)
        else:
            return path.read_bytes()
    except FileNotFoundError:
        problem = Problem(shown_as, None, "must be there", "not missing", "Check the name and the folder.")
    except (OSError, ValueError):
        pass
    raise InputProblems([problem])
