"""log.csv: what was really run, a line a session or run.

Receives: the file, lines that runners sent from their page, the register of a club night.
Gives: lines with their ids, and a ``Problem`` with its line for everything that could not be read.

An id names day, runner and session of a line and nothing else, so whoever points to it says nothing about
health: ``log/2027-03-02/ines-a/w01-club``.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, Final, NamedTuple, TypeVar, get_args

from planbuilder.block.types import Block, BlockRunner
from planbuilder.outputs.safe_write import write_whole
from planbuilder.schedule.replan import Done, Went
from planbuilder.settings.models import Place
from planbuilder.settings.problems import InputProblems, Problem, did_you_mean
from planbuilder.settings.toml_lines import read_text
from planbuilder.units import parse_distance, parse_time

LOG_FILE: Final = "log.csv"
COLUMNS: Final = ("date", "runner", "session", "went", "distance", "time", "effort", "pain", "where", "note")
PASTED_FORM: Final = "Ines A | w07-long | done | effort 4 | 2027-04-11"
_NEEDED: Final = ("date", "runner")
_MOST_HOURS: Final = 24
_PLACES: Final[Mapping[str, Place]] = {
    **{place: place for place in get_args(Place)},
    **{"heel": "plantar", "sole": "plantar", "arch": "plantar", "tendon": "achilles"},
    **{"thigh": "quad", "kneecap": "knee", "shins": "shin", "toe": "foot", "ankle": "foot", "glute": "hip"},
}
_T = TypeVar("_T")


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


@dataclass(frozen=True, slots=True)
class Logged:
    """One line, read: whose, what it says, and the coach's copy of the free words."""

    runner: str  # key
    done: Done
    where: str
    note: str
    row: int = 0  # line of the file


class Pasted(NamedTuple):
    """What a chat held: lines with the number they stand on, and what looked like one and is none."""

    lines: tuple[tuple[int, LogLine], ...]
    problems: tuple[Problem, ...]


def read_log(block: Block) -> tuple[Logged, ...]:
    """All lines of log.csv by date; none where there is no file. Raises InputProblems with every mistake."""
    path = block.folder / LOG_FILE
    if not path.exists():
        return ()
    found, problems = _read(path, block)
    if problems:
        raise InputProblems(problems)
    return _by_date(found)


def read_good_lines(block: Block) -> tuple[tuple[Logged, ...], tuple[Problem, ...]]:
    """The lines of log.csv that can be read, by date, and what is wrong with the others.

    Raises InputProblems where the header cannot be read: then no line means anything.
    """
    path = block.folder / LOG_FILE
    if not path.exists():
        return (), ()
    text = read_text(path, shown_as=str(path))
    found, problems = _parse(text, block, shown_as=str(path))
    if problems and problems[0].line == _rows(text)[0][0]:
        raise InputProblems(problems)
    return _by_date(found), tuple(problems)


def problems_of(block: Block, line: LogLine, *, shown_as: str, number: int | None) -> list[Problem]:
    """What is wrong with the cells of a line that is not in the file yet."""
    return _Reader(block, shown_as, number).read(line, Counter())[1]


def _by_date(found: Iterable[Logged]) -> tuple[Logged, ...]:
    return tuple(sorted(found, key=lambda one: (one.done.date, one.done.line)))


def add_lines(block: Block, lines: Sequence[LogLine]) -> tuple[Logged, ...]:
    """Write new lines at the end of log.csv, and tell how they read; the holder of the lock calls it.

    A line that already stands there is not written again. Raises InputProblems, and writes nothing, where a
    line cannot be read or the file has a mistake.
    """
    path = block.folder / LOG_FILE
    before = read_text(path, shown_as=str(path)) if path.exists() else ""
    text = before if _rows(before) else ",".join(COLUMNS) + "\n"
    there = set(_cells(text, _columns_of(text)))
    new = [line for line in dict.fromkeys(lines) if _key(line) not in there]
    text = _with_columns(text, new)
    text += "" if text.endswith("\n") else "\n"
    text += _to_csv(new, _columns_of(text), _separator(text))
    logged, problems = _parse(text, block, shown_as=str(path))
    if problems:
        _, there_before = _parse(before, block, shown_as=str(path))  # only these have lines to show
        raise InputProblems(there_before or [replace(one, file="log", line=None) for one in problems])
    write_whole(path, text.encode())
    return tuple(logged[len(logged) - len(new) :]) if new else ()


