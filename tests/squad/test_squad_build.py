"""Building a squad: the same bytes on any number of cores, nothing half-written, nothing done twice."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import random
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from planbuilder import delivery, pipeline
from planbuilder.block import read_block
from planbuilder.outputs.kept import read_kept
from planbuilder.schedule import make_schedule
from tests.interrupts import hear_ctrl_c
from tests.squad.squads import FIRST_DAY, rows_of, write_roster, write_squad

COUNT = 5


@pytest.fixture(scope="module")
def squad(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_squad(tmp_path_factory.mktemp("squad"), COUNT, seed=11)


@pytest.fixture(scope="module")
def built(squad: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    out = tmp_path_factory.mktemp("out")
    list(delivery.build(read_block(squad), out, jobs=1))
    return contents(out)


def contents(out: Path) -> dict[str, bytes]:
    return {
        path.relative_to(out).as_posix(): path.read_bytes()
        for path in out.rglob("*")
        if path.is_file() and not path.name.endswith(".part")
    }


def cli(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "planbuilder.cli", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_any_number_of_workers_writes_the_same_bytes(
    squad: Path, built: dict[str, bytes], tmp_path: Path
) -> None:
    names = [one.name for one in delivery.build(read_block(squad), tmp_path, jobs=3)]
    assert contents(tmp_path) == built
    assert names == [runner.settings.name for runner in read_block(squad).runners]


def test_weeks_that_stand_from_the_club_nights_are_those_planned_afresh(squad: Path) -> None:
    block = read_block(squad)
    prepared = pipeline.prepare(block, block.runners)
    assert prepared.settled.keys() == {runner.key for runner in block.runners}
    for runner in block.runners:
        settled = prepared.settled_for(runner)
        assert settled is not None
        request = pipeline.request_for(prepared.block, prepared.ground, runner)
        assert settled.schedule == make_schedule(request)


def test_weeks_stand_only_for_a_runner_who_is_as_the_block_says(squad: Path) -> None:
    block = read_block(squad)
    prepared = pipeline.prepare(block, block.runners)
    runner = block.runners[0]
    older = replace(runner, settings=runner.settings.model_copy(update={"age": 71}))
    assert prepared.settled_for(older) is None


def test_plan_json_vouches_for_its_siblings(built: dict[str, bytes]) -> None:
    plans = [name for name in built if name.endswith("/plan.json")]
    assert len(plans) == COUNT
    for name in plans:
        for sibling, digest in json.loads(built[name])["files"].items():
            data = built[name.replace("plan.json", sibling)]
            assert hashlib.sha256(data).hexdigest() == digest


def test_what_has_not_changed_is_left_alone_and_the_rest_is_built(squad: Path, tmp_path: Path) -> None:
    folder, out = tmp_path / "block", tmp_path / "out"
    write_squad(folder, COUNT, seed=11)
    list(delivery.build(read_block(folder), out, jobs=1))
    again = list(delivery.build(read_block(folder), out, jobs=1, changed=True))
    assert all(one.skipped for one in again)
    rows = rows_of(COUNT, 11)
    rows[2]["units"] = "km" if rows[2]["units"] == "mi" else "mi"
    write_roster(folder / "roster.csv", rows)
    after = list(delivery.build(read_block(folder), out, jobs=1, changed=True))
    assert [one.skipped for one in after] == [True, True, False, True, True]
    rows[2]["longest run"] = "11 km"  # in so small a squad this may change what the nights propose to all
    write_roster(folder / "roster.csv", rows)
    after = list(delivery.build(read_block(folder), out, jobs=1, changed=True))
    assert not after[2].skipped
    fresh = tmp_path / "fresh"
    list(delivery.build(read_block(folder), fresh, jobs=1))
    assert contents(out) == contents(fresh)


@pytest.mark.parametrize("harm", ["cut", "gone", "plan cut"])
def test_a_folder_that_disagrees_with_its_digests_is_repaired(
    squad: Path, built: dict[str, bytes], tmp_path: Path, harm: str
) -> None:
    list(delivery.build(read_block(squad), tmp_path, jobs=1))
    key = read_block(squad).runners[1].key
    file = tmp_path / key / ("plan.json" if harm == "plan cut" else "plan.ics")
    if harm == "gone":
        file.unlink()
    else:
        file.write_bytes(file.read_bytes()[:1000])
    found = list(delivery.build(read_block(squad), tmp_path, jobs=1, changed=True))
    assert [one.skipped for one in found] == [True, False, True, True, True]
    assert contents(tmp_path) == built


def test_a_broken_memory_of_the_last_build_means_building_all(squad: Path, tmp_path: Path) -> None:
    (tmp_path / "coach.json").write_text('{"version": 1, "runners": [{"row": {}}]}')
    assert read_kept(tmp_path) == {}


@pytest.mark.parametrize("moment", [0.35, 0.6, 0.85])
def test_killed_at_any_moment_every_file_is_whole_and_the_next_build_mends(
    squad: Path, built: dict[str, bytes], tmp_path: Path, moment: float
) -> None:
    _killed(squad, built, tmp_path, moment)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(20))
def test_killed_at_twenty_random_moments_every_file_is_whole_and_the_next_build_mends(
    squad: Path, built: dict[str, bytes], tmp_path: Path, seed: int
) -> None:
    _killed(squad, built, tmp_path, random.Random(seed).uniform(0.1, 1.0))


def _killed(squad: Path, built: dict[str, bytes], out: Path, moment: float) -> None:
    """Kill a build when a share of its files stands, over an older build whose files differ."""
    older = {name: data + b"\n" for name, data in built.items()}
    for name, data in older.items():
        path = out / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    command = [sys.executable, "-m", "planbuilder.cli", "build", str(squad), "--out", str(out), "--jobs", "1"]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    wanted = moment * len(built)
    while process.poll() is None:
        if sum((out / name).stat().st_size == len(built[name]) for name in built) >= wanted:
            break
        time.sleep(0.003)
    process.kill()
    process.wait()
    for name, data in contents(out).items():
        assert data in (built[name], older[name]), f"{name} is neither the old file nor the new one"
    list(delivery.build(read_block(squad), out, jobs=1, changed=True))
    assert contents(out) == built


def building(folder: Path, out: Path) -> subprocess.Popen[str]:
    """A build of forty runners in a session of its own, on two workers, once a first plan is written."""
    write_squad(folder, 40, seed=12)
    process = subprocess.Popen(
        [sys.executable, "-m", "planbuilder.cli", "build", folder, "--out", out, "--jobs", "2"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        preexec_fn=hear_ctrl_c,
    )
    until = time.monotonic() + 60
    while not list(out.rglob("plan.json")) and time.monotonic() < until:
        time.sleep(0.05)
    return process


@pytest.mark.skipif(os.name != "posix", reason="signals")
def test_ctrl_c_ends_the_workers_and_leaves_nothing_half_written(tmp_path: Path) -> None:
    out = tmp_path / "out"
    process = building(tmp_path / "block", out)
    os.killpg(process.pid, signal.SIGINT)
    _, said = process.communicate(timeout=30)
    assert process.returncode == 130
    assert said.strip().splitlines()[-1] == "Stopped; what was written before is whole."
    assert "Traceback" not in said
    for path in out.rglob("plan.json"):
        json.loads(path.read_text("utf-8"))
    with pytest.raises(ProcessLookupError, match="No such process"):
        os.killpg(process.pid, 0)


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs a list of processes")
def test_workers_end_when_the_one_they_work_for_is_killed(tmp_path: Path) -> None:
    with building(tmp_path / "block", tmp_path / "out") as process:
        process.kill()
    until = time.monotonic() + 15
    while _lives(process.pid) and time.monotonic() < until:
        time.sleep(0.1)
    living = _lives(process.pid)
    if living:
        os.killpg(process.pid, signal.SIGKILL)
    assert not living


def _lives(group: int) -> bool:
    """Whether a process of the group runs; one that only waits to be reaped does not."""
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            state, _, its_group = stat.read_text().rpartition(")")[2].split()[:3]
        except OSError:
            continue  # it ended meanwhile
        if int(its_group) == group and state not in "ZX":
            return True
    return False


def test_bad_rows_stop_a_build_unless_they_may_be_left_out(tmp_path: Path) -> None:
    folder = write_squad(tmp_path / "block", 3, seed=13)
    rows = rows_of(3, 13)
    rows[1]["weekly distance"] = "lots"
    rows[1]["days"] = "never"  # two mistakes in one row
    write_roster(folder / "roster.csv", rows)
    refused = cli("build", folder, "--out", tmp_path / "a")
    assert refused.returncode == 2
    assert "roster.csv:3" in refused.stderr
    built = cli("build", folder, "--out", tmp_path / "b", "--skip-bad")
    assert built.returncode == 0
    assert "roster.csv:3" in built.stderr
    assert "Built 2 plans" in built.stdout
    assert "1 row left out" in built.stdout


def test_a_plan_with_a_refusal_is_built_and_the_coachs_page_is_named(tmp_path: Path) -> None:
    folder = write_squad(tmp_path / "block", 2, seed=13)
    rows = rows_of(2, 13)
    rows[0]["screening"] = "needed"
    write_roster(folder / "roster.csv", rows)
    out = tmp_path / "out"
    last = cli("build", folder, "--out", out).stdout.splitlines()[-1]
    assert last == f"Built 2 plans in {out}, 1 with a refusal (see {out / 'coach.html'})."
    alone = cli("build", folder, "--out", out, "--runner", rows[0]["name"]).stdout.splitlines()[-1]
    assert alone == f"Built 1 plan in {out}, 1 with a refusal."


def test_a_proposed_night_is_shown_and_written_down_once_accepted(tmp_path: Path) -> None:
    folder = write_squad(tmp_path / "block", 4, seed=14, nights={FIRST_DAY.replace(day=26): "20 min tempo"})
    typed = cli("night", folder, "2027-01-26")
    assert "as typed" in typed.stdout
    shown = cli("night", folder, "2027-02-02")
    assert "(proposed)" in shown.stdout
    line = shown.stdout.splitlines()[1].strip()
    accepted = cli("night", folder, "2027-02-02", "--accept")
    assert "Wrote it down in" in accepted.stdout
    assert f'2027-02-02 = "{line}"' in (folder / "club.toml").read_text("utf-8")
    assert "as typed" in cli("night", folder, "2027-02-02").stdout
    wrong = cli("night", folder, "2027-02-03")
    assert wrong.returncode == 2
    assert "must be a club night" in wrong.stderr


def test_the_board_as_a_table_has_a_line_for_each_runner_and_week(built: dict[str, bytes]) -> None:
    rows = list(csv.reader(built["board.csv"].decode("utf-8-sig").splitlines()))
    assert rows[0] == [
        "runner",
        "week of",
        "Monday",
        "Tuesday",
        "Wednesday",
        "Thursday",
        "Friday",
        "Saturday",
        "Sunday",
    ]
    assert len(rows) == 1 + COUNT * (16 + 2), "the block, and two weeks after the race"


def test_one_board_over_two_blocks_names_the_race_of_each_runner(tmp_path: Path) -> None:
    one, two = write_squad(tmp_path / "one", 2, seed=15), write_squad(tmp_path / "two", 2, seed=16)
    other = (two / "block.toml").read_text("utf-8").replace("Withy Fen Half", "Alder Moor Half")
    (two / "block.toml").write_text(other, "utf-8")
    done = cli("board", one, two, "--out", tmp_path / "board.html")
    assert done.returncode == 0, done.stderr
    page = (tmp_path / "board.html").read_text("utf-8")
    assert "Withy Fen Half" in page
    assert "Alder Moor Half" in page
    assert "4 runners" in page
