"""A line of ``state/history.jsonl``: written, looked at, read.

Receives: an ``Entry`` with the weeks of the runner's line before, or the bytes of a line.
Gives: the bytes; the ``Head``, all that is needed to find a plan; the ``Entry`` again.

The weeks, nearly all of a line, stand at its end: a head is read without them.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from sys import intern
from typing import Any, Final, get_args

from planbuilder.block.accepted import Accepted, Basis, By, Entry, PaceSource
from planbuilder.plan.store import session_from_data, session_to_data, week_from_data, week_to_data
from planbuilder.plan.types import Week
from planbuilder.schedule.replan import Held

_WEEKS: Final = b',"weeks":['  # quotes within a text are escaped, so no text of a line holds this


@dataclass(frozen=True, slots=True)
class Head:
    """What is at hand of a line without its weeks, and where it stands in the file."""

    version: int
    day: str
    by: By
    block: str
    runner: str
    lines: tuple[str, ...]
    fresh: bool
    undoes: int | None
    again: bool = False
    number: int = 0  # of the line, from 1; 0 for one that is not in the file
    start: int = 0  # octets
    size: int = 0

    @classmethod
    def of(cls, entry: Entry) -> Head:
        """The head of an entry that is not in the file."""
        plan = entry.plan
        return cls(
            entry.version,
            entry.day,
            entry.by,
            entry.block,
            plan.runner,
            plan.lines,
            plan.fresh,
            entry.undoes,
            plan.again,
        )


def line_of(entry: Entry, before: Sequence[Week]) -> bytes:
    """The line of an entry: it holds the weeks that differ from those ``before``."""
    known = {week.number: week for week in before}
    plan = entry.plan
    data = {
        "version": entry.version,
        "at": entry.at,
        "day": entry.day,
        "by": entry.by,
        "block": entry.block,
        "runner": plan.runner,
        "why": plan.why,
        "lines": list(plan.lines),
        "held": [[one.line, str(one.first), str(one.last), one.no_running] for one in plan.held],
        "fresh": plan.fresh,
        "undoes": entry.undoes,
        **({"again": True} if plan.again else {}),
        **({"laid": [session_to_data(one) for one in plan.laid]} if plan.laid else {}),
        "basis": asdict(plan.basis),
        "numbers": [week.number for week in plan.weeks],
        "weeks": [week_to_data(week) for week in plan.weeks if known.get(week.number) != week],
    }
    return (json.dumps(data, ensure_ascii=False, separators=(",", ":")) + "\n").encode()


def head_of(line: bytes, *, number: int, start: int) -> Head:
    """The head of a line that begins at an octet of the file.

    Raises ValueError, KeyError, TypeError or AttributeError where the line is not ours.
    """
    head, found, weeks = line.partition(_WEEKS)
    data = json.loads(head + b"}" if found else line)  # a line that another program wrote anew is read whole
    if not (weeks.endswith(b"]}\n") if found else isinstance(data["weeks"], list)):
        raise ValueError("a line without its weeks")
    if data["by"] not in get_args(By):
        raise ValueError(f"{data['by']!r} as the one who wrote it")
    if not isinstance(data["numbers"], list) or not isinstance(data["basis"], dict):
        raise TypeError("weeks without a number or a basis")
    return Head(
        version=int(data["version"]),
        day=intern(dt.date.fromisoformat(data["day"]).isoformat()),
        by=data["by"],
        block=intern(data["block"]),
        runner=intern(data["runner"]),
        lines=tuple(data["lines"]),
        fresh=bool(data["fresh"]),
        undoes=data["undoes"],
        again=bool(data.get("again")),
        number=number,
        start=start,
        size=len(line),
    )


def entry_of(line: bytes, known: dict[int, Week]) -> Entry:
    """The entry; ``known`` holds the weeks of the runner so far, by number, and learns the new ones.

    Raises ValueError, KeyError, TypeError or AttributeError where the line is not ours.
    """
    data = json.loads(line)
    known.update({week["number"]: week_from_data(week) for week in data["weeks"]})
    return Entry(
        version=int(data["version"]),
        at=data["at"],
        day=data["day"],
        by=data["by"],
        block=data["block"],
        plan=Accepted(
            runner=data["runner"],
            weeks=tuple(known[number] for number in data["numbers"]),
            basis=_basis(data["basis"]),
            why=data["why"],
            lines=tuple(data["lines"]),
            held=tuple(_held(one) for one in data.get("held", ())),
            fresh=bool(data["fresh"]),
            again=bool(data.get("again")),
            laid=tuple(session_from_data(one) for one in data.get("laid", ())),
        ),
        undoes=data["undoes"],
    )


def basis_of(line: bytes) -> Basis:
    """The basis alone; nothing is read of the weeks. Raises as ``head_of`` does."""
    head, found, _ = line.partition(_WEEKS)
    return _basis(json.loads(head + b"}" if found else line)["basis"])


def _basis(data: Mapping[str, Any]) -> Basis:
    """The basis; lines from before they were kept know of no source and no nights."""
    source, nights = data.get("source"), data.get("nights")
    kept = (
        None if nights is None else tuple((str(day), str(said), bool(typed)) for day, said, typed in nights)
    )
    return Basis(**{**data, "source": PaceSource(**source) if source is not None else None, "nights": kept})


def _held(data: Sequence[Any]) -> Held:
    line, first, last, no_running = data
    return Held(line, dt.date.fromisoformat(first), dt.date.fromisoformat(last), bool(no_running))