def pasted(text: str, block: Block) -> Pasted:
    """The lines that runners sent from their page, out of a chat: everything else in it is passed over.

    A line with bars that is not of that form, or is nobody's, is a problem with its number.
    """
    found: list[tuple[int, LogLine]] = []
    problems: list[Problem] = list(_unread(text))
    for number, raw in enumerate(text.splitlines(), start=1):
        parts = [part.strip() for part in raw.split("|")]
        if len(parts) < 4 or parts[2] not in get_args(Went):
            continue
        runner = _sender(parts[0], block)
        if runner is None:
            names = [one.settings.name for one in block.runners]
            problems.append(
                Problem(
                    "pasted lines",
                    number,
                    f"the line must begin with the name of a runner ({', '.join(names)})",
                    f'not "{parts[0]}"',
                    did_you_mean(parts[0], names),
                )
            )
            continue
        found.append((number, _from_page(runner, parts[1], parts[2], parts[3:])))
    return Pasted(tuple(found), tuple(sorted(problems, key=lambda one: one.line or 0)))


def _unread(text: str) -> Iterable[Problem]:
    """Lines of a chat that look like those of a runner's page, with bars, and are not; with the reason."""
    for number, raw in enumerate(text.splitlines(), start=1):
        parts = [part.strip() for part in raw.split("|")]
        if len(parts) == 1 or (len(parts) > 3 and parts[2] in get_args(Went)):
            continue
        if len(parts) < 4:
            must, found = "a line must have at least four parts between bars", f"not {len(parts)}"
        else:
            must, found = f"the third part must be one of {', '.join(get_args(Went))}", f'not "{parts[2]}"'
        yield Problem("pasted lines", number, must, found, f"Such as: {PASTED_FORM}")


def register(
    block: Block, date: dt.date, sessions: Mapping[str, str], absent: Collection[str]
) -> tuple[LogLine, ...]:
    """The register of a club night: ``sessions`` holds by runner key what was planned that evening."""
    away = {block.runners_named(name)[0].key for name in absent}
    return tuple(
        LogLine(
            date=date.isoformat(),
            runner=runner.settings.name,
            session=sessions[runner.key],
            went="missed" if runner.key in away else "done",
        )
        for runner in block.runners
        if runner.key in sessions
    )


def forget_health(block: Block, runner: BlockRunner) -> int:
    """Empty pain, place and note in every line of a runner; how many lines said something."""
    return _rewrite(block, runner, lambda line: replace(line, pain="", where="", note=""))


def forget_lines(block: Block, runner: BlockRunner) -> int:
    """Take every line of a runner out; how many there were."""
    return _rewrite(block, runner, lambda _: None)


def place_of(words: str) -> Place | None:
    """The sore place that free words name; "other" for any other words.

    >>> place_of("left calf"), place_of("under the heel"), place_of("")
    ('calf', 'plantar', None)
    """
    said = re.findall(r"[a-z]+", words.lower())
    return next((_PLACES[word] for word in said if word in _PLACES), "other" if said else None)


def _sender(words: str, block: Block) -> BlockRunner | None:
    """Whose line it is: the name ends the part before the first bar; a chat may put its own words before."""
    plain = words.casefold()
    fitting = [one for one in block.runners if plain.endswith(one.settings.name.casefold())]
    return max(fitting, key=lambda one: len(one.settings.name), default=None)


def _from_page(runner: BlockRunner, session: str, went: str, parts: Sequence[str]) -> LogLine:
    """The rest of a line of the page: effort where it was run, the day, pain where something hurt, a word."""
    rest = list(parts)
    effort = rest.pop(0).removeprefix("effort ") if rest[0].startswith("effort ") else ""
    day = rest.pop(0) if rest else ""
    pain = where = ""
    if rest and (hurt := re.fullmatch(r"pain (\d+)(?: (.*))?", rest[0])):
        pain, where = hurt[1], hurt[2] or ""
        rest.pop(0)
    return LogLine(
        date=day,
        runner=runner.settings.name,
        session=session,
        went=went,
        effort=effort,
        pain=pain,
        where=where,
        note=" ".join(rest),
    )


