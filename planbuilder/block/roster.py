"""roster.csv: a squad from any spreadsheet, one runner a row.

Receives: a CSV file with a header; commas, semicolons or tabs; comments on lines that start with #.
Gives: ``RunnerSettings`` a row, and a problem with its line for everything that could not be read.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from planbuilder.block.roster_results import NotAResult, read_results
from planbuilder.block.weekdays import NotAWeekday, read_weekday, read_weekdays
from planbuilder.settings.models import RunnerSettings
from planbuilder.settings.problems import InputProblems, Problem, did_you_mean
from planbuilder.settings.toml_lines import KeyPath, problems_from, read_spreadsheet_text

HEADERS: Final[Mapping[str, tuple[str, ...]]] = {
    "name": ("name", "runner", "athlete", "first name"),
    "id": ("id", "key"),
    "goal_time": ("goal", "goal time", "target", "target time"),
    "results": (
        "results",
        "result",
        "race result",
        "race results",
        "recent race",
        "recent races",
        "recent result",
        "recent results",
    ),
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
_INJURY: Final = re.compile(r"^(?P<place>[a-z]+)\s+(?P<pain>\d+)(?:/10)?(?:\s+since\s+(?P<since>.+))?$")
_WEEK: Final = re.compile(r"(\d+(?:[.,]\d+)?)\s*([a-z]*)", re.IGNORECASE)
_BETWEEN_WEEKS: Final = re.compile(r"\s*[;/\n]\s*|,\s+|(?<=[\da-z])\s+(?=\d)", re.IGNORECASE)
_NO_UNIT: Final = 'a distance with its unit, such as "45 km", or a column headed "(km)" or "(miles)"'
_YES: Final = ("yes", "y", "true", "1", "x")
_NO: Final = ("no", "n", "false", "0")


@dataclass(frozen=True, slots=True)
class Roster:
    """The good rows, and what is wrong with the others."""

    runners: tuple[RunnerSettings, ...]
    lines: tuple[int, ...]  # of the good rows
    problems: tuple[Problem, ...]
    left_out: int = 0  # rows with a mistake, however many each has


def read_roster(path: Path, *, shown_as: str) -> Roster:
    """Every row of the roster; a row with a mistake is left out and told of, never lost in silence.

    Raises InputProblems where the file as a whole cannot be read.
    """
    text = read_spreadsheet_text(path, shown_as=shown_as)
    kept = "\n".join("" if line.startswith("#") else line for line in text.splitlines())
    first = next((i for i, line in enumerate(kept.splitlines()) if line.strip(" ,;\t")), None)
    if first is None:
        raise InputProblems(
            [Problem(shown_as, None, "the roster must hold a header and runners", "it is empty")]
        )
    body = "\n".join(kept.splitlines()[first:])
    header = body.splitlines()[0]
    separator = max(",;\t", key=header.count)
    rows = _rows(body, separator, first, shown_as)
    columns, problems = _columns([title.strip() for title in rows[0][1]], shown_as, rows[0][0])
    runners, lines, left_out = [], [], 0
    for line, cells in rows[1:]:
        runner, wrong = _runner(cells, columns, shown_as, line, separator)
        problems += wrong
        left_out += bool(wrong)
        if runner is not None:
            runners.append(runner)
            lines.append(line)
    return Roster(tuple(runners), tuple(lines), tuple(problems), left_out)


def _rows(body: str, separator: str, before: int, shown_as: str) -> list[tuple[int, list[str]]]:
    """Rows that hold something, with the line they begin on; ``before``: lines above the header."""
    import pandas as pd

    width = max(line.count(separator) for line in body.splitlines()) + 1  # room for rows that are too long
    try:
        table = pd.read_csv(
            io.StringIO(body), sep=separator, header=None, names=range(width), dtype=str,
            keep_default_na=False, skip_blank_lines=False, index_col=False,
        )  # fmt: skip
    except (pd.errors.ParserError, ValueError) as error:
        what = str(error).strip().splitlines()[-1].lower()
        raise InputProblems([Problem(shown_as, None, "the roster must be a table", what)]) from None
    rows, line = [], before + 1
    for row in table.itertuples(index=False):
        cells = [cell if isinstance(cell, str) else "" for cell in row]
        if any(cell.strip() for cell in cells):
            while not cells[-1].strip():
                cells.pop()
            rows.append((line, cells))
        line += 1 + sum(cell.count("\n") for cell in cells)
    return rows


@dataclass(frozen=True, slots=True)
class _Column:
    title: str
    setting: str  # "" for a remark
    unit: str  # of bare numbers: km, mi or ""


def _columns(titles: list[str], shown_as: str, line: int) -> tuple[list[_Column], list[Problem]]:
    known = {word: setting for setting, words in HEADERS.items() for word in words}
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
    cells: list[str], columns: list[_Column], shown_as: str, line: int, separator: str
) -> tuple[RunnerSettings | None, list[Problem]]:
    if any(cell.strip() for cell in cells[len(columns) :]):
        must = f"a row must have {len(columns)} cells at most, as the header has"
        todo = f'Put a cell that holds "{separator}" in quotes.'.replace("\t", "a tab")
        return None, [Problem(shown_as, line, must, f"not {len(cells)}", todo)]
    data: dict[str, Any] = {}
    problems: list[Problem] = []
    rows = [(c, cell.strip()) for c, cell in zip(columns, cells, strict=False) if c.setting and cell.strip()]
    units = next((_UNIT_WORDS.get(cell.lower(), cell) for c, cell in rows if c.setting == "units"), "")
    places: dict[KeyPath, int] = {}  # in which of these rows a setting stands
    for place, (column, cell) in enumerate(rows):
        try:
            value = _READERS.get(column.setting, _read_text)(cell, column.unit or units)
        except (NotAWeekday, NotAResult) as error:
            must = f'"{column.title}" must be {error.must}'
            problems.append(Problem(shown_as, line, must, f'not "{error.word}"', error.todo))
            continue
        except ValueError as error:
            problems.append(Problem(shown_as, line, f'"{column.title}" must be {error}', _not(cell)))
            continue
        if column.setting == "results":
            results = data.setdefault("results", [])
            places |= {("results", len(results) + at): place for at in range(len(value))}
            results += value
        else:
            data[column.setting] = value
            places[(column.setting,)] = place
    if not data:
        return None, problems
    try:
        runner = RunnerSettings.model_validate(data)
    except ValidationError as error:
        found = problems_from(error, places, shown_as=shown_as, root_model=RunnerSettings)
        problems += [_in_its_column(wrong, rows, line) for wrong in found]
    return (None if problems else runner), problems


def _in_its_column(wrong: Problem, rows: Sequence[tuple[_Column, str]], line: int) -> Problem:
    """A mistake in a setting as one in its cell; the line of ``wrong`` is the place of that cell in rows."""
    if wrong.line is None:
        return replace(wrong, line=line)
    column, cell = rows[wrong.line]
    setting, _, must = wrong.must.partition(" ")
    _, _, part = setting.partition(".")
    where = f'the {part} in "{column.title}"' if part else f'"{column.title}"'
    return replace(wrong, line=line, must=f"{where} {must}", found=wrong.found if part else _not(cell))


def _not(cell: str) -> str:
    """A cell as it was typed, on one line."""
    return f'not "{" ".join(cell.split())}"'


def _read_text(cell: str, _units: str) -> str:
    return cell


def _read_units(cell: str, _units: str) -> str:
    return _UNIT_WORDS.get(cell.lower(), cell)


def _read_distance(cell: str, units: str) -> Any:
    number = cell.replace(",", ".")
    if re.fullmatch(r"\d+(\.\d+)?", number):
        if not units:
            raise ValueError(_NO_UNIT)
        return f"{number} {units}"
    return number


def _read_weeks(cell: str, units: str) -> list[str]:
    """The weekly distance, or those of the last weeks; a unit behind the last of them is that of all."""
    weeks = [_WEEK.fullmatch(part) for part in _BETWEEN_WEEKS.split(cell) if part]
    known = [week for week in weeks if week is not None]
    typed = [week[2] for week in known]
    if not known or len(known) < len(weeks) or (any(typed[:-1]) and not all(typed)):
        raise ValueError('a distance such as "45 km", or the last weeks, latest last: "40; 42; 35; 44 km"')
    unit = typed[-1] or units
    if not unit:
        raise ValueError(_NO_UNIT)
    return [f"{week[1].replace(',', '.')} {week[2] or unit}" for week in known]


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
    return read_weekdays(cell)


def _read_day(cell: str, _units: str) -> str:
    return read_weekday(cell)


def _read_results(cell: str, _units: str) -> list[dict[str, str]]:
    return read_results(cell)


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
    "weekly_distance": _read_weeks,
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
