"""Who an event is, and which edition of it: the UID for life, the revision that moves with its meaning."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from planbuilder.outputs.calendar.content import content_of
from planbuilder.plan.types import Plan, Session, Week

# Made once for this program; every UID of every feed hangs below it.
_NAMESPACE: Final = uuid.UUID("5f1c3a52-8f0b-5d0e-9d7a-0f6f6b1f4c11")


@dataclass(frozen=True, slots=True)
class Revision:
    """How often an event has changed, and when it last did (UTC)."""

    sequence: int
    changed: dt.datetime


def uid_of(block_key: str, runner_key: str, session_id: str) -> str:
    """The UID of a session's event: a bare UUID that says nothing about who, when or where.

    >>> uid_of("heron-bay-half", "ines-a", "w07-long") == uid_of("heron-bay-half", "ines-a", "w07-long")
    True
    """
    return str(uuid.uuid5(_NAMESPACE, "\n".join((block_key, runner_key, session_id))))


def meaning_digest(plan: Plan, session: Session, page_url: str | None = None) -> str:
    """A hash of everything the session's event says; the layout of the file does not count."""
    return content_of(plan, week_of(plan, session), session, page_url).digest


def week_of(plan: Plan, session: Session) -> Week:
    """The week that holds the session."""
    return next(week for week in plan.weeks if session in week.sessions)


def first_revisions(plan: Plan, stamp: dt.datetime | None = None) -> Mapping[str, Revision]:
    """The revision of every session of a plan that nobody has received yet.

    Without ``stamp`` (UTC) the block alone decides: midnight UTC of its first day, so that the same block
    gives the same bytes on any day.
    """
    first_day = plan.weeks[0].first_day if plan.weeks else plan.race.date
    when = stamp or dt.datetime.combine(first_day, dt.time(), dt.UTC)
    return {session.id: Revision(0, when.replace(microsecond=0)) for session in plan.sessions}
