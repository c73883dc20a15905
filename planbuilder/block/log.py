"""log.csv: what was really run, a line a session or run.

Receives: the file, new lines, the register of a club night.
Gives: the lines by date; the file with lines added, or without what a person wants forgotten.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from planbuilder.block.log_lines import Logged, read_lines
from planbuilder.block.log_table import LOG_FILE as LOG_FILE
from planbuilder.block.log_table import LogLine, rewritten, rows_of, with_lines
from planbuilder.block.types import Block, BlockRunner
from planbuilder.outputs.safe_write import write_whole
from planbuilder.settings.problems import InputProblems, Problem
from planbuilder.settings.toml_lines import read_spreadsheet_text


def read_good_lines(block: Block) -> tuple[tuple[Logged, ...], tuple[Problem, ...]]:
    """The lines of log.csv that can be read, by date, and what is wrong with the others.

    None where there is no file. Raises InputProblems where the header cannot be read: no line means
    anything then.
    """
    path = block.folder / LOG_FILE
    text = _text(path)
    found, problems = read_lines(text, block, shown_as=str(path))
    if problems and problems[0].line == rows_of(text)[0][0]:
        raise InputProblems(problems)
    return _by_date(found), tuple(problems)


def add_lines(block: Block, lines: Sequence[LogLine]) -> tuple[Logged, ...]:
    """Write new lines at the end of log.csv, and tell how they read; the holder of the lock calls it.

    A line that already stands there is not written again. Raises InputProblems, and writes nothing, where a
    line cannot be read or the file has a mistake.
    """
    path = block.folder / LOG_FILE
    before = _text(path)
    text, new = with_lines(before, lines)
    logged, problems = read_lines(text, block, shown_as=str(path))
    if problems:
        _, there_before = read_lines(before, block, shown_as=str(path))  # only these have lines to show
        raise InputProblems(there_before or [replace(one, file="log", line=None) for one in problems])
    write_whole(path, text.encode())
    return tuple(logged[len(logged) - new :]) if new else ()


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


def _by_date(found: Iterable[Logged]) -> tuple[Logged, ...]:
    return tuple(sorted(found, key=lambda one: (one.done.date, one.done.line)))


def _rewrite(block: Block, runner: BlockRunner, change: Callable[[LogLine], LogLine | None]) -> int:
    path = block.folder / LOG_FILE
    if not path.exists():
        return 0

    def of_runner(line: LogLine) -> LogLine | None:
        found = block.runner_named(line.runner)
        return change(line) if found is not None and found.key == runner.key else line

    text, count = rewritten(_text(path), of_runner)
    write_whole(path, text.encode())
    return count


def _text(path: Path) -> str:
    return read_spreadsheet_text(path, shown_as=str(path)) if path.exists() else ""
