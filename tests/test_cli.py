"""The commands as a coach types them: what they print, what they refuse, what they leave behind."""

from __future__ import annotations

import hashlib
import json
import os
import re
import resource
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

from planbuilder.cli import main
from tests.interrupts import hear_ctrl_c
from tests.outputs.test_json_files import schema

ROOT = Path(__file__).parent.parent
DEMOS = ROOT / "demo_plans"
HALF = DEMOS / "late-climb-half"


def run(
    *arguments: str | Path, typed: str | None = None, before: Callable[[], None] | None = None
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "planbuilder.cli", *map(str, arguments)],
        input=typed,
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=before,
        env={**os.environ, "COLUMNS": "100"},
    )


@pytest.fixture
def block(tmp_path: Path) -> Path:
    return Path(shutil.copytree(HALF, tmp_path / "block"))


def change(block: Path, old: str, new: str) -> Path:
    path = block / "block.toml"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))
    return block


# What works ---------------------------------------------------------------------------------------------


def test_build_writes_every_file_and_the_digests_of_plan_json_hold(tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run("build", HALF, "--out", out, "--today", "2027-03-01")
    assert result.returncode == 0, result.stderr
    names = {path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()}
    runner = {"plan.html", "plan.ics", "plan.csv", "plan.json", "race-card.html"}
    squad = {"index.html", "board.csv", "coach.html", "coach.json", "course.html"}
    assert names == {*squad, *(f"maren-t/{name}" for name in runner)}
    data = json.loads((out / "maren-t" / "plan.json").read_text())
    jsonschema.validate(data, schema("plan"), format_checker=jsonschema.FormatChecker())
    assert set(data["files"]) == runner - {"plan.json"}
    for name, digest in data["files"].items():
        assert hashlib.sha256((out / "maren-t" / name).read_bytes()).hexdigest() == digest


@pytest.mark.parametrize("demo", sorted(path.name for path in DEMOS.iterdir()))
def test_a_demo_still_builds_years_after_its_race_and_builds_the_same_bytes(
    demo: str, tmp_path: Path
) -> None:
    outs = [tmp_path / "one", tmp_path / "two"]
    for out, today in zip(outs, ("2027-03-01", "2039-07-01"), strict=True):
        result = run("build", DEMOS / demo, "--out", out, "--today", today)
        assert result.returncode == 0, result.stderr
        assert ("the plan is built as it stood" in result.stderr) == (today > "2038")
    files = sorted(path.relative_to(outs[0]) for path in outs[0].rglob("*") if path.is_file())
    assert len(files) > 7
    for file in files:
        assert (outs[0] / file).read_bytes() == (outs[1] / file).read_bytes(), file


def test_json_of_course_and_race_fits_the_schemas() -> None:
    course = run("course", HALF / "course.gpx", "--distance", "half marathon", "--json")
    jsonschema.validate(json.loads(course.stdout), schema("course"))
    race = run("race", DEMOS / "rolling-10k", "--json")
    jsonschema.validate(json.loads(race.stdout), schema("race"))
    assert len(json.loads(race.stdout)["runners"]) == 6


def test_other_inputs_other_outputs(block: Path, tmp_path: Path) -> None:
    """Change the goal, the course or the race date and every output follows."""

    def built(name: str) -> dict[str, bytes]:
        out = tmp_path / name
        assert run("build", block, "--out", out).returncode == 0
        return {path.name: path.read_bytes() for path in out.rglob("*") if path.is_file()}

    first = built("first")
    change(block, 'goal_time = "1:44:00"', 'goal_time = "1:46:30"')
    goal = built("goal")
    changed = {name for name in first if first[name] != goal[name]}
    assert {"plan.html", "plan.json", "race-card.html", "plan.ics"} <= changed
    change(block, "date = 2027-05-23", "date = 2027-05-30")
    dated = built("date")
    assert not {name for name in first if dated[name] == goal[name]} - {"course.html"}
    shutil.copy(DEMOS / "rolling-10k" / "course.gpx", block / "course.gpx")
    change(block, 'course = "course.gpx"\n', 'course = { file = "course.gpx", laps = 2 }\n')
    change(block, 'distance = "half marathon"', 'distance = "20 km"')
    shorter = built("course")
    assert not {name for name in first if shorter[name] == dated[name]}


def test_new_writes_a_block_that_build_accepts_unchanged(tmp_path: Path) -> None:
    folder = tmp_path / "spring"
    result = run(
        *("new", folder, "--no-input", "--race", 'Quarry "Q" Half', "--date", "2027-05-16"),
        *("--distance", "half marathon", "--timezone", "Europe/Lisbon", "--name", "Ines A"),
        *("--result-distance", "10 km", "--result-time", "44:10", "--result-date", "2027-01-17"),
        *("--weekly-distance", "45 km", "--longest-run", "15 km", "--screening", "passed"),
        *("--first-day", "2027-02-22", "--today", "2026-12-01"),
    )
    assert result.returncode == 0, result.stderr
    assert run("build", folder, "--out", tmp_path / "out").returncode == 0
    again = run("new", folder, "--no-input", "--race", "x", "--date", "2027-05-16", "--name", "B")
    assert again.returncode == 2
    text = (folder / "block.toml").read_text()
    assert 'name = "Ines A"' in text


def test_new_asks_in_a_coachs_order_and_takes_its_defaults(tmp_path: Path) -> None:
    answers = ["Quarry Half", "2027-05-16", "", "", "Europe/Lisbon", "", "", "Ines A", "mi", *([""] * 8)]
    result = run("new", tmp_path / "b", "--today", "2026-12-01", typed="\n".join(answers) + "\n")
    assert result.returncode == 0, result.stderr + result.stdout
    order = [
        "Name of the race",
        "Race day",
        "Distance",
        "Clock time",
        "Time zone",
        "Course",
        "First day",
        "First name",
    ]
    places = [result.stdout.index(question) for question in order]
    assert places == sorted(places)
    assert run("build", tmp_path / "b", "--out", tmp_path / "out").returncode == 0


def test_new_takes_a_bare_number_in_the_unit_that_was_chosen(tmp_path: Path) -> None:
    answers = [
        *("Quarry Half", "2027-05-16", "", "", "Europe/Lisbon", "", "", "Ines A", "mi"),
        *("", "", "", "28", "9,5", "", "", ""),
    ]
    result = run("new", tmp_path / "b", "--today", "2026-12-01", typed="\n".join(answers) + "\n")
    assert result.returncode == 0, result.stderr + result.stdout
    text = (tmp_path / "b" / "block.toml").read_text()
    assert 'weekly_distance = "28 mi"' in text
    assert 'longest_run = "9.5 mi"' in text


def test_new_asks_again_after_a_wrong_answer_and_loses_nothing(tmp_path: Path) -> None:
    answers = [
        *("", "Quarry Half", "2020-05-16", "2027-05-16", "", "", "Europe/Lisbon", "", "", "Ines A", "km", ""),
        *("20 miles", "41", "", "", "", "tue thrusday sun", "tue thu sat sun", "sat sun", "sun", "passed"),
    ]
    result = run("new", tmp_path / "b", "--today", "2026-12-01", typed="\n".join(answers) + "\n")
    assert result.returncode == 0, result.stderr + result.stdout
    for sentence in (
        "it must be given; it is missing",
        "it must be a day to come, not 2020-05-16",
        "it must be a whole number from 5 to 100, not '20 miles'",
        'it must be weekdays such as tue thu sat sun, not "thrusday". Did you mean "thursday"?',
        'it must be one weekday such as sunday, not "sat sun"',
    ):
        assert sentence in result.stdout + result.stderr
    text = (tmp_path / "b" / "block.toml").read_text()
    assert 'days = ["tuesday", "thursday", "saturday", "sunday"]' in text
    assert "age = 41" in text


def test_new_refuses_a_race_in_the_past(tmp_path: Path) -> None:
    result = run(
        *("new", tmp_path, "--no-input", "--race", "Q", "--date", "2020-05-16", "--name", "A"),
        *("--distance", "10 km", "--timezone", "Europe/Lisbon", "--today", "2026-12-01"),
    )
    assert result.returncode == 2
    assert result.stderr == "--date: race day must be a day to come, not 2020-05-16.\n"


def test_why_shows_the_chain_and_rules_show_every_number() -> None:
    plan = json.loads(run("why", HALF, "w06-long", "--json").stdout)["sessions"][0]
    result = run("why", HALF, "w06-long")
    assert plan["title"] in result.stdout
    assert "rule:" in result.stdout
    rules = run("rules")
    assert "load.single_run_cap = 1.1 times the longest run" in rules.stdout
    assert "published: Frandsen et al. 2025" in rules.stdout
    assert "bit:" in run("rules", HALF).stdout


def test_check_finds_no_breach_in_a_generated_plan() -> None:
    result = run("check", HALF)
    assert result.returncode == 0, result.stdout
    assert "Maren T: 0 breaches" in result.stdout


# What is refused ----------------------------------------------------------------------------------------

GPX = '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{}</trkseg></trk></gpx>'


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["course", "gone.gpx"], "gone.gpx: "),
        (["course", "."], ".: "),
        (["course", "empty.gpx"], "empty.gpx"),
        (["build", "gone", "--out", "out"], "gone: the block must be a folder with a block.toml"),
        (["buidl", "gone"], 'Did you mean "build"?'),
        (["race", str(HALF), "--goal", "4:50/km"], "not the pace"),
        (["race", str(HALF), "--runner", "Marem"], 'Did you mean "Maren T"?'),
        (["race", str(HALF), "--conditions", "warm"], "--conditions"),
        (["why", str(HALF), "w06-lang"], 'Did you mean "w06-long"?'),
        (["build", str(HALF), "--out", "out", "--today", "tomorrow"], "a date such as 2027-05-16"),
        (["course", str(HALF / "course.gpx"), "--distance", "marathon"], "course.gpx"),
    ],
)
def test_what_is_wrong_is_one_clear_sentence_and_exit_code_2(
    arguments: list[str], sentence: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "empty.gpx").write_text("")
    result = run(*arguments)
    assert result.returncode == 2, result.stdout
    assert sentence in result.stderr
    assert "Traceback" not in result.stderr
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ('name = "Brackwater Half"', "name = Brackwater", "block.toml:5: the file must be valid TOML"),
        ("markers =", "makers =", 'block.toml:12: "makers" must be a setting of race'),
        ('start_time = "09:30"', "start_time = 930", "block.toml:7: race.start_time must be a time of day"),
        ("first_day = 2027-03-01", "first_day = 2027-06-01", "must be before the race"),
        ('goal_time = "1:44:00"', 'goal_time = "1:75:00"', "minutes and seconds below 60"),
        ('goal_time = "1:44:00"', 'goal_time = "4:56/km"', "not the pace"),
        ('course = "course.gpx"', 'course = "../course.gpx"', "must be inside the block folder"),
        (
            'name = "Maren T"',
            'name = "Maren T"\n[[runner]]\nname = "maren t"',
            'must not share the key "maren-t"',
        ),
    ],
)
def test_a_wrong_block_builds_nothing(block: Path, tmp_path: Path, old: str, new: str, sentence: str) -> None:
    result = run("build", change(block, old, new), "--out", tmp_path / "out")
    assert result.returncode == 2
    assert sentence in result.stderr
    assert not (tmp_path / "out").exists()


