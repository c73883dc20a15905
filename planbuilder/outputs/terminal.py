"""What the commands print: tables of plain text in the reader's units.

Receives: courses, plans, limits, breaches.
Gives: text with lines that end in a newline.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import Final

from planbuilder.course.types import Course, Feature, Remark, Split
from planbuilder.demands.types import CourseDemands
from planbuilder.plan.types import Plan, Session
from planbuilder.race import say_change
from planbuilder.race.types import Stretch
from planbuilder.rules import Breach, RuleInfo
from planbuilder.settings.limits import Limit
from planbuilder.settings.notes import Note
from planbuilder.units import (
    System,
    count_of,
    say_date,
    say_effort,
    say_grade,
    say_height,
    say_in,
    say_length,
    say_minutes,
    say_pace,
    say_pace_band,
    say_place,
    say_time,
)

_GAP: Final = "  "


def columns(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Rows under a header, columns as wide as their widest cell; the last column runs free.

    >>> print(columns(("km", "net"), [("1", "+3 m"), ("10", "-1 m")]), end="")
    km  net
    1   +3 m
    10  -1 m
    """
    lines = [tuple(header), *(tuple(row) for row in rows)]
    widths = [max(map(len, cells)) for cells in zip(*lines, strict=True)]
    return "".join(
        _GAP.join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() + "\n"
        for line in lines
    )


def wrapped(text: str, width: int, indent: str = "") -> str:
    """A paragraph within the width."""
    return textwrap.fill(text, width=max(width, 40), initial_indent=indent, subsequent_indent=indent) + "\n"


def course_text(
    course: Course,
    features: Sequence[Feature],
    splits: Sequence[Split],
    demands: CourseDemands,
    remarks: Sequence[Remark],
    picture: str,
    *,
    system: System,
    width: int,
) -> str:
    """The course read aloud: totals, picture, features, splits, notes."""
    uncertain = ", climb uncertain" if course.climb_uncertain else ""
    assumed = [note for note in course.notes if note.kind == "assumed"]
    others = [note for note in course.notes if note.kind != "assumed"]
    parts = [
        f"{course.name}\n",
        f"{say_length(course.distance_m, system)}, measured {say_length(course.measured_m, system)}"
        f" (scale {course.scale:.4f}); source: {course.source}\n",
        *(wrapped(f"Assumed: {say_in(note.text, system)}", width) for note in assumed),
        f"up {say_height(course.ascent_m, system)}, down {say_height(course.descent_m, system)}"
        f" (rises of 3 m or more after 40 m smoothing; between {say_height(course.ascent_low_m, system)}"
        f" and {say_height(course.ascent_high_m, system)} at other scales{uncertain})\n",
        wrapped(f"{demands.course_class}: {say_in(demands.class_why, system)}", width),
        "\n" + picture + "\n",
        "Features, in race order\n",
        columns(
            ("what", "from", "to", "length", "gain", "grade", "steepest", "race run", ""),
            (
                (
                    feature.name,
                    say_place(feature.start_m, system),
                    say_place(feature.end_m, system),
                    say_length(feature.length_m, system),
                    f"{'+' if feature.gain_m >= 0 else ''}{say_height(feature.gain_m, system)}",
                    say_grade(feature.grade),
                    say_grade(feature.steepest_grade),
                    f"{feature.share_done:.0%}",
                    "the decisive climb" if feature.decisive else "",
                )
                for feature in features
            ),
        )
        if features
        else "none: level ground\n",
        "\nSplit by split\n",
        columns(
            (system, "net", "up", "down", "grade", "steepest", ""),
            (
                (
                    f"{split.number}",
                    say_height(split.net_m, system),
                    say_height(split.ascent_m, system),
                    say_height(split.descent_m, system),
                    say_grade(split.grade),
                    say_grade(split.steepest_grade),
                    say_in(split.words, system),
                )
                for split in splits
            ),
        ),
    ]
    if remarks:
        parts.append("\nOn the way\n")
        parts.append(columns(("at", ""), ((say_place(r.at_m, system), r.text) for r in remarks)))
    if others:
        parts.append("\nAbout the file\n")
        parts.extend(wrapped(say_in(note.text, system), width, "  ") for note in others)
    return "".join(parts)


