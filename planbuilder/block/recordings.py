"""``done/``: recordings of runs, each matched to the planned session it was.

Receives: GPX files in ``done/`` (for a squad in ``done/<runner's key>/``), the accepted sessions.
Gives: lines like those of log.csv. Where somebody ran never leaves the course room.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from planbuilder.block.types import Block, BlockRunner
from planbuilder.course.file_bytes import files_in, folder_problem, raise_it
from planbuilder.course.recording import Recording, read_recording
from planbuilder.plan.types import Session
from planbuilder.rules.context import is_run
from planbuilder.schedule.replan import Done
from planbuilder.settings.problems import InputProblems, pass_over

DONE_FOLDER: Final = "done"
_NOT_COUNTED: Final = "Until then what was run there is not counted."


@dataclass(frozen=True, eq=False)
class Recorded:
    """A recording with the session that it was."""

    runner: str  # key
    done: Done
    recording: Recording


def read_recordings(block: Block, runner: BlockRunner, sessions: Sequence[Session]) -> tuple[Recorded, ...]:
    """Every recording of a runner by date; a file that cannot be read is passed over."""
    zone = ZoneInfo(block.settings.race.timezone)
    found: list[Recorded] = []
    for path in _files(block, runner, on_error=_pass_over_folder):
        shown_as = str(path)
        try:
            recording = read_recording(path, shown_as=shown_as, limits=block.limits)
        except InputProblems as error:
            pass_over(error.problems[0], _NOT_COUNTED)
            continue
        date = recording.start.astimezone(zone).date()
        taken = {one.done.session for one in found}
        session = best_match(
            recording,
            date,
            [one for one in sessions if one.id not in taken],
            limit=block.limits.number("adapt.match"),
        )
        part = session is not None and recording.whole_m < session.distance_m * block.limits.number(
            "adapt.part"
        )
        found.append(
            Recorded(
                runner.key,
                Done(
                    line=f"{DONE_FOLDER}/{path.name}",
                    date=date,
                    session=session.id if session else "",
                    went="part" if part else "done",
                    distance_m=recording.whole_m,
                    duration_s=recording.duration_s,
                ),
                recording,
            )
        )
    return tuple(sorted(found, key=lambda one: (one.done.date, one.done.line)))


def forget_recordings(block: Block, runner: BlockRunner) -> int:
    """Delete the recordings of a runner; how many there were. Raises OSError where one cannot be deleted."""
    files = _files(block, runner, on_error=raise_it)
    for path in files:
        path.unlink()
    return len(files)


def best_match(
    recording: Recording, date: dt.date, sessions: Sequence[Session], *, limit: float
) -> Session | None:
    """The session of that day which a recording was: by distance first, then by how much it climbed.

    None where none was planned, or none is nearer than ``limit`` (0 alike, 1 nothing in common).
    """
    same_day = [one for one in sessions if one.date == date and is_run(one) and not one.cancelled]
    scored = [(_unlike(recording, one), one.id, one) for one in same_day]
    best = min(scored, default=None, key=lambda entry: entry[:2])
    return best[2] if best is not None and best[0] <= limit else None


def _unlike(recording: Recording, session: Session) -> float:
    """How far a recording is from a session: by distance, and a little by climbing."""
    far = abs(recording.whole_m - session.distance_m) / max(recording.whole_m, session.distance_m, 1.0)
    up = abs(recording.ascent_m - session.climb_m) / max(recording.ascent_m, session.climb_m, 50.0)
    return far + 0.2 * up


def _files(block: Block, runner: BlockRunner, *, on_error: Callable[[OSError], None]) -> list[Path]:
    """The recordings of a runner by path; those in no folder of a runner are those of a block of one."""
    home = block.folder / DONE_FOLDER
    is_alone = [one.key for one in block.runners] == [runner.key]
    folders = (home / runner.key, home) if is_alone else (home / runner.key,)
    return [
        path
        for folder in folders
        for path in files_in(folder, (".gpx",), home=home, deep=False, on_error=on_error)
    ]


def _pass_over_folder(error: OSError) -> None:
    pass_over(folder_problem(error), _NOT_COUNTED)