# Reading -------------------------------------------------------------------------------------------------


def _read(path: Path, block: Block) -> tuple[list[Logged], list[Problem]]:
    return _parse(read_text(path, shown_as=str(path)), block, shown_as=str(path))


def _separator(text: str) -> str:
    header = next((line for line in text.splitlines() if _is_row(line)), "")
    return max(",;\t", key=header.count)


def _is_row(line: str) -> bool:
    return bool(line.strip(" ,;\t")) and not line.startswith("#")


def _rows(text: str) -> list[tuple[int, list[str]]]:
    """Rows with the line they begin on; comments and empty lines left out."""
    reader = csv.reader(io.StringIO(text), delimiter=_separator(text))
    found, start = [], 1
    for cells in reader:
        if cells and any(cell.strip() for cell in cells) and not cells[0].startswith("#"):
            found.append((start, [cell.strip() for cell in cells]))
        start = reader.line_num + 1
    return found


def _columns_of(text: str) -> tuple[str, ...]:
    rows = _rows(text)
    return tuple(name.lower() for name in rows[0][1]) if rows else ()


def _with_columns(text: str, lines: Sequence[LogLine]) -> str:
    """The text with the columns at the end of its header that these lines need and it does not have."""
    have = _columns_of(text)
    missing = [name for name in COLUMNS if name not in have and any(getattr(line, name) for line in lines)]
    if not missing:
        return text
    rows = text.splitlines(keepends=True)
    header = _rows(text)[0][0] - 1
    bare = rows[header].rstrip("\r\n")
    rows[header] = _separator(text).join([bare, *missing]) + rows[header][len(bare) :]
    return "".join(rows)


def _cells(text: str, columns: Sequence[str]) -> Iterable[tuple[str, ...]]:
    for _, cells in _rows(text)[1:]:
        yield _key(_line_of(cells, columns))


def _key(line: LogLine) -> tuple[str, ...]:
    return tuple(getattr(line, field.name) for field in fields(LogLine))


def _line_of(cells: Sequence[str], columns: Sequence[str]) -> LogLine:
    values = dict(zip(columns, cells, strict=False))
    return LogLine(**{name: _plain(values.get(name, "")) for name in COLUMNS})


def _plain(cell: str) -> str:
    """The cell without the mark that keeps a spreadsheet from reading it as a formula."""
    return cell[1:] if cell[:1] == "'" and cell[1:2] in ("=", "+", "-", "@") else cell


def _parse(text: str, block: Block, *, shown_as: str) -> tuple[list[Logged], list[Problem]]:
    rows = _rows(text)
    if not rows:
        return [], []
    first, header = rows[0]
    columns = [name.lower() for name in header]
    problems = [
        Problem(
            shown_as,
            first,
            f'"{name}" must be a column of the log ({", ".join(COLUMNS)})',
            "it is not",
            did_you_mean(name, COLUMNS),
        )
        for name in columns
        if name not in COLUMNS
    ]
    problems += [
        Problem(shown_as, first, f"the log must have the column {name}", "it is missing")
        for name in _NEEDED
        if name not in columns
    ]
    if problems:
        return [], problems
    found: list[Logged] = []
    seen: Counter[str] = Counter()
    for number, cells in rows[1:]:
        if len(cells) > len(columns):
            must = f"a line must have {len(columns)} cells at most"
            problems.append(Problem(shown_as, number, must, f"not {len(cells)}", "Quote cells with commas."))
            continue
        one, wrong = _Reader(block, shown_as, number).read(_line_of(cells, columns), seen)
        problems += wrong
        if one is not None:
            found.append(one)
    return found, problems


