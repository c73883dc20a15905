"""The JSON outputs fit their published schemas."""

from __future__ import annotations

import json
from importlib import resources
from typing import Any

import jsonschema
import pytest

from planbuilder.outputs.json_files import plan_json, race_json, to_text, why_json
from tests.outputs.sample_plan import sample_plan


def schema(name: str) -> dict[str, Any]:
    text = resources.files("planbuilder.outputs").joinpath("schemas", f"{name}.schema.json").read_text()
    found: dict[str, Any] = json.loads(text)
    return found


@pytest.mark.parametrize("name", ["plan", "race", "course"])
def test_each_schema_is_itself_valid(name: str) -> None:
    jsonschema.Draft202012Validator.check_schema(schema(name))


@pytest.mark.parametrize("units", ["km", "mi"])
def test_a_plan_and_a_race_fit_their_schemas(units: Any) -> None:
    plan = sample_plan(units=units)
    data = json.loads(to_text(plan_json(plan, {"plan.html": b"page"})))
    jsonschema.validate(data, schema("plan"), format_checker=jsonschema.FormatChecker())
    jsonschema.validate(json.loads(to_text(race_json([plan]))), schema("race"))


def test_units_change_sentences_and_no_number() -> None:
    def numbers(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: numbers(inner) for key, inner in value.items()}
        if isinstance(value, list):
            return [numbers(inner) for inner in value]
        return value if isinstance(value, int | float) else None

    assert numbers(plan_json(sample_plan(units="km"))) == numbers(plan_json(sample_plan(units="mi")))


def test_no_mark_and_no_health_leaves_the_house() -> None:
    plan = sample_plan(units="mi")
    text = to_text(plan_json(plan)) + to_text(why_json((plan, session) for session in plan.sessions))
    for mark in ("{d:", "{l:", "{at:", "{h:", "{p:", "{pb:"):
        assert mark not in text
    assert "private" not in text


def test_the_digests_are_those_of_the_siblings() -> None:
    """SHA-256 of "abc": FIPS 180-4, example B.1."""
    data = plan_json(sample_plan(units="km"), {"plan.csv": b"abc"})
    assert data["files"] == {"plan.csv": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"}
