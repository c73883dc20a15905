"""roster.csv: a squad from any spreadsheet, one runner a row.

Receives: a CSV file with a header; commas, semicolons or tabs; comments on lines that start with #.
Gives: ``RunnerSettings`` a row, and a problem with its line for everything that could not be read.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from planbuilder.settings.models import WEEKDAYS, RunnerSettings
from planbuilder.settings.problems import InputProblems, Problem, did_you_mean
from planbuilder.settings.toml_lines import problems_from

_HEADERS: Final[Mapping[str, tuple[str, ...]]] = {
    "name": ("name", "runner", "athlete", "first name"),
    "id": ("id", "key"),
    "goal_time": ("goal", "goal time", "target", "target time"),
    "results": ("results", "result", "race result", "recent race", "recent result"),
    "weekly_distance": ("weekly distance", "weekly", "per week", "a week", "week", "weekly mileage"),
    "longest_run": ("longest run", "longest", "long run"),
    "fast_minutes": ("fast minutes", "fast min", "quick minutes"),
    "days": ("days", "running days", "available days", "days available"),
    "long_run_day": ("long run day", "long day"),
    "club_nights": ("club nights", "club night", "club"),
    "units": ("units", "unit"),
    "age": ("age",),
    "level": ("level",),
    "screening": ("screening", "health", "health questions", "health screen"),
    "hills": ("hills", "hills near home", "hill"),
    "treadmill": ("treadmill",),
    "strength": ("strength", "strength sessions"),
    "injuries": ("injury", "injuries", "niggle"),
    "max_heart_rate": ("max heart rate", "max hr", "hr max"),
    "reminder": ("reminder", "reminders"),
    "first_day": ("first day", "starts", "start"),
    "first_at_distance": ("first at distance", "first time", "debut"),
}
_REMARKS: Final = ("comment", "comments", "note", "notes", "remark", "remarks", "email", "phone")
_UNIT_WORDS: Final = {
    "km": "km",
    "kilometres": "km",
    "kilometers": "km",
    "mi": "mi",
    "miles": "mi",
    "mile": "mi",
}
_RESULT: Final = re.compile(
    r"^(?P<distance>.*?)\s+(?P<time>\d{1,3}:\d{2}(?::\d{2})?)\s+(?P<date>\d{4}-\d{2}-\d{2})\s*(?P<rest>.*)$"
)
_INJURY: Final = re.compile(
    r"^(?P<place>[a-z]+)\s+(?P<pain>\d+)(?:/10)?(?:\s+since\s+(?P<since>\d{4}-\d{2}-\d{2}))?$"
)
_YES: Final = ("yes", "y", "true", "1", "x")
_NO: Final = ("no", "n", "false", "0")


@dataclass(frozen=True, slots=True)
class Roster:
    """The good rows, and what is wrong with the others."""

    runners: tuple[RunnerSettings, ...]
    lines: tuple[int, ...]  # of the good rows
    problems: tuple[Problem, ...]


def read_roster(path: Path, *, shown_as: str) -> Roster:
    """Every row of the roster; a row with a mistake is left out and told of, never lost in silence.

    Raises InputProblems where the file as a whole cannot be read.
    """
    import pandas as pd

    text = _text_of(path, shown_as)
    kept = "\n".join("" if line.startswith("#") else line for line in text.splitlines())
    first = next((i for i, line in enumerate(kept.splitlines()) if line.strip(" ,;\t")), None)
    if first is None:
        raise InputProblems(
            [Problem(shown_as, None, "the roster must hold a header and runners", "it is empty")]
        )
    body = "\n".join(kept.splitlines()[first:])
    header = body.splitlines()[0]
    separator = max(",;\t", key=header.count)
    try:
        table = pd.read_csv(
            io.StringIO(body), sep=separator, dtype=str, keep_default_na=False, skip_blank_lines=False
        )
    except (pd.errors.ParserError, ValueError) as error:
        what = str(error).strip().splitlines()[-1]
        raise InputProblems([Problem(shown_as, None, "the roster must be a table", what.lower())]) from None
    columns, problems = _columns([str(name) for name in table.columns], shown_as, first + 1)
    line, runners, lines = first + 2, [], []
    for row in table.itertuples(index=False):
        cells = ["" if not isinstance(cell, str) else cell for cell in row]
        if any(cell.strip() for cell in cells):
            runner, wrong = _runner(cells, columns, shown_as, line)
            problems += wrong
            if runner is not None:
                runners.append(runner)
                lines.append(line)
        line += 1 + sum(cell.count("\n") for cell in cells)
    return Roster(tuple(runners), tuple(lines), tuple(problems))


def _text_of(path: Path, shown_as: str) -> str:
    try:
        data = path.read_bytes()
    except OSError as error:
        found = "nothing is there" if isinstance(error, FileNotFoundError) else str(error.strerror).lower()
        raise InputProblems([Problem(shown_as, None, "the roster must be a file", found)]) from None
    for encoding in ("utf-16",) if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252"):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise InputProblems([Problem(shown_as, None, "the roster must be text", "other bytes were found")])


@dataclass(frozen=True, slots=True)
class _Column:
    title: str
    setting: str  # "" for a remark
    unit: str  # of bare numbers: km, mi or ""


def _columns(titles: list[str], shown_as: str, line: int) -> tuple[list[_Column], list[Problem]]:
    known = {word: setting for setting, words in _HEADERS.items() for word in words}
    columns, problems = [], []
    for title in titles:
        words = re.sub(r"[^a-z0-9 ]+", " ", title.lower().replace("_", " ")).split()
        unit = next((_UNIT_WORDS[word] for word in words if word in _UNIT_WORDS), "")
        plain = " ".join(word for word in words if word not in _UNIT_WORDS and not word.isdigit())
        if plain in known:
            columns.append(_Column(title, known[plain], unit))
        elif not plain or plain in _REMARKS or title.startswith("Unnamed"):
            columns.append(_Column(title, "", ""))
        else:
            hint = did_you_mean(plain, known) or 'Call a column that is for you alone "notes".'
            problems.append(
                Problem(
                    shown_as, line, f'the column "{title}" must be one the roster knows', "it is not", hint
                )
            )
            columns.append(_Column(title, "", ""))
    if "name" not in [column.setting for column in columns]:
        problems.append(Problem(shown_as, line, 'the header must have a column "name"', "it has none"))
    return columns, problems


def _runner(
    cells: list[str], columns: list[_Column], shown_as: str, line: int
) -> tuple[RunnerSettings | None, list[Problem]]:
    data: dict[str, Any] = {}
    problems: list[Problem] = []
    rows = [(c, cell.strip()) for c, cell in zip(columns, cells, strict=False) if c.setting and cell.strip()]
    units = next((_UNIT_WORDS.get(cell.lower(), cell) for c, cell in rows if c.setting == "units"), "")
    for column, cell in rows:
        try:
            value = _READERS.get(column.setting, _read_text)(cell, column.unit or units)
        except ValueError as error:
            problems.append(Problem(shown_as, line, f'"{column.title}" must be {error}', f'not "{cell}"'))
            continue
        if column.setting == "results":
            data.setdefault("results", []).extend(value)
        else:
            data[column.setting] = value
    if problems or not data:
        return None, problems
    try:
        return RunnerSettings.model_validate(data), []
    except ValidationError as error:
        found = problems_from(error, {}, shown_as=shown_as, root_model=RunnerSettings)
        return None, [Problem(shown_as, line, wrong.must, wrong.found, wrong.todo) for wrong in found]


def _read_text(cell: str, _units: str) -> str:
    return cell


def _read_units(cell: str, _units: str) -> str:
    return _UNIT_WORDS.get(cell.lower(), cell)


def _read_distance(cell: str, units: str) -> Any:
    number = cell.replace(",", ".")
    if re.fullmatch(r"\d+(\.\d+)?", number):
        if not units:
            raise ValueError(
                'a distance with its unit, such as "45 km", or a column headed "(km)" or "(miles)"'
            )
        return f"{number} {units}"
    return number


def _read_number(cell: str, _units: str) -> float:
    try:
        return float(cell.replace(",", "."))
    except ValueError:
        raise ValueError("a number") from None


def _read_whole(cell: str, _units: str) -> int:
    if not re.fullmatch(r"\d+(\.0+)?", cell):
        raise ValueError("a whole number")
    return int(float(cell))


def _read_yes(cell: str, _units: str) -> bool:
    if cell.lower() in (*_YES, *_NO):
        return cell.lower() in _YES
    raise ValueError("yes or no")


def _read_days(cell: str, _units: str) -> list[str]:
    words = [word for word in re.split(r"[\s,;/+&]+", cell.lower()) if word]
    found = [
        next((day for day in WEEKDAYS if len(word) >= 2 and day.startswith(word)), None) for word in words
    ]
    if not words or None in found or "t" in words or "s" in words:
        raise ValueError("weekdays such as tue thu sat sun")
    return [day for day in WEEKDAYS if day in found]


def _read_day(cell: str, units: str) -> str:
    days = _read_days(cell, units)
    if len(days) != 1:
        raise ValueError("one weekday such as sunday")
    return days[0]


def _read_results(cell: str, _units: str) -> list[dict[str, str]]:
    results = []
    for part in filter(None, (part.strip() for part in re.split(r"[;\n]+", cell))):
        found = _RESULT.match(part)
        if not found:
            raise ValueError("distance, time and date, such as 10k 47:30 2027-01-17")
        result = {key: found[key].strip() for key in ("distance", "time", "date")}
        if rest := found["rest"].strip().lower():
            result["course"] = rest
        results.append(result)
    return results


def _read_injuries(cell: str, _units: str) -> list[dict[str, Any]]:
    if cell.lower() in (*_NO, "none", "-"):
        return []
    injuries = []
    for part in filter(None, (part.strip().lower() for part in re.split(r"[;\n]+", cell))):
        found = _INJURY.match(part)
        if not found:
            raise ValueError("place, pain and since when, such as achilles 2 since 2027-01-17")
        injury: dict[str, Any] = {"place": found["place"], "pain": int(found["pain"])}
        if found["since"]:
            injury["since"] = found["since"]
        injuries.append(injury)
    return injuries


def _read_lower(cell: str, _units: str) -> str:
    return cell.lower()


_READERS: Final[Mapping[str, Callable[[str, str], Any]]] = {
    "weekly_distance": _read_distance,
    "longest_run": _read_distance,
    "fast_minutes": _read_number,
    "age": _read_whole,
    "max_heart_rate": _read_whole,
    "hills": _read_yes,
    "treadmill": _read_yes,
    "strength": _read_yes,
    "reminder": _read_yes,
    "first_at_distance": _read_yes,
    "days": _read_days,
    "club_nights": _read_days,
    "long_run_day": _read_day,
    "results": _read_results,
    "injuries": _read_injuries,
    "units": _read_units,
    "level": _read_lower,
    "screening": _read_lower,
}
