"""The reference of block.toml, made from the settings: a table for people, a schema for editors."""

from __future__ import annotations

import datetime as dt
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from planbuilder.settings.edit_models import EDITS, Skip
from planbuilder.settings.meanings import meanings
from planbuilder.settings.models import BlockSettings, ClubSettings
from planbuilder.settings.toml_lines import models_in

_TABLES = {
    "race": "[race]",
    "course": "course = { … }",
    "point": "[[race.point]]",
    "stretch": "[[race.stretch]]",
    "note": "[[race.note]]",
    "station": "[[race.station]]",
    "wording": "[[race.wording]]",
    "conditions": "[race.conditions]",
    "wind": "[[race.conditions.wind]]",
    "training": "[training]",
    "club_nights": "training.club_nights = [{ … }]",
    "tune_ups": "tune_ups = [{ … }]",
    "runner": "[[runner]]",
    "results": "runner.results = [{ … }]",
    "injuries": "runner.injuries = [{ … }]",
    "treadmill": "runner.treadmill = { … }",
    "away": "runner.away = [{ … }]",
}


def block_schema() -> dict[str, Any]:
    """JSON Schema of block.toml; editors that know TOML complete and check with it."""
    made = BlockSettings.model_json_schema(by_alias=True)
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema", **made, "title": "block.toml"}
    _explain(schema, BlockSettings, set())
    return schema


def _explain(schema: dict[str, Any], model: type[BaseModel], seen: set[type[BaseModel]]) -> None:
    """Put the meaning of every setting into the schema of its table."""
    if model in seen:
        return
    seen.add(model)
    table = schema if model is BlockSettings else schema["$defs"][model.__name__]
    for name, field in model.model_fields.items():
        table["properties"][field.alias or name]["description"] = meanings(model).get(name, "")
        for inner in models_in(field.annotation):
            _explain(schema, inner, seen)


def settings_table() -> str:
    """Every setting with its default and meaning, as Markdown, in the order of the file."""
    parts: list[str] = []
    seen: set[type[BaseModel]] = set()
    for root in (BlockSettings, ClubSettings):
        _describe(root, "club.toml" if root is ClubSettings else "", parts, seen)
    return "\n".join([*parts, *_edits()])


def _edits() -> list[str]:
    """The words of edits.toml: those of every edit, then what each ``do`` has besides."""
    shared = [name for name in Skip.model_fields if name not in ("do", "session")]
    rows = [f"| `{name}` | {_default(Skip.model_fields[name])} | {_meaning(Skip, name)} |" for name in shared]
    found = [
        "**`edits.toml`: every `[[edit]]`**",
        "",
        "| setting | default | meaning |",
        "|---|---|---|",
        *rows,
    ]
    found += ["", "**what it does**", "", "| `do` | setting | default | meaning |", "|---|---|---|---|"]
    for do, model in EDITS.items():
        found.append(f"| `{do}` | | | {(model.__doc__ or '').splitlines()[0]} |")
        found += [
            f"| | `{field.alias or name}` | {_default(field)} | {_meaning(model, name)} |"
            for name, field in model.model_fields.items()
            if name not in (*shared, "do")
        ]
    return [*found, ""]


def _describe(model: type[BaseModel], heading: str, parts: list[str], seen: set[type[BaseModel]]) -> None:
    if model in seen:
        return
    seen.add(model)
    inner: list[tuple[str, type[BaseModel]]] = []
    rows: list[str] = []
    for name, field in model.model_fields.items():
        word = field.alias or name
        models = models_in(field.annotation)
        inner += [(_TABLES.get(word, word), found) for found in models]
        rows.append(f"| `{word}` | {_default(field)} | {_meaning(model, name)} |")
    if heading:
        parts += [f"**`{heading}`**", "", "| setting | default | meaning |", "|---|---|---|", *rows, ""]
    for title, found in inner:
        _describe(found, title, parts, seen)


def _meaning(model: type[BaseModel], name: str) -> str:
    return meanings(model).get(name, "").replace("|", "\\|")


def _default(field: FieldInfo) -> str:
    value = field.get_default(call_default_factory=True) if not field.is_required() else None
    if field.is_required():
        return "required"
    if value in (None, "", (), {}) or isinstance(value, BaseModel):
        return "–"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, dt.time):
        return f"`{value:%H:%M}`"
    if isinstance(value, tuple):
        return ", ".join(value)
    return f"`{value}`"
