"""The wheel holds what the checkout holds, and works where no checkout is near."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(ROOT)],
        check=True,
        capture_output=True,
        text=True,
    )
    (found,) = folder.glob("*.whl")
    return found


def test_the_wheel_holds_every_module_template_and_table(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    kinds = (".py", ".toml", ".json", ".typed")
    package = {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "planbuilder").rglob("*")
        if path.suffix in kinds
    }
    pages = {f"planbuilder/{path.relative_to(ROOT).as_posix()}" for path in (ROOT / "templates").rglob("*.*")}
    assert pages
    assert package <= names
    assert pages <= names


def test_the_wheel_builds_a_demo_block_in_an_empty_environment(wheel: Path, tmp_path: Path) -> None:
    place = tmp_path / "empty"
    base = Path(sys.base_prefix) / "bin" / "python3"
    run: dict[str, Any] = {"capture_output": True, "text": True, "check": False, "cwd": tmp_path}
    subprocess.run([base, "-m", "venv", "--without-pip", place], check=True)
    installed = subprocess.run(
        [base, "-m", "pip", "--python", place, "install", "--quiet", "--no-warn-script-location", wheel],
        **run,
    )
    if installed.returncode and not os.environ.get("CI"):
        pytest.skip(f"the libraries cannot be installed here: {installed.stderr[-200:]}")
    assert installed.returncode == 0, installed.stderr
    block, out = ROOT / "demo_plans" / "late-climb-half", tmp_path / "out"
    built = subprocess.run([place / "bin" / "planbuilder", "build", block, "--out", out], **run)
    assert built.returncode == 0, built.stderr
    assert (out / "maren-t" / "plan.html").stat().st_size > 10_000
    assert (out / "maren-t" / "plan.json").exists()