def race_text(plan: Plan, *, system: System, width: int) -> str:
    """One runner's race plan: goal, cautions, stretches, splits, checks, the day, fuelling, notes."""
    race = plan.race_plan

    def said(text: str, indent: str = "") -> str:
        return wrapped(say_in(text, system), width, indent)

    parts = [
        f"{plan.runner.name}: {plan.race.name}, {say_date(plan.race.date, year=True)}\n",
        said(race.goal.sentence),
        *(said(note.text) for note in race.notes if note.kind == "caution"),
    ]
    if not race.features:
        return "".join(parts)
    for outcome in race.outcomes:
        time = f"{say_time(outcome.time_s)}, " if outcome.time_s else ""
        parts.append(said(f"{outcome.name}: {time}{outcome.words}", "  "))
    parts += ["\nStretch by stretch\n", _stretches(race.features, system)]
    parts += ["\nSplits\n", _stretches(race.splits_km if system == "km" else race.splits_mi, system)]
    if race.splits_5k:
        parts += ["\nEvery 5 km\n", _stretches(race.splits_5k, system)]
    if race.decisions:
        parts.append("\nDecide\n")
        for point in race.decisions:
            clocks = _clocks(("A", point.clock_a_s), ("B", point.clock_b_s))
            parts.append(said(f"{say_place(point.at_m, system)}{clocks}: {point.words}", "  "))
    if race.adjustments:
        parts.append("\nThe day\n")
        for change in race.adjustments:
            parts.append(said(f"{change.kind}, {say_change(change.seconds)}: {change.why}", "  "))
    if race.strategy_costs:
        parts.append("\nWays to run it, for the same tiredness\n")
        for name, cost_s, words in race.strategy_costs:
            cost = f", {say_change(cost_s)}" if round(cost_s) else ""
            parts.append(said(f"{name}{cost}: {words}", "  "))
    parts.append("\nFuelling\n" + said(race.fuelling, "  "))
    for intake in race.intakes:
        clock = _clocks(("about", intake.clock_s))
        parts.append(said(f"{say_place(intake.at_m, system)}{clock}: {intake.words}", "  "))
    parts += ["\n" + said(note.text) for note in race.notes if note.kind != "caution"]
    return "".join(parts)


def _clocks(*named: tuple[str, float | None]) -> str:
    said = ", ".join(f"{name} {say_time(clock_s)}" for name, clock_s in named if clock_s is not None)
    return f" ({said})" if said else ""


def _stretches(stretches: Sequence[Stretch], system: System) -> str:
    return columns(
        ("stretch", "to", "ground", "effort", "pace", "clock", "cue"),
        (
            (
                stretch.name,
                say_place(stretch.to_m, system),
                say_in(stretch.ground, system),
                say_effort(stretch.effort_rpe),
                _pace(stretch, system),
                "" if stretch.clock_s is None else say_time(stretch.clock_s),
                say_in(stretch.cue, system),
            )
            for stretch in stretches
        ),
    )


def _pace(stretch: Stretch, system: System) -> str:
    pace, low, high = stretch.pace_s_per_km, stretch.pace_low_s_per_km, stretch.pace_high_s_per_km
    if pace is None or low is None or high is None:
        return "by effort"
    return say_pace_band(low, high, system) if stretch.by_effort else say_pace(pace, system)


def check_text(plan: Plan, breaches: Sequence[Breach], *, width: int) -> str:
    """What ``check`` says of one plan: breaches first, then the wishes that were given up."""
    system = plan.runner.units
    given_up = [note for note in plan.notes if note.kind == "given_up"]
    exceptions = [note for note in plan.notes if note.kind == "exception"]
    parts = [
        f"{plan.runner.name}: {count_of(len(breaches), 'breach', 'breaches')}, "
        f"{count_of(len(given_up), 'wish', 'wishes')} given up, "
        f"{count_of(len(exceptions), 'exception')} used\n"
    ]
    for breach in breaches:
        where = f"{breach.session or ''} {breach.date or ''}".strip()
        words = f"{where}: " if where else ""
        parts.append(wrapped(f"breach: {words}{say_in(breach.text, system)} [{breach.rule}]", width, "  "))
    for note in (*given_up, *exceptions):
        kind = "given up" if note.kind == "given_up" else "exception"
        parts.append(wrapped(f"{kind}: {say_in(note.text, system)} [{note.rule}]", width, "  "))
    return "".join(parts)


