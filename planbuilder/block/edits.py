"""edits.toml: what coach and runners changed; written for them or by hand, comments kept.

Receives: the file, an edit to add, the id of one to take out.
Gives: edits with their ids, and a ``Problem`` with its line for every mistake.

An id names what an edit is about, never a reason or a sore place: ``edit/move/ines-a/w07-long``.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from planbuilder.block.course_files import wrong_course
from planbuilder.block.finish_times import wrong_time
from planbuilder.block.left import EverKnown
from planbuilder.block.types import Block, BlockRunner
from planbuilder.outputs.safe_write import write_whole
from planbuilder.schedule.replan import EditLine
from planbuilder.settings.edit_models import (
    EDITS,
    EVERYONE,
    AwayFromTraining,
    EasyDays,
    Edit,
    Goal,
    Ill,
    Move,
    NewResult,
    Niggle,
    Replace,
    SessionEdit,
    Skip,
    Swap,
    Tired,
)
from planbuilder.settings.models import read_date
from planbuilder.settings.problems import InputProblems, Problem, did_you_mean
from planbuilder.settings.toml_lines import (
    KeyPath,
    Lines,
    line_of,
    parse_model,
    parse_toml,
    read_text,
    read_toml,
)

EDITS_FILE: Final = "edits.toml"
_HEAD: Final = "# What coach and runners changed, newest last. Edit it by hand as you like; comments stay.\n"
HEALTH: Final = (Ill, Tired, Niggle)
_SAME_M: Final = 100.0  # a half marathon and 21.1 km are one distance
_Range = AwayFromTraining | EasyDays | Ill | Tired | Niggle


@dataclass(frozen=True, slots=True)
class Edited:
    """One edit, read: whose, and what it says."""

    runner: str  # key
    line: EditLine


def read_edits(block: Block) -> tuple[Edited, ...]:
    """All edits in the order of the file; none where there is no file. Raises InputProblems."""
    path = block.folder / EDITS_FILE
    if not path.exists():
        return ()
    data, lines = read_toml(path, shown_as=str(path))
    return _read(data, lines, block, shown_as=str(path))


def add_edit(block: Block, values: Mapping[str, Any]) -> tuple[Edited, ...]:
    """Write an edit at the end of edits.toml; ``values`` holds the words a person would write.

    Gives it once for every runner it is about, all under one id.

    What stands in the file already keeps its bytes. The holder of the lock calls it. Raises InputProblems,
    and writes nothing, where the edit or the file has a mistake.
    """
    import tomlkit

    path = block.folder / EDITS_FILE
    before = read_text(path, shown_as=str(path)) if path.exists() else _HEAD
    document, table = tomlkit.document(), tomlkit.table()
    for key, value in values.items():
        table.add(key, value)
    tables = tomlkit.aot()
    tables.append(table)
    document.add("edit", tables)
    gap = "" if before.endswith("\n") else "\n"
    text = f"{before}{gap}\n{tomlkit.dumps(document)}"
    try:
        found = _parsed(text, block, shown_as=str(path))
    except InputProblems as error:
        _parsed(before, block, shown_as=str(path))  # mistakes of the file itself have lines to show
        raise InputProblems([replace(one, file="edit", line=None) for one in error.problems]) from None
    write_whole(path, text.encode())
    return tuple(one for one in found if one.line.line == found[-1].line.line)


def remove_edit(block: Block, line: str) -> bool:
    """Take the edit with this id out again; what stood there before it was added stands there after."""
    import tomlkit

    path = block.folder / EDITS_FILE
    if not path.exists():
        return False
    text = read_text(path, shown_as=str(path))
    found = list(dict.fromkeys(one.line.line for one in _parsed(text, block, shown_as=str(path))))
    if line not in found:
        return False
    number = found.index(line)
    _, lines = read_toml(path, shown_as=str(path))
    if number == len(found) - 1:
        start = lines[("edit", number)] - 1
        rows = text.splitlines(keepends=True)
        values = tomlkit.parse("".join(rows[start:])).unwrap()["edit"][0]
        if len([row for row in rows[start:] if row.strip()]) == len(values) + 1:
            kept = "".join(rows[: start - 1] if start and not rows[start - 1].strip() else rows[:start])
            _put_back(path, kept)
            return True
    document = tomlkit.parse(text)
    del document["edit"][number]
    write_whole(path, tomlkit.dumps(document).encode())
    return True


def forget_health(block: Block, runner: BlockRunner) -> int:
    """Take every edit about a runner's health out; how many there were."""
    return _forget(block, runner, lambda edit: isinstance(edit, HEALTH))


def forget_edits(block: Block, runner: BlockRunner) -> int:
    """Take every edit of a runner alone out; how many there were."""
    return _forget(block, runner, lambda _: True)


def _forget(block: Block, runner: BlockRunner, gone: Callable[[Edit], bool]) -> int:
    found = [
        one
        for one in read_edits(block)
        if one.runner == runner.key and not of_everyone(one.line.line) and gone(one.line.edit)
    ]
    for one in reversed(found):
        remove_edit(block, one.line.line)
    return len(found)


