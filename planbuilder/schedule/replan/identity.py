"""Which session of a new layout is which of the accepted one: by role, then by the nearest date.

Receives: accepted sessions and new ones.
Gives: the new ones under the ids of those they are; an id is never given twice.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import Final

from planbuilder.plan.types import Session

REACH_DAYS: Final = 7  # farther away it is another session


def keep_ids(
    accepted: Sequence[Session], new: Sequence[Session], used: Collection[str]
) -> tuple[Session, ...]:
    """The new sessions, in their order, with the ids of the accepted ones they stand for.

    A session of the same role within a week is the same one, the nearest first; the race always is. Any other
    gets an id that nobody ever had.
    """
    pairs = sorted(
        (
            (abs((one.date - two.date).days), two.date, at, two.id)
            for at, one in enumerate(new)
            for two in accepted
            if one.role == two.role
        ),
        key=lambda pair: (pair[0], pair[1], pair[2]),
    )
    ids: dict[int, str] = {}
    for days, _, at, id_ in pairs:
        near = days <= REACH_DAYS or new[at].role == "race"
        if near and at not in ids and id_ not in ids.values():
            ids[at] = id_
    taken = {*used, *(one.id for one in accepted), *ids.values()}
    found = []
    for at, session in enumerate(new):
        id_ = ids.get(at) or _free(session.id, taken)
        taken.add(id_)
        found.append(replace(session, id=id_))
    return tuple(found)


def _free(id_: str, taken: Collection[str]) -> str:
    if id_ not in taken:
        return id_
    week, _, role = id_.partition("-")
    stem = "-".join(part for part in (week, role.rstrip("0123456789-")) if part)
    number = 2
    while f"{stem}-{number}" in taken:
        number += 1
    return f"{stem}-{number}"
