"""Documents that are made from the code have not drifted from it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import click
import pytest

from planbuilder.cli import cli
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


@pytest.mark.parametrize(("name", "make"), [("settings", settings_table), ("commands", command_table)])
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
