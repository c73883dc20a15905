"""A quick hash of all that a feed is made of: equal fingerprints need no second look at the feed.

It is made of the raw values: it may differ where the feed does not, but never agrees where the feed differs.
"""

from __future__ import annotations

import hashlib
import marshal
from dataclasses import fields
from functools import cache
from operator import attrgetter
from pathlib import Path
from typing import Any, Final

from planbuilder import units
from planbuilder.outputs.calendar.zones import vtimezone
from planbuilder.plan.types import Ground, Plan, Session, Step


def _values_of(kind: type, *left_out: str) -> attrgetter[tuple[Any, ...]]:
    return attrgetter(*(field.name for field in fields(kind) if field.name not in left_out))


# "reasons" and "private_note" are never read by a calendar.
_SESSION: Final = _values_of(Session, "date", "start_time", "steps", "reasons", "private_note")
_STEP: Final = _values_of(Step, "ground")
_GROUND: Final = _values_of(Ground)
_WEEK: Final = attrgetter("number", "phase", "purpose")
_RACE: Final = attrgetter("outcomes", "features", "decisions", "intakes", "do_not_start", "finish_time_s")


def fingerprint_of(plan: Plan, page_url: str | None = None) -> str:
    """The fingerprint of a runner's feed."""
    year = plan.race.date.year
    hashed = hashlib.blake2b(digest_size=16)
    whole = (_program(), page_url, plan.runner, plan.race, _RACE(plan.race_plan))
    hashed.update(repr(whole).encode())
    hashed.update(vtimezone(plan.race.timezone, year - 1, year))
    for week in plan.weeks:
        hashed.update(_bytes((_WEEK(week), *(_session(session) for session in week.sessions))))
    return hashed.hexdigest()


@cache
def _program() -> str:
    """A hash of the code that words and writes events: a new wording is news, whatever the version says."""
    hashed = hashlib.blake2b(digest_size=16)
    for path in (Path(units.__file__), *sorted(Path(__file__).parent.glob("*.py"))):
        hashed.update(path.read_bytes())
    return hashed.hexdigest()


def _session(session: Session) -> tuple[Any, ...]:
    start = session.start_time
    return (
        session.date.toordinal(),
        None if start is None else start.isoformat(),
        _SESSION(session),
        [(_STEP(step), _GROUND(step.ground)) for step in session.steps],
    )


def _bytes(values: tuple[Any, ...]) -> bytes:
    """The values as bytes; version 2 of marshal is fast and sees values alone, never who shares them."""
    try:
        return marshal.dumps(values, 2)
    except ValueError:  # a number that is not one of Python's own
        return repr(values).encode()
