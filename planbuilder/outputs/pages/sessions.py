"""Sessions and their steps, ready to print."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from markupsafe import Markup

from planbuilder.course.types import Feature
from planbuilder.outputs.pages import words
from planbuilder.outputs.pages.ground import Land
from planbuilder.outputs.pages.session_ground import SessionGround, session_ground
from planbuilder.outputs.step_text import raced_m
from planbuilder.plan.types import Reason, Session, Step
from planbuilder.rules.context import trial_m
from planbuilder.units import in_minutes, say_length, say_minutes, say_run

_UNMEASURED = ("strength", "cross")


@dataclass(frozen=True, slots=True)
class StepView:
    """One line of a session."""

    size: Markup  # "5 × 3 min"
    text: Markup
    effort: str
    pace: Markup  # empty: by effort


@dataclass(frozen=True, slots=True)
class StepGroup:
    """Steps done one after the other, or in turn."""

    in_turn: bool
    steps: tuple[StepView, ...]


@dataclass(frozen=True, slots=True)
class ReasonView:
    """A link of the chain behind a session."""

    kind: str
    text: Markup
    rule: str


@dataclass(frozen=True, slots=True)
class SessionView:
    """One session."""

    id: str
    date: str  # machine's form
    short_day: str  # "Sun 18 Apr"
    when: str  # "19:00, Heron Bay track", empty for any time
    title: str
    size: Markup
    steps: tuple[StepGroup, ...]
    ground: SessionGround | None
    why: Markup
    reasons: tuple[ReasonView, ...]
    caution: Markup
    substitute: Markup
    fuelling: Markup
    cancelled: bool
    is_race: bool
    as_on: str  # the day whose exercises these are once more: paper holds them once, "" elsewhere
    timed: str | None  # what its time is taken over, "" where that is the whole of it; None: nothing is timed


def session_view(
    session: Session, land: Land, features: Sequence[Feature], *, as_on: dt.date | None = None
) -> SessionView:
    """A session, ready to print; its private note stays behind. ``as_on``: the day it repeats."""
    return SessionView(
        id=session.id,
        date=session.date.isoformat(),
        short_day=words.short_date(session.date),
        when=when(session),
        title=session.title,
        size=size(session),
        steps=tuple(_groups(session.steps)),
        ground=session_ground(session, land, features),
        why=words.sentence(session.why),
        reasons=tuple(_reason(reason) for reason in session.reasons),
        caution=words.sentence(session.caution),
        substitute=words.sentence(session.substitute),
        fuelling=words.sentence(session.fuelling),
        cancelled=session.cancelled,
        is_race=session.role == "race",
        as_on=words.short_date(as_on) if as_on else "",
        timed=_timed(session),
    )


def _timed(session: Session) -> str | None:
    if session.role in ("race", "tune_up"):
        return ""
    metres = trial_m(session) if session.kind == "test" else None
    return None if metres is None else f"{metres:.0f} m"


def when(session: Session) -> str:
    """Clock and place, where they are set."""
    time = words.clock(session.start_time) if session.start_time else ""
    return ", ".join(part for part in (time, session.place) if part)


def size(session: Session) -> Markup:
    """How much it is: what it is dosed in first, the other with "about"."""
    first = short_size(session)
    if session.role in _UNMEASURED or session.distance_m < 1:
        return first
    if raced_m(session) and round(raced_m(session)) < round(session.distance_m):
        return Markup(f"{first} race, {words.run(session.distance_m)} in all, about {_time(session)}")
    second = _time(session) if in_distance(session) else words.run(session.distance_m)
    return Markup(f"{first}, about {second}")


def short_size(session: Session) -> Markup:
    """How much it is, in what it is dosed in."""
    if in_distance(session) and session.role not in _UNMEASURED:
        raced = raced_m(session)
        return _raced(raced) if raced else words.run(session.distance_m)
    return _time(session)


def _raced(distance_m: float) -> Markup:
    return words.span(*(say_length(distance_m, system).replace(".0 ", " ") for system in ("km", "mi")))


def _time(session: Session) -> Markup:
    return words.both(say_minutes(in_minutes(session.duration_s) * 60).replace(" ", "\N{NO-BREAK SPACE}"))


def in_distance(session: Session) -> bool:
    """Whether most of the session is dosed in distance rather than in minutes."""
    by_distance = sum(step.repeat * (step.distance_m or 0.0) for step in session.steps)
    return by_distance > session.distance_m / 2


def _groups(steps: Sequence[Step]) -> Iterator[StepGroup]:
    numbered = enumerate(steps)
    for set_no, group in groupby(numbered, key=lambda entry: entry[1].set_no or -entry[0] - 1):
        views = tuple(step_view(step) for _, step in group)
        yield StepGroup(in_turn=set_no > 0 and len(views) > 1, steps=views)


def step_view(step: Step) -> StepView:
    """A step, ready to print; a size that its words repeat is said once."""
    text = step.words.strip()
    said, length = _length_of(step, text)
    text = text.removeprefix(said).lstrip(" ,:;").removeprefix("of ") or text
    return StepView(
        size=Markup(f"{step.repeat}\N{NO-BREAK SPACE}×\N{NO-BREAK SPACE}{length}")
        if step.repeat > 1
        else length,
        text=words.sentence(text),
        effort=words.effort(step.effort_rpe),
        pace=words.pace_band(*step.pace_s_per_km) if step.pace_s_per_km else Markup(""),
    )


def _length_of(step: Step, text: str) -> tuple[str, Markup]:
    """How a step's words may say its size, and the size; what a track measures keeps its metres."""
    if step.duration_s is not None:
        said = say_minutes(step.duration_s)
        return said, words.both(said.replace(" ", "\N{NO-BREAK SPACE}"))
    distance_m = step.distance_m or 0.0
    metres = f"{distance_m:.0f} m"
    if text.startswith(metres) or (distance_m < 1000 and round(distance_m) % 100 == 0):
        return metres, words.span(metres, metres)
    return say_run(distance_m, "km"), words.run(distance_m)


def _reason(reason: Reason) -> ReasonView:
    return ReasonView(kind=reason.kind, text=words.sentence(reason.text), rule=reason.rule)
