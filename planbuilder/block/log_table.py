"""The table of log.csv: rows, columns, separators, as a spreadsheet or a person left them.

Receives: the text of the file, lines to write.
Gives: rows with the line they begin on; the text with lines added, changed or taken out.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, fields
from typing import Any, Final

from planbuilder.settings.problems import InputProblems, Problem

LOG_FILE: Final = "log.csv"
COLUMNS: Final = ("date", "runner", "session", "went", "distance", "time", "effort", "pain", "where", "note")


@dataclass(frozen=True, slots=True)
class LogLine:
    """One line as a person wrote it, without its id; every cell is text."""

    date: str
    runner: str  # name or key
    session: str = ""
    went: str = ""
    distance: str = ""
    time: str = ""
    effort: str = ""
    pain: str = ""
    where: str = ""
    note: str = ""


def rows_of(text: str) -> list[tuple[int, list[str]]]:
    """Rows with the line they begin on; comments and empty lines left out. Raises InputProblems."""
    reader = csv.reader(io.StringIO(text), delimiter=_separator(text))
    found, start = [], 1
    for cells in _whole(reader):
        if cells and any(cell.strip() for cell in cells) and not cells[0].startswith("#"):
            found.append((start, [cell.strip() for cell in cells]))
        start = reader.line_num + 1
    return found


def _whole(reader: Any) -> Iterator[list[str]]:
    """The rows of a reader, or the line on which it gives up: at a cell of more than 131,072 letters."""
    try:
        yield from reader
    except csv.Error:
        must = "a cell must be a few words"
        todo = "Shorten it, or close its quotes."
        raise InputProblems(
            [Problem(LOG_FILE, reader.line_num or 1, must, "not a hundred thousand letters", todo)]
        ) from None


def columns_of(text: str) -> tuple[str, ...]:
    rows = rows_of(text)
    return tuple(name.lower() for name in rows[0][1]) if rows else ()


def line_of(cells: Sequence[str], columns: Sequence[str]) -> LogLine:
    values = dict(zip(columns, cells, strict=False))
    return LogLine(**{name: _plain(values.get(name, "")) for name in COLUMNS})


def with_lines(text: str, lines: Iterable[LogLine]) -> tuple[str, int]:
    """The text with these lines at its end, and how many were new: one that stands there is not added."""
    text = text if rows_of(text) else ",".join(COLUMNS) + "\n"
    columns = columns_of(text)
    there = {_key(line_of(cells, columns)) for _, cells in rows_of(text)[1:]}
    new = [line for line in dict.fromkeys(lines) if _key(line) not in there]
    text = _with_columns(text, new)
    text += "" if text.endswith("\n") else "\n"
    return text + _to_csv(new, columns_of(text), _separator(text)), len(new)


def rewritten(text: str, change: Callable[[LogLine], LogLine | None]) -> tuple[str, int]:
    """The text with each line as ``change`` gives it, None for taken out, and how many are not as before."""
    rows = rows_of(text)
    columns = columns_of(text)
    lines, count = text.splitlines(keepends=True), 0
    ends = [number for number, _ in rows[1:]] + [len(lines) + 1]
    for (number, cells), end in reversed(list(zip(rows[1:], ends[1:], strict=True))):
        line = line_of(cells, columns)
        new = change(line)
        if new != line:
            count += 1
            last = max(number + 1, number + _height(lines, number, end))
            lines[number - 1 : last - 1] = [] if new is None else [_to_csv([new], columns, _separator(text))]
    return "".join(lines), count


def _with_columns(text: str, lines: Sequence[LogLine]) -> str:
    """The text with the columns at the end of its header that these lines need and it does not have."""
    have = columns_of(text)
    missing = [name for name in COLUMNS if name not in have and any(getattr(line, name) for line in lines)]
    if not missing:
        return text
    rows = text.splitlines(keepends=True)
    header = rows_of(text)[0][0] - 1
    bare = rows[header].rstrip("\r\n")
    rows[header] = _separator(text).join([bare, *missing]) + rows[header][len(bare) :]
    return "".join(rows)


def _key(line: LogLine) -> tuple[str, ...]:
    return tuple(getattr(line, field.name) for field in fields(LogLine))


def _to_csv(lines: Iterable[LogLine], columns: Sequence[str], separator: str) -> str:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, lineterminator="\n")
    for line in lines:
        values: dict[str, Any] = {field.name: getattr(line, field.name) for field in fields(LogLine)}
        writer.writerow([_safe(str(values[name])) for name in columns])
    return out.getvalue()


def _separator(text: str) -> str:
    header = next((line for line in text.splitlines() if _is_row(line)), "")
    return max(",;\t", key=header.count)


def _is_row(line: str) -> bool:
    return bool(line.strip(" ,;\t")) and not line.startswith("#")


def _plain(cell: str) -> str:
    """The cell without the mark that keeps a spreadsheet from reading it as a formula."""
    return cell[1:] if cell[:1] == "'" and cell[1:2] in ("=", "+", "-", "@") else cell


def _safe(cell: str) -> str:
    return f"'{cell}" if cell[:1] in ("=", "+", "-", "@") else cell


def _height(lines: Sequence[str], number: int, end: int) -> int:
    """How many lines the row that begins here spans: cells may hold line breaks."""
    for height in range(1, end - number + 1):
        if "".join(lines[number - 1 : number - 1 + height]).count('"') % 2 == 0:
            return height
    return 1
