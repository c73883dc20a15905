"""The folder for files that only save time: made anew whenever they are missing, never needed."""

from __future__ import annotations

import os
from pathlib import Path


def cache_folder() -> Path | None:
    """The folder among the user's cached files, made where it is missing; None where it cannot be."""
    home = os.environ.get("XDG_CACHE_HOME")
    try:
        folder = (Path(home) if home else Path.home() / ".cache") / "planbuilder"
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, RuntimeError):  # a disk that says no; nobody's home
        return None
    return folder
