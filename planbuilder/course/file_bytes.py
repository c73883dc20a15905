"""The bytes of a file that somebody gives as a course or a recording.

Receives: a path and its name in messages.
Gives: the bytes, or ``InputProblems`` for what is no plain file, cannot be read or is too large.
"""

from __future__ import annotations

from pathlib import Path

from planbuilder.settings.limits import Limits
from planbuilder.settings.problems import InputProblems, Problem


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
