"""What the rehearse command prints, and that nothing in it can place a route on a map."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
DEMOS = ROOT / "demo_plans"


def run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "planbuilder.cli", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.fixture
def block(tmp_path: Path) -> Path:
    """A squad whose routes are the two demo courses, one of them a runner's own."""
    folder = Path(shutil.copytree(DEMOS / "rolling-10k", tmp_path / "block"))
    (folder / "routes" / "bea-k").mkdir(parents=True)
    shutil.copy(DEMOS / "late-climb-half" / "course.gpx", folder / "routes" / "boatyard loop.gpx")
    shutil.copy(DEMOS / "rolling-10k" / "course.gpx", folder / "routes" / "bea-k" / "lanes behind home.gpx")
    return folder


def test_every_stretch_of_the_race_has_an_answer_or_an_honest_no(block: Path) -> None:
    result = run("rehearse", block)
    assert result.returncode == 0, result.stderr
    assert "1 route searched" in result.stdout
    assert "boatyard loop" in result.stdout
    assert "on the treadmill" in result.stdout  # one of the squad has no hills near home


def test_a_route_that_is_the_race_is_found_where_it_is(block: Path) -> None:
    data = json.loads(run("rehearse", block, block / "routes" / "bea-k", "--json").stdout)
    climb = data["grounds"][0]
    best = climb["matches"][0]
    assert best["route"] == "lanes behind home"
    assert best["rms_cost_percent"] < 1
    assert abs(best["from_m"] - climb["start_m"]) < 60


def test_a_runners_own_routes_stay_their_own(block: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run("build", block, "--out", out)
    assert result.returncode == 0, result.stderr
    for path in out.rglob("*"):
        if path.is_file() and path.parent.name != "bea-k":
            assert b"lanes behind home" not in path.read_bytes(), path
    assert (out / "jonah-p" / "treadmill.csv").read_text("utf-8-sig").startswith("start_s,duration_s,part")


def test_no_coordinate_leaves_the_block(block: Path, tmp_path: Path) -> None:
    """The demo courses lie near 38 to 40 degrees south and 21 to 25 degrees west, in the open sea."""
    out = tmp_path / "out"
    run("build", block, "--out", out)
    texts = [run("rehearse", block, "--json").stdout, run("rehearse", block).stdout]
    texts += [path.read_text("utf-8") for path in out.rglob("*") if path.is_file()]
    for text in texts:
        for start in ("-38.4", "-40.1", "-21.3", "-24.8"):
            assert start not in text


def test_no_route_at_all_is_told(block: Path, tmp_path: Path) -> None:
    (tmp_path / "nothing").mkdir()
    result = run("rehearse", block, tmp_path / "nothing")
    assert result.returncode == 2
    assert "there must be a route to search, none was found" in result.stderr
