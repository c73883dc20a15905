"""The JSON outputs: SI units whatever the reader's, grades in percent, field names that hold.

Receives: courses, race plans, plans.
Gives: plain dictionaries in a fixed order, and their text. ``schemas/`` describes them.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from planbuilder.course.types import Course, Feature, Split
from planbuilder.demands.types import CourseDemands
from planbuilder.plan.types import Plan, Session, Step, Week
from planbuilder.race.types import RacePlan, Stretch
from planbuilder.rules import Breach, RuleInfo
from planbuilder.settings.limits import Limit
from planbuilder.settings.notes import Note
from planbuilder.units import System, say_in

SCHEMA_VERSION: Final = 1


def to_text(data: Mapping[str, Any]) -> str:
    """JSON as text: two spaces, real characters, a line end at the end."""
    return json.dumps(data, indent=2, ensure_ascii=False) + "\n"


def course_json(
    course: Course,
    features: Iterable[Feature],
    splits: Iterable[Split],
    demands: CourseDemands,
    system: System,
) -> dict[str, Any]:
    """What ``planbuilder course FILE --json`` prints; sentences in ``system``, numbers in SI."""
    return {
        "version": SCHEMA_VERSION,
        "name": course.name,
        "distance_m": _round(course.distance_m),
        "measured_m": _round(course.measured_m),
        "scale": round(course.scale, 6),
        "ascent_m": _round(course.ascent_m),
        "descent_m": _round(course.descent_m),
        "ascent_low_m": _round(course.ascent_low_m),
        "ascent_high_m": _round(course.ascent_high_m),
        "climb_uncertain": course.climb_uncertain,
        "source": course.source,
        "class": demands.course_class,
        "class_why": say_in(demands.class_why, system),
        "notes": [_note(note, system) for note in course.notes],
        "features": [
            {
                "kind": feature.kind,
                "name": feature.name,
                "start_m": _round(feature.start_m),
                "end_m": _round(feature.end_m),
                "gain_m": _round(feature.gain_m),
                "ascent_m": _round(feature.ascent_m),
                "descent_m": _round(feature.descent_m),
                "grade_percent": _percent(feature.grade),
                "steepest_grade_percent": _percent(feature.steepest_grade),
                "share_done": round(feature.share_done, 4),
                "decisive": feature.decisive,
                "words": say_in(feature.words, system),
            }
            for feature in features
        ],
        "splits": [
            {
                "number": split.number,
                "from_m": _round(split.from_m),
                "to_m": _round(split.to_m),
                "net_m": _round(split.net_m),
                "ascent_m": _round(split.ascent_m),
                "descent_m": _round(split.descent_m),
                "grade_percent": _percent(split.grade),
                "steepest_grade_percent": _percent(split.steepest_grade),
                "words": say_in(split.words, system),
            }
            for split in splits
        ],
        "demands": [
            {
                "kind": demand.kind,
                "start_m": _round(demand.start_m),
                "end_m": _round(demand.end_m),
                "gain_m": _round(demand.gain_m),
                "grade_percent": _percent(demand.grade),
                "why": say_in(demand.why, system),
            }
            for demand in demands.demands
        ],
    }


def race_json(plans: Iterable[Plan]) -> dict[str, Any]:
    """What ``planbuilder race BLOCK --json`` prints."""
    return {
        "version": SCHEMA_VERSION,
        "runners": [{"name": plan.runner.name, "key": plan.runner.key, **_race_plan(plan)} for plan in plans],
    }


def plan_json(plan: Plan, files: Mapping[str, bytes] | None = None) -> dict[str, Any]:
    """plan.json; ``files`` are its siblings, whose digests it carries."""
    system = plan.runner.units
    return {
        "version": SCHEMA_VERSION,
        "runner": {
            "key": plan.runner.key,
            "name": plan.runner.name,
            "units": system,
            "refused": plan.runner.refused,
            "level": plan.runner.level,
        },
        "race": {
            "key": plan.race.key,
            "name": plan.race.name,
            "date": plan.race.date.isoformat(),
            "start": plan.race.start.isoformat(),
            "timezone": plan.race.timezone,
            "distance_m": _round(plan.race.distance_m),
        },
        "paces": {
            "words": say_in(plan.paces.words, system),
            "bands": [
                {
                    "name": band.name,
                    "effort_rpe": [band.rpe_low, band.rpe_high],
                    "talk": band.talk,
                    "pace_s_per_km": _pair(band.fast_s_per_km, band.slow_s_per_km),
                    "heart_rate": _pair(band.heart_rate_low, band.heart_rate_high),
                }
                for band in plan.paces.bands
            ],
        },
        "weeks": [_week(week, system) for week in plan.weeks],
        "race_plan": _race_plan(plan),
        "notes": [_note(note, system) for note in plan.notes],
        "files": {name: hashlib.sha256(data).hexdigest() for name, data in sorted((files or {}).items())},
    }


def why_json(found: Iterable[tuple[Plan, Session]]) -> dict[str, Any]:
    """What ``planbuilder why --json`` prints: the session, and the chain behind it, of each runner."""
    return {
        "version": SCHEMA_VERSION,
        "sessions": [
            {
                "runner": plan.runner.key,
                **_session(session, plan.runner.units),
                "reasons": [
                    {
                        "kind": reason.kind,
                        "rule": reason.rule,
                        "text": say_in(reason.text, plan.runner.units),
                    }
                    for reason in session.reasons
                ],
            }
            for plan, session in found
        ],
    }


def check_json(found: Iterable[tuple[Plan, Iterable[Breach]]]) -> dict[str, Any]:
    """What ``planbuilder check --json`` prints."""
    return {
        "version": SCHEMA_VERSION,
        "runners": [
            {
                "key": plan.runner.key,
                "name": plan.runner.name,
                "breaches": [
                    {
                        "rule": breach.rule,
                        "session": breach.session,
                        "date": breach.date.isoformat() if breach.date else None,
                        "text": say_in(breach.text, plan.runner.units),
                    }
                    for breach in breaches
                ],
                "notes": [_note(note, plan.runner.units) for note in plan.notes],
            }
            for plan, breaches in found
        ],
    }


def rules_json(limits: Iterable[Limit], rules: Iterable[RuleInfo]) -> dict[str, Any]:
    """What ``planbuilder rules --json`` prints."""
    return {
        "version": SCHEMA_VERSION,
        "rules": [
            {
                "name": rule.name,
                "strength": rule.strength,
                "sentence": rule.sentence,
                "limits": list(rule.limits),
            }
            for rule in rules
        ],
        "limits": [
            {
                "name": limit.name,
                "value": limit.value,
                "default": limit.default,
                "unit": limit.unit,
                "mark": limit.mark,
                "source": limit.source,
                "meaning": limit.meaning,
            }
            for limit in limits
        ],
    }


def build_json(built: Iterable[tuple[str, str, bool, Sequence[Note], System]]) -> dict[str, Any]:
    """What ``planbuilder build --json`` prints: key, name, refused, notes of each runner."""
    return {
        "version": SCHEMA_VERSION,
        "runners": [
            {"key": key, "name": name, "refused": refused, "notes": [_note(note, system) for note in notes]}
            for key, name, refused, notes, system in built
        ],
    }


def _week(week: Week, system: System) -> dict[str, Any]:
    return {
        "number": week.number,
        "first_day": week.first_day.isoformat(),
        "last_day": week.last_day.isoformat(),
        "phase": week.phase,
        "recovery": week.recovery,
        "purpose": say_in(week.purpose, system),
        "distance_m": _round(week.distance_m),
        "duration_s": _round(week.duration_s),
        "work_s": _round(week.work_s),
        "sessions": [_session(session, system) for session in week.sessions],
    }


def _session(session: Session, system: System) -> dict[str, Any]:
    return {
        "id": session.id,
        "date": session.date.isoformat(),
        "start_time": session.start_time.strftime("%H:%M") if session.start_time else None,
        "place": session.place,
        "role": session.role,
        "kind": session.kind,
        "title": session.title,
        "distance_m": _round(session.distance_m),
        "duration_s": _round(session.duration_s),
        "hard": session.hard,
        "work_s": _round(session.work_s),
        "hard_s": _round(session.hard_s),
        "climb_m": _round(session.climb_m),
        "course_specific": session.course_specific,
        "rehearses_m": [[_round(start), _round(end)] for start, end in session.rehearses_m],
        "steps": [_step(step, system) for step in session.steps],
        "why": say_in(session.why, system),
        "caution": say_in(session.caution, system),
        "substitute": say_in(session.substitute, system),
        "fuelling": say_in(session.fuelling, system),
        "cancelled": session.cancelled,
        "group_ends": session.group_ends.strftime("%H:%M") if session.group_ends else None,
    }


def _step(step: Step, system: System) -> dict[str, Any]:
    grade = step.ground.grade
    return {
        "repeat": step.repeat,
        "kind": step.kind,
        "set": step.set_no,
        "duration_s": None if step.duration_s is None else _round(step.duration_s),
        "distance_m": None if step.distance_m is None else _round(step.distance_m),
        "effort_rpe": list(step.effort_rpe),
        "band": step.band if step.pace_s_per_km is not None else "",
        "pace_s_per_km": _pair(*step.pace_s_per_km) if step.pace_s_per_km else None,
        "ground": {
            "kind": step.ground.kind,
            "grade_percent": None if grade is None else _percent(grade),
            "words": say_in(step.ground.words, system),
        },
        "words": say_in(step.words, system),
    }


def _race_plan(plan: Plan) -> dict[str, Any]:
    system, race = plan.runner.units, plan.race_plan
    return {
        "finish_time_s": _maybe(race.finish_time_s),
        "goal_time_s": _maybe(race.goal.goal_time_s),
        "predicted_time_s": _maybe(race.goal.predicted_time_s),
        "predicted_low_s": _maybe(race.goal.predicted_low_s),
        "predicted_high_s": _maybe(race.goal.predicted_high_s),
        "verdict": race.goal.verdict,
        "sentence": say_in(race.goal.sentence, system),
        "strategy": race.strategy,
        "model": race.model,
        "course_factor": round(race.course_factor, 6),
        "splits": [_stretch(stretch, system) for stretch in race.splits_km],
        "features": [_stretch(stretch, system) for stretch in race.features],
        "plans": [
            {"name": outcome.name, "time_s": _maybe(outcome.time_s), "words": say_in(outcome.words, system)}
            for outcome in race.outcomes
        ],
        "adjustments": [
            {
                "kind": adjustment.kind,
                "seconds": _round(adjustment.seconds),
                "why": say_in(adjustment.why, system),
            }
            for adjustment in race.adjustments
        ],
        "fuelling": _fuelling(race, system),
        "notes": [_note(note, system) for note in race.notes],
    }


def _fuelling(race: RacePlan, system: System) -> dict[str, Any]:
    return {
        "words": say_in(race.fuelling, system),
        "intakes": [
            {
                "at_m": _round(intake.at_m),
                "clock_s": _maybe(intake.clock_s),
                "words": say_in(intake.words, system),
            }
            for intake in race.intakes
        ],
    }


def _stretch(stretch: Stretch, system: System) -> dict[str, Any]:
    return {
        "name": stretch.name,
        "from_m": _round(stretch.from_m),
        "to_m": _round(stretch.to_m),
        "time_s": _maybe(stretch.time_s, 3),
        "clock_s": _maybe(stretch.clock_s, 3),
        "pace_s_per_km": _maybe(stretch.pace_s_per_km, 2),
        "pace_low_s_per_km": _maybe(stretch.pace_low_s_per_km, 2),
        "pace_high_s_per_km": _maybe(stretch.pace_high_s_per_km, 2),
        "effort_rpe": list(stretch.effort_rpe),
        "grade_percent": _percent(stretch.grade),
        "by_effort": stretch.by_effort,
        "cue": say_in(stretch.cue, system),
    }


def _note(note: Note, system: System) -> dict[str, Any]:
    return {"rule": note.rule, "session": note.session, "kind": note.kind, "text": say_in(note.text, system)}


def _pair(low: float | None, high: float | None) -> list[float] | None:
    return None if low is None or high is None else [_round(low), _round(high)]


def _maybe(value: float | None, digits: int = 1) -> float | None:
    return None if value is None else round(float(value), digits)


def _round(value: float) -> float:
    return round(float(value), 1)


def _percent(grade: float) -> float:
    return round(float(grade) * 100, 2)
