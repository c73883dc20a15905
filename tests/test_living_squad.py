"""What is said of a whole squad at once: a moved club night, days away; taken back as it was said."""

from __future__ import annotations

import datetime as dt
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from planbuilder import delivery, living, pipeline
from planbuilder.block import read_block
from planbuilder.block.history import STATE_FOLDER, read_history
from planbuilder.settings.problems import InputProblems
from tests.accepted_half import noon

SQUAD = Path(__file__).parent.parent / "demo_plans" / "rolling-10k"
DAY = dt.timedelta(days=1)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(SQUAD, tmp_path / "block"))


def nights(folder: Path) -> dict[str, list[dt.date]]:
    return {
        plan.runner.name: [one.date for one in plan.sessions if one.role == "club" and not one.cancelled]
        for plan in pipeline.plan_all(read_block(folder))
    }


def a_night(folder: Path) -> dt.date:
    """One on which most of the squad come."""
    days = [day for found in nights(folder).values() for day in found]
    return max(sorted(set(days))[4:], key=days.count)


def edit_all(folder: Path, today: dt.date, **values: object) -> tuple[living.Proposal, ...]:
    said = {"runner": "everyone", "on": today, **{key.rstrip("_"): value for key, value in values.items()}}
    return living.edit(folder, said, today=today, now=noon(today))


def test_a_club_night_is_moved_for_all_who_come_and_taken_back_for_all(folder: Path) -> None:
    night = a_night(folder)
    before = nights(folder)
    found = edit_all(folder, night - 5 * DAY, do="move", session=str(night), to=night + DAY)
    come = {name for name, days in before.items() if night in days}
    assert {one.name for one in found} == come
    after = nights(folder)
    for name, days in before.items():
        assert after[name] == [day + DAY if day == night else day for day in days]
    hours = {one.start_time for plan in pipeline.plan_all(read_block(folder)) for one in plan.sessions
             if one.role == "club" and one.date == night + DAY}  # fmt: skip
    assert None not in hours
    assert not [breach for one in found for breach in one.answer.breaches if breach.rule == "day.club_nights"]
    with pytest.raises(InputProblems, match="an edit of everyone must be taken back for everyone"):
        living.undo(folder, only=sorted(come)[0], today=night - 4 * DAY, now=noon(night - 4 * DAY))
    living.undo(folder, only=None, today=night - 4 * DAY, now=noon(night - 4 * DAY))
    assert nights(folder) == before
    assert not (folder / "edits.toml").exists()


def test_days_away_of_the_whole_squad_are_one_edit_and_answered_runner_by_runner(folder: Path) -> None:
    night = a_night(folder)
    day = night + (7 - night.weekday()) * DAY  # a Monday: runs are counted by calendar week
    edit_all(folder, day - 11 * DAY, do="skip", session=str(night))
    found = edit_all(folder, day - 10 * DAY, do="away", from_=day, to=day + 6 * DAY, runs=2)
    block = read_block(folder)
    assert len(found) == len(block.runners)
    assert (folder / "edits.toml").read_text().count("[[edit]]") == 2
    changed = [one for one in living.propose(block, today=day - 10 * DAY) if one.answer.changes]
    assert changed
    living.accept(block, changed, by="replan", today=day - 10 * DAY, now=noon(day - 10 * DAY))
    names = {one.name for one in changed}
    plans = [plan for plan in pipeline.plan_all(read_block(folder)) if plan.runner.name in names]
    for plan in plans:
        runs = [one for one in plan.sessions if day <= one.date <= day + 6 * DAY and not one.cancelled]
        assert len([one for one in runs if one.role not in ("strength", "cross", "race", "tune_up")]) <= 2
    assert {entry.by for entry in read_history(folder / STATE_FOLDER).heads} == {
        "publish",
        "edit",
        "replan",
    }


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"do": "skip", "session": "w03-long"}, "club night by its date"),
        ({"do": "skip", "session": "2031-01-01"}, "the date of a club night"),
        ({"do": "niggle", "from_": dt.date(2027, 5, 3), "place": "knee", "pain": 2}, "must be of days away"),
    ],
)
def test_what_cannot_be_said_of_everyone_says_why_and_writes_nothing(
    folder: Path, values: dict[str, object], said: str
) -> None:
    with pytest.raises(InputProblems, match=said):
        edit_all(folder, a_night(folder) - 20 * DAY, **values)
    assert not (folder / "edits.toml").exists()


def test_the_command_moves_a_night_by_its_date(folder: Path) -> None:
    night = a_night(folder)
    words = [str(night), "--runner", "everyone", "--to", f"{night + DAY:%A}", "--today", str(night - 3 * DAY)]
    said = subprocess.run([sys.executable, "-m", "planbuilder.cli", "edit", str(folder), *words],
                          capture_output=True, text=True, check=False)  # fmt: skip
    assert said.returncode == 0, said.stderr
    assert "Written and accepted" in said.stdout
    assert night + DAY in {day for days in nights(folder).values() for day in days}


