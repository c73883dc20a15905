"""Documents that are made from the code have not drifted from it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import click
import pytest

from planbuilder.block.roster import HEADERS, read_roster
from planbuilder.cli import cli
from planbuilder.course import read_course_file
from planbuilder.rules.library import load_library
from planbuilder.settings.limits import default_limits
from planbuilder.settings.meanings import meanings
from planbuilder.settings.models import RunnerSettings
from planbuilder.settings.reference import block_schema, settings_table

ROOT = Path(__file__).parent.parent
BLOCK_SCHEMA = ROOT / "planbuilder" / "settings" / "block.schema.json"


def command_table() -> str:
    """The commands with their first line of help, as Markdown."""
    context = click.Context(cli)
    rows = [
        f"| `{' '.join(['planbuilder', name, *command.collect_usage_pieces(context)[1:]])}` "
        f"| {command.get_short_help_str(limit=200)} |"
        for name, command in cli.commands.items()
    ]
    return "\n".join(["| command | what it does |", "|---|---|", *rows, ""])


def kinds_table() -> str:
    """Every kind of session that the program has, as Markdown."""
    rows = [f"| `{kind.name}` | {kind.title} | {kind.purpose} |" for kind in load_library()]
    return "\n".join(["| name | title | what it is for |", "|---|---|---|", *rows, ""])


def roster_table() -> str:
    """The columns of a roster, with the other headings that are read as the same."""
    said = meanings(RunnerSettings)
    names = {field.alias or name: name for name, field in RunnerSettings.model_fields.items()}
    rows = [
        f"| `{words[0]}` | {', '.join(words[1:]) or '–'} | {said[names[setting]]} |"
        for setting, words in HEADERS.items()
    ]
    return "\n".join(["| column | or headed | meaning |", "|---|---|---|", *rows, ""])


@pytest.mark.parametrize(
    ("name", "make"),
    [
        ("settings", settings_table),
        ("commands", command_table),
        ("kinds", kinds_table),
        ("roster", roster_table),
    ],
)
def test_the_readme_says_what_the_code_says(
    name: str, make: Callable[[], str], request: pytest.FixtureRequest
) -> None:
    path = ROOT / "README.md"
    readme = path.read_text()
    section = re.compile(rf"(<!-- {name}: made from the code -->\n).*?(<!-- {name}: end -->)", re.S)
    assert section.search(readme), f"README.md has no section {name}"
    fresh = section.sub(lambda found: f"{found[1]}{make()}{found[2]}", readme)
    if request.config.getoption("--accept"):
        path.write_text(fresh)
    assert path.read_text() == fresh, "README.md has drifted: run pytest --accept tests/test_docs.py"


def test_the_schema_of_the_block_file_says_what_the_settings_say(request: pytest.FixtureRequest) -> None:
    fresh = json.dumps(block_schema(), indent=2, ensure_ascii=False) + "\n"
    if request.config.getoption("--accept"):
        BLOCK_SCHEMA.write_text(fresh)
    assert BLOCK_SCHEMA.read_text() == fresh, (
        "block.schema.json has drifted: run pytest --accept tests/test_docs.py"
    )


def test_every_setting_says_what_it_means() -> None:
    rows = [row for row in settings_table().splitlines() if row.startswith("| `")]
    assert len(rows) > 60
    assert not [row for row in rows if row.endswith("|  |")]


def readme_example(language: str, first: str) -> str:
    found = re.search(rf"```{language}\n({re.escape(first)}.*?)```", (ROOT / "README.md").read_text(), re.S)
    assert found, f"README.md has no example that begins with {first}"
    return found[1]


def test_the_files_that_the_readme_shows_are_read_as_they_stand(tmp_path: Path) -> None:
    roster = tmp_path / "roster.csv"
    roster.write_text(readme_example("csv", "name,"), "utf-8")
    found = read_roster(roster, shown_as="roster.csv")
    assert not found.problems
    (runner,) = found.runners
    assert [result.course for result in runner.results] == ["flat", "hilly"]
    course = tmp_path / "course.csv"
    course.write_text(readme_example("csv", "mile,"), "utf-8")
    assert read_course_file(course, shown_as="course.csv", limits=default_limits()).known
    sessions = tmp_path / "sessions.toml"
    sessions.write_text(readme_example("toml", "[threshold_run]"), "utf-8")
    assert load_library(sessions).template("threshold_run").cue == "comfortably hard, along the canal"