def _put_back(path: Path, text: str) -> None:
    """The file as it was before its last edit; no file where that was the first."""
    if text == _HEAD:
        path.unlink()
    else:
        write_whole(path, text.encode())


def _parsed(text: str, block: Block, *, shown_as: str) -> tuple[Edited, ...]:
    data, lines = parse_toml(text, shown_as=shown_as)
    return _read(data, lines, block, shown_as=shown_as)


def _read(data: Mapping[str, Any], lines: Lines, block: Block, *, shown_as: str) -> tuple[Edited, ...]:
    problems = [
        Problem(shown_as, line_of((name,), lines), f'"{name}" must be an [[edit]] table', "it is not")
        for name in data
        if name != "edit"
    ]
    tables = data.get("edit", [])
    if not isinstance(tables, list):
        raise InputProblems(
            [Problem(shown_as, line_of(("edit",), lines), "edits must be [[edit]] tables", "")]
        )
    edited: list[Edited] = []
    seen: Counter[str] = Counter()
    known = EverKnown(block)
    for number, table in enumerate(tables):
        at: KeyPath = ("edit", number)
        edit, wrong = _edit(table, at, lines, shown_as)
        problems += wrong
        if edit is None:
            continue
        about = _runners(edit, block, known)
        if not about:
            problems.append(block.no_runner(edit.runner, shown_as, line_of((*at, "runner"), lines)))
            continue
        problems += _wrong(edit, at, lines, block, shown_as)
        whom = about[0].key if edit.runner.casefold() != EVERYONE else EVERYONE
        stem = "/".join(("edit", edit.do, whom, _about(edit)))
        seen[stem] += 1
        id_ = stem if seen[stem] == 1 else f"{stem}/{seen[stem]}"
        edited += [Edited(runner.key, EditLine(id_, edit)) for runner in about]
    if problems:
        raise InputProblems(problems)
    return tuple(edited)


def _edit(table: Any, at: KeyPath, lines: Lines, shown_as: str) -> tuple[Edit | None, list[Problem]]:
    """One table as the edit that its ``do`` says."""
    do = table.get("do") if isinstance(table, dict) else None
    if do not in EDITS:
        found = f'not "{do}"' if do else "it is missing"
        must = f"do must be one of {', '.join(EDITS)}"
        line = line_of((*at, "do"), lines)
        return None, [Problem(shown_as, line, must, found, did_you_mean(str(do), EDITS))]
    own = {path[2:]: line for path, line in lines.items() if path[:2] == at and len(path) > 2}
    model: type[Any] = EDITS[do]
    edit, problems = parse_model(model, table, own, shown_as=shown_as)
    return edit, [replace(one, line=one.line or line_of(at, lines)) for one in problems]


def _runners(edit: Edit, block: Block, known: EverKnown) -> tuple[BlockRunner, ...]:
    """Whom an edit is about; nobody where its runner neither is of the block nor ever was."""
    if edit.runner.casefold() == EVERYONE:
        return block.runners
    found = known.find(edit.runner)
    return () if found is None else (found,)


def of_everyone(line: str) -> bool:
    """Whether an edit, by its id, is one of the whole squad."""
    return line.split("/")[2:3] == [EVERYONE]


def _about(edit: Edit) -> str:
    """What an edit is about, as the last part of its id."""
    if isinstance(edit, _Range):
        return edit.first_day.isoformat()
    if isinstance(edit, NewResult):
        return edit.date.isoformat()
    return edit.on.isoformat() if isinstance(edit, Goal) else edit.session


def _wrong(edit: Edit, at: KeyPath, lines: Lines, block: Block, shown_as: str) -> Iterable[Problem]:
    if isinstance(edit, _Range) and edit.last_day is not None and edit.last_day < edit.first_day:
        yield Problem(
            shown_as,
            line_of((*at, "to"), lines),
            f"the last day must not be before the first, {edit.first_day}",
            f"not {edit.last_day}",
        )
    if edit.runner.casefold() == EVERYONE and not _for_all(edit):
        yield Problem(
            shown_as,
            line_of((*at, "runner"), lines),
            "an edit of everyone must be of days away, of easy days or of a club night by its date",
            f'not "{edit.do}"' + (f' of "{edit.session}"' if isinstance(edit, SessionEdit) else ""),
        )
    if isinstance(edit, NewResult):
        yield from _wrong_result(edit, at, lines, block, shown_as)
    if isinstance(edit, Goal):
        wrong = wrong_time("the goal time", edit.goal_time_s, block.settings.race.distance_m)
        if wrong is not None:
            yield Problem(shown_as, line_of((*at, "goal_time"), lines), *wrong)
    if isinstance(edit, Replace) and edit.kind not in block.library:
        yield Problem(
            shown_as,
            line_of((*at, "kind"), lines),
            f"the kind must be one of {', '.join(block.library.names)}",
            f'not "{edit.kind}"',
            did_you_mean(edit.kind, block.library.names),
        )