def test_what_was_said_of_everyone_stays_when_one_person_is_forgotten(folder: Path) -> None:
    night = a_night(folder)
    edit_all(folder, night - 5 * DAY, do="skip", session=str(night))
    name = read_block(folder).runners[0].settings.name
    living.forget(folder, name, everything=True, now=noon(night))
    assert 'runner = "everyone"' in (folder / "edits.toml").read_text()


def test_with_a_person_go_their_recordings_and_their_own_routes_and_nobody_elses(folder: Path) -> None:
    block, now = read_block(folder), noon(a_night(folder))
    mine, other = (runner.key for runner in block.runners[:2])
    files = [folder / kind / key / "a.gpx" for kind in ("done", "routes") for key in (mine, other)]
    for file in (*files, folder / "routes" / "for_all.gpx"):
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text("<gpx/>")
    found = living.forget(folder, block.runners[0].settings.name, everything=True, now=now)
    assert (found["done/"], found[f"routes/{mine}/"]) == (1, 1)
    assert [file.exists() for file in files] == [False, True, False, True]
    assert (folder / "routes" / "for_all.gpx").exists()


def cli(*arguments: object, typed: str = "") -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "planbuilder.cli", *map(str, arguments)]
    return subprocess.run(command, input=typed, capture_output=True, text=True, check=False)


def test_a_paste_that_holds_nothing_new_says_why(folder: Path) -> None:
    line = "Bea K | w01-long | done | effort 4 | 2027-04-10\n"
    nothing = cli("log", folder, "--paste", typed="see you on Tuesday\n")
    assert (nothing.returncode, nothing.stdout) == (2, "")
    assert "the text must hold a line from a runner's page, none was found. Such as: " in nothing.stderr
    assert cli("log", folder, "--paste", *("--today", "2027-04-12"), typed=line).stdout.endswith(
        f"See: planbuilder replan {folder}\n"
    )
    again = cli(
        "log",
        folder,
        "--paste",
        *("--today", "2027-04-12"),
        typed=line + "Bea K | w01-easy | fine | 2027-04-11\n",
    )
    assert again.returncode == 0
    assert "1 line stands in log.csv already." in again.stderr
    assert 'pasted lines:2: the third part must be one of done, part, missed, not "fine".' in again.stderr
    wrong = cli("log", folder, "--runner", "Beatrix", "--date", "2027-04-10")
    assert wrong.returncode == 2
    assert "log.csv" not in wrong.stderr


def test_why_names_each_runner_of_a_squad(folder: Path) -> None:
    said = cli("why", folder, "w04-club").stdout
    names = [plan.runner.name for plan in pipeline.plan_all(read_block(folder))
             if any(one.id == "w04-club" for one in plan.sessions)]  # fmt: skip
    assert len(names) > 1
    assert [line for line in said.splitlines() if line in names] == names
    assert "Bea K\n" not in cli("why", folder, "w04-club", "--runner", "Bea").stdout


@pytest.fixture
def club(tmp_path: Path) -> tuple[Path, Path]:
    """Two blocks of one club."""
    (tmp_path / "club.toml").write_text("[nights]\n", "utf-8")
    found = []
    for name in ("half", "ten"):
        folder = Path(shutil.copytree(SQUAD, tmp_path / name))
        settings = (folder / "block.toml").read_text("utf-8")
        assert "club =" not in settings
        settings = settings.replace("[training]\n", '[training]\nclub = "../club.toml"\n', 1)
        (folder / "block.toml").write_text(settings, "utf-8")
        found.append(folder)
    return found[0], found[1]


def test_a_night_that_changes_for_everyone_is_the_night_of_the_clubs_other_blocks_too(
    club: tuple[Path, Path],
) -> None:
    half, ten = club
    night = a_night(half)
    today = night - 5 * DAY
    edit_all(half, today, do="move", session=str(night), to=night + DAY)
    assert delivery.other_blocks_to_tell(read_block(half), night) == (ten.resolve(),)
    (said,) = delivery.out_of_step([read_block(half), read_block(ten)])
    assert said.endswith("was moved or called off for everyone in half, not in ten.")
    edit_all(ten, today, do="move", session=str(night), to=night + DAY)
    assert delivery.other_blocks_to_tell(read_block(half), night) == ()
    assert not list(delivery.out_of_step([read_block(half), read_block(ten)]))


@pytest.mark.parametrize(
    ("values", "reason"),
    [({"do": "move"}, "it was moved to"), ({"do": "skip"}, "it was called off for everyone")],
)
def test_a_night_that_is_not_held_says_why(folder: Path, values: dict[str, object], reason: str) -> None:
    night = a_night(folder)
    to = {"to": night + DAY} if values["do"] == "move" else {}
    edit_all(folder, night - 5 * DAY, session=str(night), **values, **to)
    with pytest.raises(InputProblems, match=reason):
        delivery.night_on(read_block(folder), night)


def test_a_date_that_is_no_club_night_says_why(folder: Path) -> None:
    block, night = read_block(folder), a_night(folder)
    with pytest.raises(InputProblems, match=r"it is a \w+day"):
        delivery.night_on(block, night + DAY)
    with pytest.raises(InputProblems, match="the race is on"):
        delivery.night_on(block, night + 20 * 7 * DAY)


