"""The house rules: format, lint, types, directions, names. The same on every machine, and in the same run."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "planbuilder"


def run(*command: str) -> None:
    result = subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert result.returncode == 0, result.stdout + result.stderr


def test_the_code_is_formatted() -> None:
    run("ruff", "format", "--check", ".")


def test_the_linter_has_nothing_to_say() -> None:
    run("ruff", "check", ".")


def test_the_types_hold_strictly() -> None:
    run("mypy")


def test_imports_go_one_way() -> None:
    result = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 0, result.stdout + result.stderr


def test_the_top_level_holds_what_it_should() -> None:
    tracked = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.split("\n")
    if not tracked[0]:
        pytest.skip("not a git checkout")
    top = {name.split("/")[0] for name in tracked if name and not name.startswith(".")}
    assert top == {
        *("pyproject.toml", "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE"),
        *("planbuilder", "templates", "tests", "demo_plans"),
    }


QUANTITIES = {
    *("distance", "length", "height", "ascent", "descent", "gain", "pace", "time", "duration", "speed"),
    *("altitude", "temperature", "clock", "elevation"),
}


def test_quantities_carry_their_unit_in_their_name() -> None:
    """``distance`` alone does not say metres; ``distance_m`` does. What people typed with a unit is text."""
    bare = [
        f"{path.relative_to(ROOT)}:{argument.lineno} {argument.arg}"
        for path in PACKAGE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.FunctionDef)
        for argument in (*node.args.args, *node.args.kwonlyargs)
        if argument.arg in QUANTITIES
        and argument.annotation is not None
        and "float" in ast.unparse(argument.annotation)
    ]
    assert not bare


def test_every_room_says_what_it_receives_and_gives() -> None:
    rooms = [path for path in PACKAGE.iterdir() if path.is_dir() and (path / "__init__.py").exists()]
    assert len(rooms) >= 12
    for room in rooms:
        doc = ast.get_docstring(ast.parse((room / "__init__.py").read_text())) or ""
        if room.name in ("physiology", "plan"):  # formulas and types: nothing flows through them
            assert doc, room.name
        else:
            assert "Receives:" in doc, room.name
            assert "Gives:" in doc, room.name
