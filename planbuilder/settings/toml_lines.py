"""TOML with the line of every key, and the mistakes in it as sentences.

Receives: a TOML file, and the pydantic model it must fit.
Gives: the model, or ``InputProblems`` with one ``file:line`` sentence a mistake.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from planbuilder.settings.meanings import meanings
from planbuilder.settings.problems import InputProblems, Problem, did_you_mean

KeyPath = tuple[str | int, ...]
Lines = Mapping[KeyPath, int]
_Model = TypeVar("_Model", bound=BaseModel)

_LONG_NUMBER = re.compile(r"[0-9_]{1000}")
_POSITION = re.compile(r"^(.*?)\s*\(at (?:line (\d+), column \d+|end of document)\)$", re.S)


def read_text(path: Path, *, shown_as: str) -> str:
    """The text of a file that a person wrote; InputProblems where it is missing, a folder or not UTF-8."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        problem = Problem(shown_as, None, "the file must exist", "nothing is there", "Check the name.")
    except IsADirectoryError:
        problem = Problem(shown_as, None, "this must be a file", "not a folder")
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        problem = Problem(shown_as, line, "the file must be UTF-8 text", "other bytes were found")
    except OSError as error:
        problem = Problem(shown_as, None, "the file must be readable", str(error.strerror).lower())
    raise InputProblems([problem])


def read_spreadsheet_text(path: Path, *, shown_as: str) -> str:
    """The text of a table in whatever encoding a spreadsheet left it; InputProblems where there is none."""
    try:
        data = path.read_bytes()
    except OSError as error:
        found = "nothing is there" if isinstance(error, FileNotFoundError) else str(error.strerror).lower()
        raise InputProblems([Problem(shown_as, None, "this must be a file", found)]) from None
    for encoding in ("utf-16",) if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252"):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise InputProblems([Problem(shown_as, None, "this must be a table of text", "other bytes were found")])


def read_toml(path: Path, *, shown_as: str) -> tuple[dict[str, Any], Lines]:
    """The tables of a TOML file and the line of each key; InputProblems for a syntax error."""
    return parse_toml(read_text(path, shown_as=shown_as), shown_as=shown_as)


def parse_toml(text: str, *, shown_as: str) -> tuple[dict[str, Any], Lines]:
    """The tables of a TOML text and the line of each key; InputProblems for a syntax error."""
    try:
        return tomllib.loads(text), find_lines(text)
    except RecursionError:
        must, found_ = "lists and tables must stand in one another a few deep", "not hundreds"
        raise InputProblems([Problem(shown_as, _deepest_line(text), must, found_, "Flatten them.")]) from None
    except tomllib.TOMLDecodeError as error:
        found = _POSITION.match(str(error))
        what, line = (found[1], found[2]) if found else (str(error), None)
        raise InputProblems(
            [
                Problem(
                    shown_as,
                    int(line) if line else text.count("\n") + 1,
                    "the file must be valid TOML",
                    f"here the reader says: {what[:1].lower()}{what[1:]}",
                    'Text stands in "quotes", lists in [brackets], dates bare.',
                )
            ]
        ) from None
    except ValueError:  # the reader's own, for a number that is too long to be one
        line = next((i for i, row in enumerate(text.splitlines(), start=1) if _LONG_NUMBER.search(row)), None)
        must = "a number must have a few digits"
        raise InputProblems([Problem(shown_as, line, must, "not thousands", "Shorten it.")]) from None


def _deepest_line(text: str) -> int | None:
    """The line with the most opening brackets."""
    rows = list(enumerate(text.splitlines(), start=1))
    return max(rows, key=lambda row: row[1].count("[") + row[1].count("{"), default=(None, ""))[0]


def find_lines(text: str) -> dict[KeyPath, int]:
    """The line of every key of a valid TOML text.

    A statement is complete at the first line where the reader accepts what has come so far.

    >>> find_lines('[race]\\nname = "x"\\n[[runner]]\\nname = "y"')[("runner", 0, "name")]
    4
    """
    lines: dict[KeyPath, int] = {}
    counts: dict[KeyPath, int] = {}
    table: KeyPath = ()
    statement: list[str] = []
    first = 0
    for number, line in enumerate(text.splitlines(), start=1):
        if not statement:
            if not line.strip() or line.lstrip().startswith("#"):
                continue
            first = number
        statement.append(line)
        try:
            content = tomllib.loads("\n".join(statement))
        except tomllib.TOMLDecodeError:
            continue
        if line.lstrip().startswith("[") and len(statement) == 1:
            table = _enter_table(content, line.lstrip().startswith("[["), counts)
            lines.setdefault(table, number)
        else:
            _note_lines(content, table, first, statement, lines)
        statement = []
    return lines


def _enter_table(content: dict[str, Any], is_list: bool, counts: dict[KeyPath, int]) -> KeyPath:
    path: KeyPath = ()
    inner: Any = content
    while isinstance(inner, dict) and inner:
        (key, inner) = next(iter(inner.items()))
        path = (*path, key)
        last = not inner or isinstance(inner, list)
        if last and is_list:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
        if last:
            break
    return path


def _note_lines(
    content: Any, path: KeyPath, first: int, statement: list[str], lines: dict[KeyPath, int]
) -> None:
    if path and path not in lines:
        lines[path] = first
    if isinstance(content, dict):
        for key, value in content.items():
            _note_lines(value, (*path, key), first, statement, lines)
    elif isinstance(content, list):
        starts = _item_starts(statement, len(content), first)
        for index, value in enumerate(content):
            lines[(*path, index)] = starts[index]
            _note_lines(value, (*path, index), starts[index], [], lines)


