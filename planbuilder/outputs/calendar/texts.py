"""The words of one event: a title that fits a phone's day view, and a description in plain text.

Every quantity is in the runner's units. Nothing here reads ``private_note``, ``reasons`` or the notes of the
plan, so no health reason and no other runner's name can reach a calendar.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from planbuilder.outputs.step_text import main_part, raced_m, rpe, step_line
from planbuilder.plan.types import Plan, Session, Week
from planbuilder.race.types import RacePlan, Stretch
from planbuilder.units import (
    System,
    say_in,
    say_length,
    say_minutes,
    say_pace_band,
    say_place,
    say_run,
    say_time,
)

TITLE_LENGTH: Final = 30  # characters; about what a phone's day view shows of a title
_LINE: Final = "\n"
_BLOCK: Final = "\n\n"


def title_of(plan: Plan, session: Session) -> str:
    """Kind and size, in at most 30 characters where the names allow it."""
    system = plan.runner.units
    title = say_in(session.title, system)
    if session.cancelled:
        return f"Cancelled: {title}"
    if session.role == "race":
        return _fit(_shorter_titles(f"Race: {plan.race.name}"), [_raced(plan.race.distance_m, system)], ", ")
    if session.role == "tune_up":
        named = title if title.lower().startswith("tune") else f"Tune-up: {title}"
        return _fit(_shorter_titles(named), [_raced(raced_m(session) or session.distance_m, system)], ", ")
    part = main_part(session)
    if part is not None:  # the whole time beside a hard kind would read as the time of the hard running
        return _fit(_shorter_titles(title), [say_in(part, system)] if part else [], " ")
    time = say_minutes(session.duration_s)
    sizes = [_size(session, system), time, time.removesuffix(" min") if " h " in time else time]
    return _fit(_shorter_titles(title), sizes, " ")


def _shorter_titles(title: str) -> list[str]:
    """The title, and ways to say less of it."""
    joined = title.replace(" with a ", " + ").replace(" with ", " + ")
    return [title, joined, title.partition(",")[0], title.partition(" with ")[0]]


def _fit(titles: list[str], sizes: list[str], joint: str) -> str:
    """The longest title that leaves room for a size; where none does, the title alone."""
    for title in titles:
        for size in sizes:
            if len(title) + len(joint) + len(size) <= TITLE_LENGTH:
                return f"{title}{joint}{size}"
    return titles[0]


def _raced(distance_m: float, system: System) -> str:
    return say_length(distance_m, system).replace(".0 ", " ")


def _size(session: Session, system: System) -> str:
    """How far where its steps are measured, else how long."""
    measured_m = sum(step.repeat * (step.distance_m or 0.0) for step in session.steps)
    if measured_m > session.distance_m / 2:
        return say_run(session.distance_m, system)
    return say_minutes(session.duration_s)


def description_of(plan: Plan, week: Week, session: Session, page_url: str | None) -> str:
    """Purpose, steps, why and cautions, one thought a line, the page's address last.

    How many weeks the block has is not told: a race on another day would change what is past.
    """
    return _joined((_head(plan, week, session), *_own_blocks(plan, session), page_url or ""), plan)


def own_words_of(plan: Plan, session: Session) -> str:
    """The description without its week and the page's address: what the session itself asks."""
    return _joined((_amount(session, plan.runner.units), *_own_blocks(plan, session)), plan)


def _joined(blocks: Iterable[str], plan: Plan) -> str:
    return say_in(_BLOCK.join(block for block in blocks if block), plan.runner.units)


def _own_blocks(plan: Plan, session: Session) -> tuple[str, ...]:
    system = plan.runner.units
    steps = _race_lines(plan.race_plan, system) if session.role == "race" else _step_lines(session, system)
    return (*steps, _reasons(session, system))


def _head(plan: Plan, week: Week, session: Session) -> str:
    purpose = f": {week.purpose}" if week.purpose else ""
    lines = [f"Week {week.number}{purpose}"]
    if session.cancelled:
        lines.append("This session is called off.")
    elif session.role not in ("race", "tune_up"):
        lines.append(f"{say_in(session.title, plan.runner.units)}, {_amount(session, plan.runner.units)}")
    return _LINE.join(lines)


def _amount(session: Session, system: System) -> str:
    time = say_minutes(session.duration_s)
    if session.role in ("strength", "cross") or session.distance_m < 500:
        return f"about {time}"
    return f"about {say_run(session.distance_m, system)}, {time}"


def _step_lines(session: Session, system: System) -> tuple[str, ...]:
    return (_LINE.join(step_line(step, system) for step in session.steps),)


def _reasons(session: Session, system: System) -> str:
    stretches = (
        f"{say_place(start_m, system)} to {say_place(end_m, system)}"
        for start_m, end_m in session.rehearses_m
        if session.role != "race"
    )
    named = (
        ("Why: ", session.why),
        ("Rehearses the race from ", ", ".join(stretches)),
        ("Instead: ", session.substitute),
        ("Food and drink: ", session.fuelling),
        ("Caution: ", session.caution),
    )
    return _LINE.join(f"{name}{words}" for name, words in named if words)


def _race_lines(race: RacePlan, system: System) -> tuple[str, ...]:
    """The race plan, short enough for the start area; the page says the rest."""
    checks = ", ".join(say_place(point.at_m, system) for point in race.decisions)
    return (
        _LINE.join(f"Plan {outcome.name}: {outcome.words}" for outcome in race.outcomes),
        _LINE.join(_stretch_line(stretch, system) for stretch in race.features),
        f"Check at {checks}: {race.decisions[0].words}" if race.decisions else "",
        _LINE.join(
            f"{say_place(intake.at_m, system)}: {intake.words.partition(';')[0]}" for intake in race.intakes
        ),
        _do_not_start(race.do_not_start),
    )


def _do_not_start(reasons: tuple[str, ...]) -> str:
    """The reasons as a list; a whole sentence among them stands alone."""
    lines = [reason if reason[:1].isupper() else f"- {reason}" for reason in reasons]
    return _LINE.join(("Do not start with any of these:", *lines)) if lines else ""


def _stretch_line(stretch: Stretch, system: System) -> str:
    ends = f"{say_place(stretch.from_m, system)}–{say_place(stretch.to_m, system).split()[-1]}"
    parts = [rpe(stretch.effort_rpe)]
    if stretch.pace_low_s_per_km is not None and stretch.pace_high_s_per_km is not None:
        parts.append(say_pace_band(stretch.pace_low_s_per_km, stretch.pace_high_s_per_km, system))
    if stretch.clock_s is not None:
        parts.append(f"clock {say_time(stretch.clock_s)}")
    return f"{ends}: " + " · ".join(part for part in (*parts, stretch.cue) if part)