# Taking back what was said last ---------------------------------------------------------------------------


def said_by_undo(folder: Path, today: dt.date, *words: str) -> str:
    command = [sys.executable, "-m", "planbuilder.cli", "undo", str(folder), "--today", str(today), *words]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return done.stdout + done.stderr


def test_what_was_written_last_is_taken_back_first_and_undo_says_what(folder: Path) -> None:
    one, two = (runner.settings.name for runner in read_block(folder).runners[:2])
    today = a_night(folder) - 20 * DAY
    plan = next(plan for plan in pipeline.plan_all(read_block(folder)) if plan.runner.name == one)
    easy = next(session.id for session in plan.sessions if session.date > today and session.role == "easy")
    shorten = {"do": "shorten", "session": easy, "minutes": 20, "runner": one, "on": today}
    living.edit(folder, shorten, today=today, now=noon(today))
    written = (folder / "edits.toml").read_bytes()
    ill = {"do": "ill", "from": today, "runner": two, "on": today}
    living.edit(folder, ill, today=today, now=noon(today))
    said = said_by_undo(folder, today)
    assert said.startswith(f"{two}: illness from ")
    assert "it was not accepted yet" in said
    assert (folder / "edits.toml").read_bytes() == written
    assert said_by_undo(folder, today).startswith(f"{one}: {easy} at 20 min (written on ")
    assert not (folder / "edits.toml").exists()
    assert "there must be a change to take back" in said_by_undo(folder, today)


def test_an_edit_that_was_accepted_goes_before_one_that_was_written_earlier(folder: Path) -> None:
    night = a_night(folder)
    today = night - 5 * DAY
    name = read_block(folder).runners[0].settings.name
    living.edit(
        folder, {"do": "ill", "from": today, "runner": name, "on": today}, today=today, now=noon(today)
    )
    edit_all(folder, today, do="skip", session=str(night))
    found = living.undo(folder, only=None, today=today, now=noon(today))
    assert [(whom, edit.do) for whom, edit in found.edits] == [("Everyone", "skip")]
    assert [(whom, edit.do) for whom, edit in found.left] == [(name, "ill")]


def test_what_an_accepted_re_plan_answered_stays_written_and_undo_says_so(folder: Path) -> None:
    monday = a_night(folder) + (7 - a_night(folder).weekday()) * DAY
    today = monday - 3 * DAY
    edit_all(folder, today, do="away", from_=monday, to=monday + 6 * DAY, runs=1)
    block = read_block(folder)
    living.accept(block, list(living.propose(block, today=today)), by="replan", today=today, now=noon(today))
    said = said_by_undo(folder, today)
    assert "the re-plan accepted on" in said
    assert f"Still written, not accepted:\n- Everyone: away from Monday {monday.day} " in said
    assert f"To take the last of it out: planbuilder undo {folder}\n" in said
    assert said_by_undo(folder, today).startswith("Everyone: away from ")
    assert not (folder / "edits.toml").exists()


def test_where_the_files_do_not_say_which_came_last_undo_asks_whose(folder: Path) -> None:
    """A re-plan of one runner and a word about another on one day."""
    one, two = (runner.settings.name for runner in read_block(folder).runners[:2])
    today = a_night(folder) - 20 * DAY
    for name in (one, two):
        said = {"do": "easy", "from": today, "to": today + 6 * DAY, "runner": name, "on": today}
        living.edit(folder, said, today=today, now=noon(today))
    block = read_block(folder)
    found = list(living.propose(block, today=today, only=one))
    living.accept(block, found, by="replan", today=today, now=noon(today))
    with pytest.raises(InputProblems, match=f'Say --runner "{one}" or --runner "{two}"'):
        living.undo(folder, only=None, today=today, now=noon(today))
    back = living.undo(folder, only=two, today=today, now=noon(today))
    assert [(whom, edit.do) for whom, edit in back.edits] == [(two, "easy")]
    assert not back.accepted
    back = living.undo(folder, only=None, today=today, now=noon(today))
    assert [name for name, _ in back.accepted] == [one]


def test_a_night_that_was_moved_and_has_passed_is_still_known_when_the_race_gets_another_day(
    folder: Path,
) -> None:
    night = a_night(folder)
    edit_all(folder, night - 5 * DAY, do="move", session=str(night), to=night + DAY)
    path = folder / "block.toml"
    race = read_block(folder).settings.race.date
    path.write_text(path.read_text().replace(f"date = {race}", f"date = {race + 7 * DAY}", 1))
    today = night + 4 * DAY
    block = read_block(folder)
    living.accept(block, list(living.propose(block, today=today)), by="replan", today=today, now=noon(today))
    assert all(one.stands for one in living.propose(read_block(folder), today=today + DAY))
    club = {one.date for plan in pipeline.plan_all(read_block(folder)) for one in plan.sessions
            if one.role == "club" and abs(one.date - night) <= DAY}  # fmt: skip
    assert club == {night + DAY}
    with pytest.raises(InputProblems, match="the date of a club night"):
        edit_all(folder, today, do="skip", session=str(night))