def _item_starts(statement: list[str], count: int, first: int) -> list[int]:
    """The line of each item of a list that runs over several lines."""
    starts: list[int] = []
    for offset in range(len(statement)):
        text = "\n".join(statement[: offset + 1]).rstrip().rstrip(",")
        try:
            (value,) = tomllib.loads(text + "\n]").values()
        except (tomllib.TOMLDecodeError, ValueError):
            continue
        if isinstance(value, list):
            starts += [first + offset] * (min(len(value), count) - len(starts))
    return starts + [first + max(len(statement) - 1, 0)] * (count - len(starts))


def parse_model(
    model: type[_Model], data: Mapping[str, Any], lines: Lines, *, shown_as: str
) -> tuple[_Model | None, list[Problem]]:
    """The validated model, or None and every mistake."""
    try:
        return model.model_validate(data), []
    except ValidationError as error:
        return None, problems_from(error, lines, shown_as=shown_as, root_model=model)


def problems_from(
    error: ValidationError, lines: Lines, *, shown_as: str, root_model: type[BaseModel]
) -> list[Problem]:
    """One sentence for each mistake that pydantic found."""
    found: dict[KeyPath, Problem] = {}
    for detail in error.errors(include_url=False):
        path, model = _walk(root_model, detail["loc"])
        line = line_of(path, lines)
        problem = _problem(dict(detail), path, model, line, shown_as)
        found.setdefault(path, problem)
    deepest = [path for path in found if not any(other[: len(path)] == path != other for other in found)]
    return sorted((found[path] for path in deepest), key=lambda problem: problem.line or 0)


def line_of(path: KeyPath, lines: Lines) -> int | None:
    """The line of a key, or of the nearest table around it."""
    for end in range(len(path), 0, -1):
        if path[:end] in lines:
            return lines[path[:end]]
    return None


def models_in(annotation: Any) -> list[type[BaseModel]]:
    """The tables that a setting of this type may hold."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for argument in get_args(annotation) for model in models_in(argument)]


def _walk(root: type[BaseModel], loc: tuple[Any, ...]) -> tuple[KeyPath, type[BaseModel] | None]:
    """The path as the person wrote it, without names of union branches, and the model its last key is of."""
    path: KeyPath = ()
    owner: type[BaseModel] | None = root
    inner: type[BaseModel] | None = root
    branches: set[str] = set()
    for part in loc:
        if isinstance(part, str) and (part in branches or part.startswith("function-before[")):
            continue
        path = (*path, part)
        if isinstance(part, int):
            continue
        owner = inner
        field = _field(owner, part) if owner is not None else None
        if field is None:
            break
        models = models_in(field.annotation)
        branches = _branch_names(field.annotation)
        inner = models[0] if models else None
    return path, owner


def _branch_names(annotation: Any) -> set[str]:
    names = {"str", "bool", "int", "float", "is-instance", "function-plain"}
    if get_origin(annotation) in (Union, type(int | str)):
        names |= {model.__name__ for model in models_in(annotation)}
    return names


def _field(model: type[BaseModel], alias: str) -> Any:
    for name, field in model.model_fields.items():
        if (field.alias or name) == alias:
            return field
    return None


def _meaning(model: type[BaseModel], alias: str) -> str:
    names = (name for name, field in model.model_fields.items() if (field.alias or name) == alias)
    return meanings(model).get(next(names, ""), "")


def setting_names(model: type[BaseModel]) -> list[str]:
    """The words a person may write in a table."""
    return [field.alias or name for name, field in model.model_fields.items()]


def _dotted(path: KeyPath) -> str:
    return ".".join(str(part) for part in path if not isinstance(part, int))


_MUST = {
    "missing": "must be given",
    "string_type": "must be text in quotes",
    "string_too_short": "must not be empty",
    "string_too_long": "must be at most {max_length} characters",
    "bool_type": "must be true or false",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "float_type": "must be a number",
    "float_parsing": "must be a number",
    "greater_than_equal": "must be at least {ge}",
    "less_than_equal": "must be at most {le}",
    "greater_than": "must be more than {gt}",
    "less_than": "must be less than {lt}",
    "tuple_type": "must be a list in [brackets]",
    "list_type": "must be a list in [brackets]",
    "dict_type": "must be a table",
    "model_type": "must be a table",
}


def _problem(
    detail: dict[str, Any], path: KeyPath, model: type[BaseModel] | None, line: int | None, shown_as: str
) -> Problem:
    name, kind, value = _dotted(path), detail["type"], detail.get("input")
    context = detail.get("ctx", {})
    shown = "" if isinstance(value, dict | list | tuple) or value is None else f"not {_as_written(value)}"
    if kind == "extra_forbidden":
        return Problem(
            shown_as,
            line,
            f'"{path[-1]}" must be a setting of {_dotted(path[:-1]) or "the file"}',
            "it is not",
            did_you_mean(str(path[-1]), setting_names(model) if model else []),
        )
    if kind == "value_error":
        must, _, found = str(context["error"]).rpartition(", not ")
        return Problem(shown_as, line, f"{name} must be {must or found}", f"not {found}" if must else "")
    if kind == "literal_error":
        choices = re.findall(r"'([^']*)'", str(context["expected"]))
        return Problem(
            shown_as,
            line,
            f"{name} must be one of {', '.join(choices)}",
            shown,
            did_you_mean(str(value), choices),
        )
    if kind == "missing":
        meaning = _meaning(model, str(path[-1])) if model else ""
        todo = f"It is: {meaning}." if meaning else ""
        return Problem(shown_as, line, f"{name} must be given", "it is missing", todo)
    must = _MUST.get(kind, "must be right: " + str(detail.get("msg", kind)).lower())
    return Problem(shown_as, line, f"{name} {must.format(**context)}", shown)


def _as_written(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else str(value)
