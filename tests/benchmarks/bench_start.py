"""How long the program takes to start and to build, as ratios against its own libraries in the same run."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
ROUNDS = 7

pytestmark = pytest.mark.benchmark


def cpu_s(*command: str | Path) -> float:
    """CPU seconds of a whole process, user and system."""
    before = os.times()
    subprocess.run(command, check=True, capture_output=True)
    after = os.times()
    used = (after.children_user + after.children_system) - (before.children_user + before.children_system)
    return float(used)


def ratio(one: list[str | Path], other: list[str | Path]) -> tuple[float, float, float]:
    """Median CPU seconds of both commands, run in turn after one round to warm up, and the median ratio."""
    pairs = [(cpu_s(*one), cpu_s(*other)) for _ in range(ROUNDS + 1)][1:]
    return (
        statistics.median(first for first, _ in pairs),
        statistics.median(second for _, second in pairs),
        statistics.median(first / second for first, second in pairs),
    )


def test_help_against_importing_click(capsys: pytest.CaptureFixture[str]) -> None:
    program = Path(sys.executable).parent / "planbuilder"
    mine, bare, times = ratio([program, "--help"], [sys.executable, "-c", "import click"])
    with capsys.disabled():
        print(f"\nplanbuilder --help {mine:.3f} s, import click {bare:.3f} s: {times:.2f} times (aim 3)")


def test_build_against_importing_the_libraries(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    program = Path(sys.executable).parent / "planbuilder"
    block = ROOT / "demo_plans" / "late-climb-half"
    mine, bare, times = ratio(
        [program, "build", block, "--out", tmp_path / "out"],
        [sys.executable, "-c", "import pandas, numpy, icalendar, jinja2, gpxpy, click"],
    )
    with capsys.disabled():
        print(f"\nbuild of one runner {mine:.3f} s, imports {bare:.3f} s: {times:.2f} times (aim 2)")