def build_text(name: str, notes: Sequence[Note], *, system: System, width: int) -> str:
    """What ``build`` says of one runner: a refusal in full, else how many notes there are of which kind."""
    refusals = [note for note in notes if note.kind == "refusal"]
    kinds = [(kind, sum(note.kind == kind for note in notes)) for kind in _COUNTED]
    counts = ", ".join(count_of(number, *_COUNTED[kind]) for kind, number in kinds if number)
    text = wrapped(f"{name}: {counts or 'no notes'}", width)
    return text + "".join(wrapped(say_in(note.text, system), width, "  ") for note in refusals)


_COUNTED: Final = {
    "refusal": ("refusal", "refusals"),
    "caution": ("caution", "cautions"),
    "given_up": ("wish given up", "wishes given up"),
    "exception": ("exception", "exceptions"),
    "assumed": ("setting assumed", "settings assumed"),
}


def rules_text(
    limits: Iterable[Limit], rules: Sequence[RuleInfo], plans: Sequence[Plan], *, width: int
) -> str:
    """Every rule with its sentence, every number with its source; for plans, where each one bit."""
    bites = _bites(plans)
    parts = ["Rules\n"]
    for rule in rules:
        parts.append(wrapped(f"{rule.name} ({rule.strength}): {rule.sentence}", width))
        if rule.limits:
            parts.append(wrapped("numbers: " + ", ".join(rule.limits), width, "    "))
        parts += [wrapped(f"bit: {bite}", width, "    ") for bite in bites.get(rule.name, [])]
    parts.append("\nNumbers\n")
    for limit in limits:
        source = f": {limit.source}" if limit.source else ""
        changed = f" (yours; ours is {limit.default})" if limit.overridden else ""
        parts.append(wrapped(f"{limit.name} = {_value(limit.value)} {limit.unit}{changed}", width))
        parts.append(wrapped(f"{limit.meaning} [{limit.mark}{source}]", width, "    "))
        parts += [wrapped(f"bit: {bite}", width, "    ") for bite in bites.get(limit.name, [])]
    return "".join(parts)


def _bites(plans: Sequence[Plan]) -> dict[str, list[str]]:
    """What each rule or number did in these plans: its notes, and the sessions that name it."""
    bites: dict[str, list[str]] = {}
    for plan in plans:
        name, system = plan.runner.name, plan.runner.units
        for note in plan.notes:
            bites.setdefault(note.rule, []).append(f"{name}: {say_in(note.text, system)}")
        named: dict[str, list[str]] = {}
        for session in plan.sessions:
            for rule in dict.fromkeys(reason.rule for reason in session.reasons if reason.rule):
                named.setdefault(rule, []).append(session.id)
        for rule, ids in named.items():
            more = f" and {len(ids) - 4} more" if len(ids) > 4 else ""
            bites.setdefault(rule, []).append(f"{name}: shaped {', '.join(ids[:4])}{more}")
    return bites


def _value(value: object) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{key} {_value(inner)}" for key, inner in value.items())
    if isinstance(value, list):
        return "/".join(str(item) for item in value)
    return str(value)


def why_text(plan: Plan, session: Session, *, width: int) -> str:
    """The chain behind a session: what, why, each reason with its rule."""
    system = plan.runner.units
    parts = [
        f"{session.id}: {session.title}, {say_date(session.date)}, {say_minutes(session.duration_s)}\n",
        wrapped(say_in(session.why, system), width),
    ]
    for reason in session.reasons:
        rule = f" [{reason.rule}]" if reason.rule else ""
        parts.append(wrapped(f"{reason.kind}: {say_in(reason.text, system)}{rule}", width, "  "))
    return "".join(parts)