def test_an_empty_course_and_one_without_heights_are_told_apart(block: Path, tmp_path: Path) -> None:
    (block / "course.gpx").write_text(GPX.format(""))
    result = run("build", block, "--out", tmp_path / "out")
    assert result.returncode == 2
    assert "course.gpx" in result.stderr
    points = "".join(f'<trkpt lat="-38.{400000 + 10 * i}" lon="-21.3"/>' for i in range(19000))
    (block / "course.gpx").write_text(GPX.format(points))
    result = run("course", block / "course.gpx", "--distance", "half marathon")
    assert result.returncode == 0, result.stderr
    assert "height" in result.stdout


# What happens to files ----------------------------------------------------------------------------------


def test_an_output_folder_that_cannot_be_written_is_exit_code_3(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file stands here")
    result = run("build", HALF, "--out", tmp_path / "out")
    assert result.returncode == 3
    assert "could not be written" in result.stderr
    assert (tmp_path / "out").read_text() == "a file stands here"


def test_words_that_nobody_takes_are_no_mistake_of_the_plan() -> None:
    """/dev/full takes no byte; a pipe whose reader has gone has heard enough. Exit code 1 is for breaches."""
    for target, code, said in (
        ("> /dev/full", 3, "standard output: could not be written (No space left on device).\n"),
        ("| head -1 > /dev/null; exit ${PIPESTATUS[0]}", 0, ""),
    ):
        command = f"{sys.executable} -m planbuilder.cli rules --json {target}"
        result = subprocess.run(["bash", "-c", command], capture_output=True, text=True, check=False)
        assert (result.returncode, result.stderr) == (code, said)


def test_what_nobody_foresaw_is_one_sentence_and_exit_code_4(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("planbuilder.pipeline.check_block", lambda *_, **__: 1 / 0)
    monkeypatch.setenv("COLUMNS", "100")
    with pytest.raises(SystemExit) as left:
        main(["check", str(HALF)])
    assert left.value.code == 4
    (sentence,) = capsys.readouterr().err.splitlines()
    assert re.match(
        r"planbuilder: here is a mistake of the program at test_cli\.py:\d+ \(ZeroDivisionError: ", sentence
    )
    assert "PLANBUILDER_TRACE=1" in sentence
    monkeypatch.setenv("PLANBUILDER_TRACE", "1")
    with pytest.raises(SystemExit) as left:
        main(["check", str(HALF)])
    assert left.value.code == 4
    assert capsys.readouterr().err.startswith("Traceback")


def test_a_disk_that_fills_up_loses_nothing_that_was_there(block: Path, tmp_path: Path) -> None:
    """A limit on the size of files stands in for the full disk: the system refuses the bytes the same way."""
    out = tmp_path / "out"
    assert run("build", block, "--out", out).returncode == 0
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    change(block, 'goal_time = "1:44:00"', 'goal_time = "1:46:00"')

    def fill() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))

    result = run("build", block, "--out", out, before=fill)
    assert result.returncode == 3
    assert "could not be written" in result.stderr
    assert "Traceback" not in result.stderr
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before


def test_ctrl_c_leaves_whole_files_and_exit_code_130(tmp_path: Path) -> None:
    out = tmp_path / "out"
    with subprocess.Popen(
        [sys.executable, "-m", "planbuilder.cli", "build", DEMOS / "rolling-10k", "--out", out],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=hear_ctrl_c,
    ) as process:
        deadline = time.monotonic() + 60
        while not list(out.glob("*/plan.html")) and time.monotonic() < deadline:
            time.sleep(0.01)
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=60)
    assert process.returncode == 130, errors
    assert errors.endswith("Stopped; what was written before is whole.\n")
    for path in out.glob("*/plan.json"):
        for name, digest in json.loads(path.read_text())["files"].items():
            assert hashlib.sha256((path.parent / name).read_bytes()).hexdigest() == digest
    assert not [
        path
        for path in out.rglob("*")
        if path.is_file() and path.suffix not in (".html", ".ics", ".csv", ".json")
    ]
