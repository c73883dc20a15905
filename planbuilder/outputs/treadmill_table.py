"""A treadmill programme as rows to print and as CSV."""

from __future__ import annotations

import csv
import io
from typing import Final

from planbuilder.outputs.tables import safe_cell
from planbuilder.plan.local import TreadmillMinute, TreadmillProgramme
from planbuilder.plan.types import Plan
from planbuilder.units import System, say_in, say_minutes, say_place, say_time, unit_m

HEADER: Final = ("from", "for", "part", "course", "grade %", "speed", "effort", "note")
_CSV_HEADER: Final = (
    *("start_s", "duration_s", "part", "course_from_m", "course_to_m", "course_grade_percent"),
    *("grade_percent", "speed_low", "speed_high", "speed_unit", "effort_low", "effort_high", "note"),
)


def programme_rows(programme: TreadmillProgramme, system: System) -> tuple[tuple[str, ...], ...]:
    """One row a line of the programme, under ``HEADER``, as a person reads it beside the machine.

    Speeds are in km/h or miles an hour. A band at the display's precision that is one figure shows one.
    """
    return tuple(_row(minute, system) for minute in programme.minutes)


def programme_csv(programme: TreadmillProgramme, system: System) -> str:
    """The programme as CSV (RFC 4180): numbers in their own columns, speeds in km/h or mph as ``speed_unit``
    says, a first line of names. Text that a spreadsheet would run as a formula is quoted."""
    written = io.StringIO()
    table = csv.writer(written)
    table.writerow(_CSV_HEADER)
    for minute in programme.minutes:
        course = minute.course_m or ("", "")
        speed = ("", "") if minute.speed_mps is None else _speed_band(minute.speed_mps, system)
        table.writerow(
            (
                *(f"{minute.start_s:.0f}", f"{minute.duration_s:.0f}", minute.part),
                *(f"{place:.0f}" if isinstance(place, float) else place for place in course),
                "" if minute.course_grade is None else f"{minute.course_grade * 100:.1f}",
                *(f"{minute.grade * 100:.1f}", *speed, "km/h" if system == "km" else "mph"),
                *(f"{effort:g}" for effort in minute.effort_rpe),
                safe_cell(say_in(minute.words, system)),
            )
        )
    return written.getvalue()


def treadmill_csv(plan: Plan) -> bytes | None:
    """treadmill.csv of a runner who has a programme, else None."""
    if plan.rehearsal is None or not plan.rehearsal.programmes:
        return None
    return programme_csv(plan.rehearsal.programmes[0], plan.runner.units).encode("utf-8-sig")


def _row(minute: TreadmillMinute, system: System) -> tuple[str, ...]:
    low, high = minute.effort_rpe
    return (
        say_time(minute.start_s),
        say_minutes(minute.duration_s),
        minute.part,
        "" if minute.course_m is None else say_place(minute.course_m[0], system),
        f"{minute.grade * 100:.1f}".replace("-", "\N{MINUS SIGN}"),
        _speed_words(minute, system),
        f"RPE {low:g}" if low == high else f"RPE {low:g}–{high:g}",
        say_in(minute.words, system),
    )


def _speed_words(minute: TreadmillMinute, system: System) -> str:
    if minute.speed_mps is None:
        return "by effort"
    low, high = _speed_band(minute.speed_mps, system)
    unit = "km/h" if system == "km" else "mph"
    return f"{low} {unit}" if low == high else f"{low}–{high} {unit}"


def _speed_band(speed_mps: tuple[float, float], system: System) -> tuple[str, str]:
    low, high = (f"{speed * 3600 / unit_m(system):.1f}" for speed in speed_mps)
    return low, high