def _wrong_result(
    edit: NewResult, at: KeyPath, lines: Lines, block: Block, shown_as: str
) -> Iterable[Problem]:
    wrong = wrong_course(block.folder, edit.course)
    if wrong is not None:
        yield Problem(shown_as, line_of((*at, "course"), lines), *wrong)
    wrong = wrong_time("the time of the result", edit.time_s, edit.distance_m)
    if wrong is not None:
        yield Problem(shown_as, line_of((*at, "time"), lines), *wrong)


def _for_all(edit: Edit) -> bool:
    """Whether an edit may be of the whole squad: ids of sessions and words on health are one person's."""
    if isinstance(edit, SessionEdit):
        other = edit.other if isinstance(edit, Swap) else None
        return night_date(edit.session) is not None and (other is None or night_date(other) is not None)
    return isinstance(edit, AwayFromTraining | EasyDays)


def edited_nights(block: Block) -> dict[dt.date, Move | Skip]:
    """The club nights that were moved or called off for everyone, by their date, as was said last."""
    found: dict[dt.date, Move | Skip] = {}
    for one in read_edits(block):
        edit = one.line.edit
        date = night_date(edit.session) if isinstance(edit, Move | Skip) else None
        if date is not None and isinstance(edit, Move | Skip) and of_everyone(one.line.line):
            found[date] = edit
    return found


def is_edited(folder: Path, date: dt.date) -> bool:
    """Whether the edits of a block say anything of a club night for everyone; no other part of it is read."""
    path = folder / EDITS_FILE
    try:
        data = read_toml(path, shown_as=str(path))[0] if path.exists() else {}
    except InputProblems:
        return False
    edited = data.get("edit")
    return any(
        isinstance(one, Mapping)
        and night_date(str(one.get("session"))) == date
        and str(one.get("runner")).casefold() == EVERYONE
        for one in (edited if isinstance(edited, list) else ())
    )


def night_date(session: str) -> dt.date | None:
    """The club night that an edit names by its date; None where it names a session by its id."""
    try:
        return read_date(session)
    except ValueError:
        return None


def nights_of_all(edited: Iterable[Edited]) -> dict[dt.date, dt.date | None]:
    """The club nights that were moved for the whole squad, with their last day, or called off: then None."""
    days: dict[dt.date, list[dt.date | None]] = {}
    for one in edited:
        edit = one.line.edit
        night = night_date(edit.session) if isinstance(edit, Move | Skip) else None
        if night is not None and of_everyone(one.line.line):
            days.setdefault(night, [night]).append(edit.to if isinstance(edit, Move) else None)
    return {day: said[-1] for said in days.values() for day in said if day is not None and day != said[-1]}


def of_runner(edited: Sequence[Edited], key: str, today: dt.date) -> tuple[EditLine, ...]:
    """The edits of one runner that were written by a day.

    An illness, or a niggle of one place, that is told of again from the same first day counts as it was told
    last: so its end is added. A result of one day and distance is one result, with all that was said of it.
    """
    told: dict[object, EditLine] = {}
    for one in edited:
        if one.runner == key and one.line.edit.on <= today:
            known = _known_by(one.line.edit) or one.line.line
            before = told.pop(known, None)
            told[known] = one.line if before is None else _with_more(one.line, before)
    return tuple(told.values())


def _known_by(edit: Edit) -> tuple[object, ...] | None:
    """What an illness, a niggle or a result is known by when it is told of again; None for any other edit."""
    if isinstance(edit, Niggle):
        return edit.do, edit.place, edit.first_day
    if isinstance(edit, NewResult):
        return edit.do, edit.date, round(edit.distance_m / _SAME_M)
    return (edit.do, edit.first_day) if isinstance(edit, Ill) else None


def _with_more(line: EditLine, before: EditLine) -> EditLine:
    """A result told of again with what was said of it before and is not said otherwise now."""
    if not isinstance(line.edit, NewResult):
        return line
    more = before.edit.model_fields_set - line.edit.model_fields_set
    said = {name: getattr(before.edit, name) for name in more}
    return replace(line, edit=line.edit.model_copy(update=said))


def open_illness(edited: Sequence[Edited], key: str, today: dt.date) -> Ill | None:
    """The illness of a runner that was told of last and is not over yet, as far as was told."""
    found = [line.edit for line in of_runner(edited, key, today) if isinstance(line.edit, Ill)]
    return next((edit for edit in reversed(found) if edit.last_day is None), None)


def open_niggle(edited: Sequence[Edited], key: str, place: str, today: dt.date) -> Niggle | None:
    """The niggle of a place that was told of last, where it is not over yet as far as was told."""
    found = [line.edit for line in of_runner(edited, key, today) if isinstance(line.edit, Niggle)]
    last = next((edit for edit in reversed(found) if edit.place == place), None)
    return last if last is not None and last.last_day is None else None