class _Reader:
    """One line, and what is wrong with it."""

    def __init__(self, block: Block, shown_as: str, number: int | None) -> None:
        self._block, self._shown_as, self._number = block, shown_as, number
        self._problems: list[Problem] = []

    def read(self, line: LogLine, seen: Counter[str]) -> tuple[Logged | None, list[Problem]]:
        runner = self._runner(line.runner)
        date = self._take("date", line.date, _date)
        if date is None and not line.date:
            self._wrong("the date must be given", "it is missing")
        went = self._went(line)
        done = Done(
            line="",
            date=date or dt.date.min,
            session=line.session,
            went=went,
            distance_m=self._take("distance", line.distance, _distance),
            duration_s=self._take("time", line.time, _duration),
            effort_rpe=self._take("effort", line.effort, _effort),
            pain=self._take("pain", line.pain, _pain),
            place=place_of(line.where) if line.pain else None,
        )
        if self._problems or runner is None:
            return None, self._problems
        stem = "/".join(part for part in ("log", line.date, runner.key, line.session) if part)
        seen[stem] += 1
        id_ = stem if seen[stem] == 1 else f"{stem}/{seen[stem]}"
        return Logged(runner.key, replace(done, line=id_), line.where, line.note, self._number or 0), []

    def _wrong(self, must: str, found: str, todo: str = "") -> None:
        self._problems.append(Problem(self._shown_as, self._number, must, found, todo))

    def _take(self, name: str, text: str, parse: Callable[[str], _T]) -> _T | None:
        if not text:
            return None
        try:
            return parse(text)
        except ValueError as error:
            must, _, found = str(error).partition(", not ")
            self._wrong(f"{name} must be {must}", f"not {found or repr(text)}")
            return None

    def _went(self, line: LogLine) -> Went:
        if line.went and line.went not in get_args(Went):
            self._wrong(f"went must be one of {', '.join(get_args(Went))}", f'not "{line.went}"')
        if line.went == "missed" or line.distance.strip() in ("0", "0 km", "0 mi"):
            return "missed"
        return "part" if line.went == "part" else "done"

    def _runner(self, name: str) -> BlockRunner | None:
        found = self._block.runner_named(name)
        if found is None:
            self._problems.append(self._block.no_runner(name, self._shown_as, self._number))
        return found


def _date(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"a date such as 2027-03-02, not {text!r}") from None


def _distance(text: str) -> float:
    return 0.0 if text.strip() == "0" else parse_distance(text)


def _duration(text: str) -> float:
    found = parse_time(text)
    if found > _MOST_HOURS * 3600:
        raise ValueError(f"a time of less than a day, not {text!r}")
    return found


def _effort(text: str) -> float:
    return _between(text, 10, "an effort from 0 to 10")


def _pain(text: str) -> int:
    found = _between(text.partition("/")[0], 10, "a pain from 0 to 10")
    if found != int(found):
        raise ValueError(f"a whole number from 0 to 10, not {text!r}")
    return int(found)


def _between(text: str, most: float, what: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0 <= value <= most:
        raise ValueError(f"{what}, not {text!r}")
    return value


# Writing -------------------------------------------------------------------------------------------------


def _to_csv(lines: Iterable[LogLine], columns: Sequence[str], separator: str) -> str:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, lineterminator="\n")
    for line in lines:
        values: dict[str, Any] = {field.name: getattr(line, field.name) for field in fields(LogLine)}
        writer.writerow([_safe(str(values[name])) for name in columns])
    return out.getvalue()


def _safe(cell: str) -> str:
    return f"'{cell}" if cell[:1] in ("=", "+", "-", "@") else cell


def _rewrite(block: Block, runner: BlockRunner, change: Callable[[LogLine], LogLine | None]) -> int:
    path = block.folder / LOG_FILE
    if not path.exists():
        return 0
    text = read_text(path, shown_as=str(path))
    rows = _rows(text)
    if not rows:
        return 0
    columns = [name.lower() for name in rows[0][1]]
    lines, count = text.splitlines(keepends=True), 0
    ends = [number for number, _ in rows[1:]] + [len(lines) + 1]
    for (number, cells), end in reversed(list(zip(rows, ends, strict=True))):
        line = _line_of(cells, columns)
        if block.runner_named(line.runner) != runner:
            continue
        new = change(line)
        if new != line:
            count += 1
            last = max(number + 1, number + _height(lines, number, end))
            lines[number - 1 : last - 1] = [] if new is None else [_to_csv([new], columns, _separator(text))]
    write_whole(path, "".join(lines).encode())
    return count


def _height(lines: Sequence[str], number: int, end: int) -> int:
    """How many lines the row that begins here spans: cells may hold line breaks."""
    for height in range(1, end - number + 1):
        if "".join(lines[number - 1 : number - 1 + height]).count('"') % 2 == 0:
            return height
    return 1
