"""Tables of distances and heights (CSV): the one place of this room that knows the table reader.

Receives: the bytes of a CSV file with a distance and a height column, in any common units.
Gives: a ``Trace`` in metres, and notes on the units that were assumed.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from planbuilder.course.trace import Trace, refuse_long
from planbuilder.settings.limits import Limits
from planbuilder.settings.notes import Note
from planbuilder.settings.problems import InputProblems, Problem
from planbuilder.units import FOOT_M, MILE_M, UNIT_M, count_of, length_mark

Array = NDArray[np.float64]
_DISTANCE_WORDS: Final = ("distance", "dist", "chainage", "position", "at", "along")
_HEIGHT_WORDS: Final = ("elevation", "elev", "ele", "altitude", "alt", "height", "hgt", "z")
_LENGTHS_ALONE: Final = (
    "km",
    "kms",
    "mi",
    "mile",
    "miles",
    "kilometre",
    "kilometer",
    "kilometres",
    "kilometers",
)
_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]{1,9}(?:\.[0-9]{0,20})?|\.[0-9]{1,20})(?:[eE][+-]?[0-9]{1,2})?")
_THOUSANDS: Final = re.compile(r"[+-]?[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?")
_SHOWN_PROBLEMS: Final = 5
_LONG_CLIMB_M: Final = 400.0


def read_table(data: bytes, shown_as: str, limits: Limits, *, certified_m: float | None) -> Trace:
    """A course from a table. Raises InputProblems with the lines that are wrong.

    certified_m: length of the race [m], which helps to tell the unit of a bare column.
    """
    rows = _rows(data, shown_as, limits)
    header = rows[0][1]
    distance_at, height_at = _columns(header, shown_as)
    unit_words = _unit_of(header[distance_at])
    distances, heights, lines = [], [], []
    problems: list[Problem] = []
    for line, row in rows[1:]:
        if not any(cell.strip() for cell in row):
            continue
        cell = row[distance_at] if distance_at < len(row) else ""
        value = _number(cell)
        if value is None:
            problems.append(
                Problem(shown_as, line, "distance must be a number", f"not {cell.strip()[:30]!r}")
            )
            continue
        height = _number(row[height_at]) if height_at < len(row) else None
        distances.append(value)
        heights.append(np.nan if height is None else height)
        lines.append(line)
    distance, notes = _in_metres(np.array(distances), unit_words, certified_m)
    problems.extend(_order_problems(distance, lines, shown_as))
    if len(distance) < 2 and not problems:
        problems.append(Problem(shown_as, None, "must have at least two rows of numbers", "not fewer"))
    if problems:
        rest = len(problems) - _SHOWN_PROBLEMS
        if rest > 0:
            problems = problems[:_SHOWN_PROBLEMS]
            problems.append(Problem(shown_as, None, f"has {count_of(rest, 'more problem')} of this kind"))
        raise InputProblems(problems)
    height_m, assumed = _heights_in_metres(
        distance,
        np.array(heights),
        _unit_of(header[height_at]),
        limits,
        in_miles=unit_words is not None and UNIT_M[unit_words] == MILE_M,
    )
    notes.extend(assumed)
    distance, height_m = _from_start(distance, height_m)
    _refuse_short(distance, shown_as, limits)
    refuse_long(
        float(distance[-1]), shown_as, limits, 'Is the unit in the header right, such as "distance km"?'
    )
    return Trace(distance, height_m, 0.0, float(np.median(np.diff(distance))), tuple(notes))


def _from_start(distance_m: Array, height_m: Array) -> tuple[Array, Array]:
    if distance_m[0] > 0:
        return np.concatenate(([0.0], distance_m)), np.concatenate(([np.nan], height_m))
    return distance_m, height_m


def _refuse_short(distance_m: Array, shown_as: str, limits: Limits) -> None:
    shortest = limits.number("course.shortest_m")
    if distance_m[-1] < shortest:
        raise InputProblems(
            [
                Problem(
                    shown_as,
                    None,
                    f"must be a course of at least {shortest:.0f} m",
                    f"not {distance_m[-1]:.0f} m",
                    'Name the unit in the header, such as "distance km".',
                )
            ]
        )


def _rows(data: bytes, shown_as: str, limits: Limits) -> list[tuple[int, list[str]]]:
    import pandas as pd

    text = _text(data)
    if "\x00" in text:
        raise InputProblems(
            [Problem(shown_as, None, "must be a course file, GPX or CSV", "not a file of another kind")]
        )
    lines = text.splitlines()
    if not text.strip():
        raise InputProblems(
            [Problem(shown_as, None, "must be a course file, GPX or CSV", "not an empty file")]
        )
    first = next(
        (number for number, line in enumerate(lines) if line.strip() and not line.startswith("#")), 0
    )
    separator = max(";\t,|", key=lambda sign: (lines[first].count(sign), sign == ","))
    most = int(limits.number("course.most_points"))
    if len(lines) > most + first + 1:
        raise InputProblems(
            [Problem(shown_as, most, f"must have at most {most:,} rows", "not more", "Thin it out.")]
        )
    try:
        table = pd.read_csv(
            io.StringIO("\n".join(lines[first:])),
            sep=separator,
            header=None,
            dtype=str,
            keep_default_na=False,
            skip_blank_lines=False,
            names=range(lines[first].count(separator) + 1),
            index_col=False,
            on_bad_lines="error",
            engine="c",
        )
    except (ValueError, OverflowError, RuntimeError) as error:
        found = re.search(r"line (\d+)", str(error))
        line = int(found[1]) + first if found else None
        raise InputProblems(
            [Problem(shown_as, line, "must have as many cells in every row as in the header", "not more")]
        ) from None
    cells = table.fillna("").astype(str).to_numpy().tolist()
    return [(first + 1 + number, row) for number, row in enumerate(cells)]


def _text(data: bytes) -> str:
    for encoding in ("utf-16",) if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252"):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    return data.decode("latin-1")


def _words(header: str) -> list[str]:
    spaced = re.sub(r"([a-z])([A-Z])", r"\1 \2", header)
    return re.findall(r"[a-z]+", spaced.lower())


def _columns(header: list[str], shown_as: str) -> tuple[int, int]:
    distance = _first_column(header, _DISTANCE_WORDS) or _first_column(header, _LENGTHS_ALONE)
    height = _first_column(header, _HEIGHT_WORDS, but=distance)
    missing = [name for name, at in (("distance", distance), ("elevation", height)) if at is None]
    if distance is None or height is None:
        raise InputProblems(
            [
                Problem(
                    shown_as,
                    1,
                    f"must have a column for {' and one for '.join(missing)}",
                    f"not only {', '.join(repr(name.strip()[:20]) for name in header[:6])}",
                    'Name the columns in the first row, such as "distance km" and "elevation m".',
                )
            ]
        )
    return distance[0], height[0]


def _first_column(
    header: list[str], wanted: Iterable[str], *, but: tuple[int] | None = None
) -> tuple[int] | None:
    for word in wanted:
        for at, name in enumerate(header):
            if word in _words(name) and (but is None or at != but[0]):
                return (at,)
    return None


def _unit_of(header: str) -> str | None:
    return next((word for word in reversed(_words(header)) if word in UNIT_M), None)


def _number(cell: str) -> float | None:
    text = cell.strip().replace("\N{MINUS SIGN}", "-").replace("\u00a0", "")
    if _THOUSANDS.fullmatch(text) and ("." in text or text.count(",") > 1):
        text = text.replace(",", "")
    elif text.count(",") == 1 and "." not in text:
        text = text.replace(",", ".")
    if not _NUMBER.fullmatch(text):
        return None
    return float(text)


def _in_metres(distance: Array, unit: str | None, certified_m: float | None) -> tuple[Array, list[Note]]:
    if unit is not None or distance.size == 0:
        return distance * UNIT_M[unit or "m"], []
    last = float(np.max(np.abs(distance)))
    choices = ("km", "mi", "m")
    if certified_m is not None and last > 0:
        unit = min(choices, key=lambda name: abs(float(np.log(last * UNIT_M[name] / certified_m))))
    else:
        unit = "m" if last > 300 else "km"
    named = {"km": "kilometres", "mi": "miles", "m": "metres"}[unit]
    note = Note(
        "course.table_units", f"The distance column names no unit; it was read as {named}.", "assumed"
    )
    return distance * UNIT_M[unit], [note]


def _heights_in_metres(
    distance_m: Array, height: Array, unit: str | None, limits: Limits, *, in_miles: bool
) -> tuple[Array, list[Note]]:
    """Heights without a unit are metres; feet where the distances are miles and metres give no road."""
    if unit is not None:
        return height * UNIT_M[unit], []
    says = "The height column names no unit; it was read as"
    steepest = limits.number("course.bare_height_grade")
    found = _steepest(distance_m, height)
    if in_miles and found > steepest:
        text = (
            f"{says} feet, because the distances are miles and metres would give {found * 100:.0f} % over "
            f'{length_mark(_LONG_CLIMB_M)} and more. Write the unit into the header, such as "height ft".'
        )
        return height * FOOT_M, [Note("course.bare_height_grade", text, "assumed")]
    return height, [Note("course.table_units", f"{says} metres.", "assumed")]


def _steepest(distance_m: Array, height_m: Array) -> float:
    """The steepest grade over a long climb, as a fraction; 0 where nothing is long enough."""
    known = np.isfinite(height_m)
    if known.sum() < 2 or distance_m[-1] - distance_m[0] < _LONG_CLIMB_M:
        return 0.0
    at = np.arange(distance_m[0], distance_m[-1] - _LONG_CLIMB_M + 1, _LONG_CLIMB_M / 8)
    d, z = distance_m[known], height_m[known]
    rise = np.interp(at + _LONG_CLIMB_M, d, z) - np.interp(at, d, z)
    return float(np.max(np.abs(rise))) / _LONG_CLIMB_M


def _order_problems(distance_m: Array, lines: list[int], shown_as: str) -> Iterable[Problem]:
    if distance_m.size and distance_m[0] < 0:
        yield Problem(shown_as, lines[0], "distance must be 0 or more", "not negative")
    for at in np.flatnonzero(np.diff(distance_m) < 0):
        yield Problem(
            shown_as, lines[int(at) + 1], "distance must grow from row to row", "not fall", "Sort the rows."
        )
