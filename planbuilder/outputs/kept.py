"""What a build keeps of each runner for the pages about all of them, and for the next build.

Receives: finished plans and the bytes of their files.
Gives: ``coach.json`` of the coach's own copy, written last: a digest of what each plan was made from, the
digests of its files, and its part of the board and the coach's page. It is never published.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Final

from markupsafe import Markup

from planbuilder.outputs.pages.coach_page import CoachEntry, Look, coach_entry
from planbuilder.outputs.pages.course_page import Rehearsal, rehearsals_of
from planbuilder.outputs.squad import ClubLine, Entry, SquadRow, squad_row
from planbuilder.plan.types import Plan

KEPT_FILE: Final = "coach.json"
_FORMAT: Final = 7


@dataclass(frozen=True, slots=True)
class Kept:
    """One runner's part."""

    row: SquadRow
    coach: CoachEntry
    drills: tuple[Rehearsal, ...]
    inputs: str  # digest of everything the plan is a function of
    files: Mapping[str, str]  # digest by name


def keep(
    plan: Plan,
    files: Mapping[str, bytes],
    *,
    breaches: Iterable[str],
    outlook: str,
    inputs: str,
    with_weeks: bool,
    block: str,
) -> Kept:
    """What is kept of a plan; ``block`` is its folder as it is typed in a shell."""
    return Kept(
        squad_row(plan, with_weeks=with_weeks),
        coach_entry(plan, tuple(breaches), outlook, block=block),
        tuple(sorted(set(rehearsals_of(plan)))),
        inputs,
        {name: hashlib.sha256(data).hexdigest() for name, data in files.items()},
    )


def stands(folder: Path, kept: Kept | None, inputs: str) -> bool:
    """Whether a runner's folder is what a build from these inputs would write."""
    if kept is None or kept.inputs != inputs:
        return False
    try:
        return all(
            hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest
            for name, digest in kept.files.items()
        )
    except OSError:
        return False


def kept_pieces(kept: Iterable[Kept]) -> Iterator[bytes]:
    """The file, runner after runner: it is long for a large squad."""
    yield f'{{"version": {_FORMAT}, "runners": [\n'.encode()
    for number, one in enumerate(kept):
        yield b",\n" if number else b""
        yield json.dumps(_to_data(one), ensure_ascii=False).encode()
    yield b"\n]}\n"


class Thrift:
    """Keeps equal values of many runners once: what workers send comes as copies."""

    def __init__(self) -> None:
        self._seen: dict[Any, Any] = {}

    def __call__(self, kept: Kept) -> Kept:
        """The same, with values that were seen before."""
        once = self._seen.setdefault
        nights = tuple(
            ClubLine(*(once((type(value), value), value) for value in _values(line)))
            for line in kept.row.nights
        )
        drills = tuple(once(one, one) for one in kept.drills)
        return replace(kept, row=replace(kept.row, nights=nights), drills=drills)


def read_kept(out: Path) -> dict[str, Kept]:
    """What the last build kept, by runner; nothing where it cannot be read: then everything is built."""
    try:
        data = json.loads((out / KEPT_FILE).read_text("utf-8"))
        if data["version"] != _FORMAT:
            return {}
        found = [_from_data(one) for one in data["runners"]]
    except (OSError, ValueError, KeyError, TypeError):
        return {}
    return {one.row.key: one for one in found}


def _to_data(kept: Kept) -> dict[str, Any]:
    row = dict(zip(kept.row.__dataclass_fields__, _values(kept.row), strict=True))
    row["entries"] = [[one.date.isoformat(), *_values(one)[1:]] for one in kept.row.entries]
    row["nights"] = [
        [one.date.isoformat(), one.start.isoformat(), *_values(one)[2:]] for one in kept.row.nights
    ]
    return {
        "row": row,
        "coach": asdict(kept.coach),
        "drills": [_values(one) for one in kept.drills],
        "inputs": kept.inputs,
        "files": dict(kept.files),
    }


def _values(one: SquadRow | Entry | ClubLine | Rehearsal) -> list[Any]:
    return [getattr(one, name) for name in one.__dataclass_fields__]


def _from_data(data: Mapping[str, Any]) -> Kept:
    row, coach = data["row"], data["coach"]
    return Kept(
        SquadRow(
            **{
                **row,
                "entries": tuple(Entry(_date(one[0]), *one[1:]) for one in row["entries"]),
                "nights": tuple(_line(one) for one in row["nights"]),
                "kept_from": tuple(row["kept_from"]),
            }
        ),
        CoachEntry(
            coach["name"],
            coach["link"],
            tuple(Look(look["kind"], Markup(look["text"])) for look in coach["looks"]),
            Markup(coach["summary"]),
        ),
        tuple(Rehearsal(*one) for one in data["drills"]),
        data["inputs"],
        data["files"],
    )


def _line(values: list[Any]) -> ClubLine:
    said = dict(zip(ClubLine.__dataclass_fields__, values, strict=True))
    said |= {"date": _date(said["date"]), "start": dt.time.fromisoformat(said["start"])}
    pace = said["pace_s_per_km"]
    said |= {"effort_rpe": tuple(said["effort_rpe"]), "pace_s_per_km": tuple(pace) if pace else None}
    said["row"] = tuple((work, rest) for work, rest in said["row"])
    return ClubLine(**said)


def _date(text: str) -> dt.date:
    return dt.date.fromisoformat(text)
