"""The living plan as a coach lives with it: log, edit, re-plan, undo, forget, on a real block folder."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import multiprocessing
import os
import resource
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from icalendar import Calendar

from planbuilder import delivery, living, pipeline
from planbuilder.block import read_block
from planbuilder.block.edits import read_edits
from planbuilder.block.history import STATE_FOLDER, read_history
from planbuilder.block.living import passed_over_in_log, read_records
from planbuilder.block.log_table import LogLine
from planbuilder.block.survey import survey
from planbuilder.outputs.safe_write import one_writer
from planbuilder.settings.edit_models import Ill, NewResult
from planbuilder.settings.problems import InputProblems
from tests.accepted_half import DAY, FIRST, HALF, WHO, accepted_half, noon
from tests.squad.squads import write_squad

ROOT = Path(__file__).parent.parent


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A block whose plan was accepted on its first day."""
    return accepted_half(tmp_path)


def built(folder: Path, out: Path) -> dict[str, str]:
    """Digests of everything that build writes for people; coach.json says what it was made from."""
    list(delivery.build(read_block(folder), out))
    return {
        path.relative_to(out).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(out.rglob("*"))
        if path.is_file() and path.name != "coach.json"
    }


def edit(folder: Path, today: dt.date, **values: object) -> living.Proposal:
    said = {key.rstrip("_"): value for key, value in values.items()}
    (found,) = living.edit(folder, {**said, "runner": WHO, "on": today}, today=today, now=noon(today))
    return found


def replan(folder: Path, today: dt.date) -> living.Proposal:
    block = read_block(folder)
    (found,) = living.propose(block, today=today)
    living.accept(block, [found], by="replan", today=today, now=noon(today))
    return found


def test_the_accepted_plan_builds_the_same_bytes_as_the_plan_before_it(folder: Path, tmp_path: Path) -> None:
    assert built(HALF, tmp_path / "one") == built(folder, tmp_path / "two")


def test_build_writes_nothing_into_the_block(folder: Path, tmp_path: Path) -> None:
    def stand() -> dict[str, bytes]:
        return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}

    before = stand()
    built(folder, tmp_path / "out")
    assert stand() == before


def test_a_moved_session_is_accepted_and_undo_restores_the_bytes(folder: Path, tmp_path: Path) -> None:
    before = built(folder, tmp_path / "one")
    today = FIRST + 30 * DAY
    found = edit(folder, today, do="move", session="w07-easy", to=dt.date(2027, 4, 16))
    assert [change.after.date for change in found.answer.changes if change.after] == [dt.date(2027, 4, 16)]
    assert built(folder, tmp_path / "two") != before
    living.undo(folder, only=None, today=today, now=noon(today))
    assert built(folder, tmp_path / "three") == before
    assert not (folder / "edits.toml").exists()


def test_a_persons_edit_wins_and_its_breach_is_shown(folder: Path) -> None:
    found = edit(folder, FIRST + 30 * DAY, do="move", session="w07-long", to=dt.date(2027, 4, 17))
    assert "day.one_run_a_day" in {breach.rule for breach in found.answer.breaches}
    (plan,) = pipeline.plan_all(read_block(folder))
    moved = next(one for one in plan.sessions if one.id == "w07-long")
    assert moved.date == dt.date(2027, 4, 17)
    assert (moved.reasons[0].text, moved.reasons[0].rule) == ("Your coach's word.", "edits")
    of_the_day = [
        one for one in moved.reasons if "Sunday" in one.text or "after the hard session" in one.text
    ]
    assert of_the_day == []


def test_an_edit_that_cannot_be_carried_out_leaves_nothing_behind(folder: Path) -> None:
    with pytest.raises(InputProblems, match="has passed, so it stays as it was"):
        edit(folder, FIRST + 30 * DAY, do="skip", session="w01-long")
    assert not (folder / "edits.toml").exists()
    assert len(read_history(folder / STATE_FOLDER).heads) == 1


def test_illness_is_answered_by_re_planning_and_asking_again_changes_nothing(folder: Path) -> None:
    today = dt.date(2027, 4, 6)
    edit(folder, today, do="ill", from_=today, to=today + 2 * DAY, fever=True)
    assert list(living.moved_away(read_block(folder))) == [
        f"There is news of {WHO} since the plan was accepted. See: planbuilder replan {folder}"
    ]
    found = replan(folder, today)
    assert found.answer.changes
    assert not list(living.moved_away(read_block(folder)))
    assert replan(folder, today).stands


def test_a_tune_up_race_on_the_first_days_back_after_fever_is_off(folder: Path) -> None:
    """Nothing hard within 5 days and 3 easy runs, and no first run above half an hour: common practice."""
    accepted = read_history(folder / STATE_FOLDER).accepted("maren-t")
    assert accepted
    race = next(one for week in accepted.weeks for one in week.sessions if one.role == "tune_up")
    began = race.date - 8 * DAY
    edit(folder, began, do="ill", from_=began, to=began + 4 * DAY, fever=True)
    found = replan(folder, began)
    (now,) = (one.after for one in found.answer.changes if one.after and one.after.id == race.id)
    assert now.cancelled
    assert replan(folder, began).stands


def test_an_illness_ends_when_its_end_is_told_and_keeps_no_day_afterwards(folder: Path) -> None:
    began = dt.date(2027, 4, 6)
    edit(folder, began, do="ill", from_=began, fever=True)
    replan(folder, began)
    told = edit(folder, began + 3 * DAY, do="ill", from_=began, to=began + DAY, fever=True)
    assert not [note for note in told.answer.private_notes if "not over yet" in note.text]
    replan(folder, began + 3 * DAY)
    weeks_later = replan(folder, began + 20 * DAY)
    assert not weeks_later.answer.changes
    assert not [note for note in weeks_later.answer.private_notes if "Illness" in note.text]


def test_the_end_of_an_illness_needs_neither_its_first_day_nor_its_kind(folder: Path) -> None:
    said = run("edit", folder, "ill", "--no-fever", "--from", "2027-04-05", "--today", "2027-04-06")
    assert "When it is over: planbuilder edit" in said.stdout
    said = run("edit", folder, "ill", "--to", "2027-04-07", "--today", "2027-04-09")
    assert said.returncode == 0, said.stderr
    ends = [one.line.edit for one in read_edits(read_block(folder))][-1]
    assert isinstance(ends, Ill)
    assert (ends.first_day, ends.last_day, ends.fever) == (dt.date(2027, 4, 5), dt.date(2027, 4, 7), False)


def test_replan_tells_of_heat_on_race_day_although_it_moves_no_session(folder: Path) -> None:
    path = folder / "block.toml"
    hot = 'temperature = "30 C"\nhumidity = "70 %"'
    path.write_text(path.read_text().replace("[training]", f"[race.conditions]\n{hot}\n\n[training]"))
    said = run("replan", folder, "--today", "2027-05-10")
    assert said.returncode == 0, said.stderr
    assert "nothing changes" in said.stdout
    assert "Race day: The wet-bulb globe temperature" in said.stdout
    assert "Race day" not in run("replan", folder, "--today", "2027-06-30").stdout


def test_an_edit_that_a_full_disk_refuses_is_not_kept(folder: Path) -> None:
    def small() -> None:
        resource.setrlimit(
            resource.RLIMIT_FSIZE, (20_000, 20_000)
        )  # the history is longer, the edits are not

    words = ("edit", str(folder), "w07-long", "--skip", "--today", "2027-04-05")
    said = subprocess.run(
        [sys.executable, "-m", "planbuilder.cli", *words],
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=small,
    )
    assert said.returncode == 3, said.stderr
    assert "history.jsonl: could not be written" in said.stderr
    assert not (folder / "edits.toml").exists()


def test_health_is_never_in_history_feed_or_page_and_can_be_forgotten(folder: Path, tmp_path: Path) -> None:
    today = dt.date(2027, 4, 6)
    edit(folder, today, do="niggle", from_=today, place="achilles", pain=4)
    living.add_to_log(
        folder, [LogLine("2027-04-06", WHO, "w06-club", pain="4", where="achilles", note="quite sore there")]
    )
    replan(folder, today + DAY)
    history = (folder / STATE_FOLDER / "history.jsonl").read_text().lower()
    out = tmp_path / "out"
    built(folder, out)
    shown = "".join(path.read_text() for path in (out / "maren-t").iterdir() if path.suffix != ".html")
    plan_page = (out / "maren-t" / "plan.html").read_text()
    for said in ("achilles, 4", "quite sore there", "4/10"):
        assert said not in history
        assert said not in shown.lower()
        assert said not in plan_page.lower()
    assert "achilles, 4/10" in (out / "coach.html").read_text().lower()
    assert living.forget(folder, WHO, everything=False, now=noon(FIRST)) == {"log.csv": 1, "edits.toml": 1}
    assert not (folder / "edits.toml").exists()
    left = (folder / "log.csv").read_text()
    assert "achilles" not in left
    assert "sore" not in left


def test_a_forgotten_person_is_in_no_file_of_ours(folder: Path) -> None:
    living.add_to_log(folder, [LogLine("2027-03-02", WHO, "w01-club")])
    edit(folder, FIRST + 30 * DAY, do="skip", session="w07-easy")
    living.forget(folder, WHO, everything=True, now=noon(FIRST))
    for name in ("log.csv", "edits.toml", "state/history.jsonl"):
        path = folder / name
        assert not path.exists() or "maren" not in path.read_text().lower()


def test_who_left_locks_nothing_and_can_be_forgotten_behind_the_row(tmp_path: Path) -> None:
    folder = tmp_path / "block"
    write_squad(folder, 3, seed=4, days=("tuesday",))
    block = read_block(folder)
    delivery.accept_as_they_stand(block, now=noon(FIRST))
    leaver, stays = (runner.settings.name for runner in block.runners[:2])
    key, day = block.runners[0].key, block.first_day + 9 * DAY
    living.add_to_log(folder, [LogLine(str(day), leaver, note="last one"), LogLine(str(day), stays)])
    living.edit(
        folder,
        {"do": "niggle", "from": day, "place": "calf", "pain": 2, "runner": leaver, "on": day},
        today=day,
        now=noon(day),
    )
    path = folder / "roster.csv"
    path.write_text("".join(row for row in path.read_text().splitlines(True) if leaver not in row))
    block = read_block(folder)
    assert key not in {one.key for one in block.runners}
    (told,) = passed_over_in_log(block)
    assert told.todo == f"If they have left: planbuilder forget {folder} {key} --everything"
    living.edit(
        folder,
        {"do": "niggle", "from": day, "place": "knee", "pain": 2, "runner": stays, "on": day},
        today=day,
        now=noon(day),
    )
    assert len(list(living.propose(block, today=day + DAY))) == len(block.runners)
    living.undo(folder, only=stays, today=day, now=noon(day))
    with pytest.raises(InputProblems, match="the runner must be one of"):
        living.add_to_log(folder, [LogLine(str(day), leaver)])
    gone = living.forget(folder, leaver, everything=True, now=noon(day))
    assert gone == {"log.csv": 1, "edits.toml": 1, "history.jsonl": 1}
    for name in ("log.csv", "edits.toml", "state/history.jsonl"):
        assert not (folder / name).exists() or leaver not in (folder / name).read_text()
    assert not passed_over_in_log(block)
    with pytest.raises(InputProblems, match="the runner must be one of"):
        living.forget(folder, leaver, everything=True, now=noon(day))


def test_who_left_before_any_plan_was_accepted_can_be_forgotten(folder: Path) -> None:
    shutil.rmtree(folder / STATE_FOLDER)
    (folder / "log.csv").write_text("date,runner\n2027-03-02,Otto G\n")
    assert living.forget(folder, "Otto G", everything=True, now=noon(FIRST))["log.csv"] == 1
    assert "Otto" not in (folder / "log.csv").read_text()


def test_a_register_and_a_chat_are_understood(folder: Path) -> None:
    (there,) = living.register_night(folder, dt.date(2027, 3, 2), [])
    assert there.session is not None
    assert there.session.id == "w01-club"
    (line,) = living.paste_into_log(folder, f"{WHO} | w01-easy | done | effort 3 | 2027-03-03").understood
    assert line.logged.done.effort_rpe == 3
    with pytest.raises(InputProblems, match="the night must be one on which somebody has a club session"):
        living.register_night(folder, dt.date(2027, 3, 4), [])


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (LogLine("2027-03-02", WHO, "w01-clbu"), 'not "w01-clbu". Did you mean "w01-club"'),
        (
            LogLine("2027-03-03", WHO, "w01-club", went="missed"),
            "the date must be that of w01-club, Tuesday 2 March, not 2027-03-03",
        ),
        (
            LogLine("2027-03-03", WHO, "w01-long"),
            "must be within 3 days of w01-long, Sunday 7 March, not 2027-03-03. A run of another day",
        ),
        (LogLine("2027-03-09", WHO, "w02-club"), "the date must be 2027-03-03 or before, not 2027-03-09"),
    ],
)
@pytest.mark.parametrize("accepted", [True, False])
def test_a_wrong_session_or_day_is_never_written(
    folder: Path, line: LogLine, said: str, *, accepted: bool
) -> None:
    if not accepted:
        shutil.rmtree(folder / STATE_FOLDER)
    with pytest.raises(InputProblems, match=said):
        living.add_to_log(folder, [LogLine("2027-03-03", WHO), line], today=FIRST + 2 * DAY)
    assert not (folder / "log.csv").exists()


def test_of_a_chat_the_good_lines_are_written_and_the_others_told_of(folder: Path) -> None:
    good, bad = f"{WHO} | w01-easy | done | 2027-03-03", f"{WHO} | w01-clbu | done | 2027-03-02"
    found = living.paste_into_log(folder, f"{bad}\n{good}\nNobody | w01-club | done | 2027-03-02")
    assert [one.logged.done.session for one in found.understood] == ["w01-easy"]
    assert [one.line for one in found.problems] == [1, 3]
    assert "clbu" not in (folder / "log.csv").read_text()
    with pytest.raises(InputProblems, match=r"pasted lines:1: the session must be an id"):
        living.paste_into_log(folder, bad)


def test_a_bad_line_of_a_hand_is_passed_over_by_what_shows_and_stops_what_changes(folder: Path) -> None:
    rows = f"2027-03-02,{WHO},w01-clbu\n2027-03-03,{WHO},w01-easy\n2027-03-04,Nobody,\n"
    (folder / "log.csv").write_text(f"date,runner,session\n{rows}", "utf-8")
    block = read_block(folder)
    wrong = passed_over_in_log(block)
    assert [str(one).partition(": ")[0] for one in wrong] == [f"{folder}/log.csv:{n}" for n in (2, 4)]
    (now,) = pipeline.plans_now(block)
    assert now.told.run[1].sessions == 1
    with pytest.raises(InputProblems, match=r"log\.csv:2: the session must be an id"):
        list(living.propose(block, today=FIRST + 5 * DAY))
    with pytest.raises(InputProblems, match=r"log\.csv:2: the session must be an id"):
        edit(folder, FIRST + 5 * DAY, do="easy", from_=FIRST + 5 * DAY)
    assert not (folder / "edits.toml").exists()


@pytest.mark.parametrize("text", ["", "<gpx><trk><trkseg>", "no run, a shopping list"])
def test_a_recording_that_cannot_be_read_is_told_of_and_stops_nothing(
    folder: Path, caplog: pytest.LogCaptureFixture, text: str
) -> None:
    (before,) = pipeline.plans_now(read_block(folder))
    (folder / "done").mkdir()
    (folder / "done" / "watch.gpx").write_text(text, "utf-8")
    (now,) = pipeline.plans_now(read_block(folder))
    assert now.plan.weeks == before.plan.weeks
    (said,) = caplog.messages
    assert said.startswith(f"{folder}/done/watch.gpx:")
    assert said.endswith("Until then what was run there is not counted.")
    assert not replan(folder, FIRST + 5 * DAY).answer.changes
    assert edit(folder, FIRST + 30 * DAY, do="skip", session="w07-easy").answer.changes
    assert living.add_to_log(folder, [LogLine("2027-03-02", WHO, "w01-club")])
    living.forget(folder, WHO, everything=False, now=noon(FIRST))
    assert (folder / "done" / "watch.gpx").exists()
    living.forget(folder, WHO, everything=True, now=noon(FIRST))
    assert not (folder / "done" / "watch.gpx").exists()


def test_a_recording_that_is_good_counts_beside_one_that_is_not(folder: Path) -> None:
    (folder / "done").mkdir()
    points = "".join(
        f'<trkpt lat="{50 + 0.0003 * at:.5f}" lon="7"><time>2027-03-03T07:{at:02d}:00Z</time></trkpt>'
        for at in range(60)
    )
    head = '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
    (folder / "done" / "a.gpx").write_text(f"{head}{points[:300]}", "utf-8")
    (folder / "done" / "b.gpx").write_text(f"{head}{points}</trkseg></trk></gpx>", "utf-8")
    assert [one.done.line for one in read_records(read_block(folder)).recorded] == ["done/b.gpx"]


@pytest.mark.parametrize("place", ["done", "routes", "done/maren-t", "routes/maren-t"])
def test_a_folder_that_may_not_be_looked_into_is_named_and_stops_nothing(
    folder: Path, tmp_path: Path, caplog: pytest.LogCaptureFixture, place: str
) -> None:
    (folder / place).mkdir(parents=True)
    (folder / place).chmod(0)
    if os.access(folder / place, os.R_OK):
        pytest.skip("who runs this may look everywhere")
    try:
        built(folder, tmp_path / "out")
    finally:
        (folder / place).chmod(0o755)
    (said,) = set(caplog.messages)
    assert said.startswith(f"{folder}/{place}: must be a folder that can be looked into, permission denied.")


def test_of_a_broken_recording_and_a_broken_route_each_command_tells_once(
    folder: Path, tmp_path: Path
) -> None:
    for kind in ("done", "routes"):
        (folder / kind).mkdir()
        (folder / kind / "broken.gpx").write_text("<gpx><trk>", "utf-8")
    commands = {"check": (), "build": ("--out", str(tmp_path / "out")), "replan": ("--today", "2027-03-06")}
    for command, options in commands.items():
        result = run(command, folder, *options)
        told = [line for line in result.stderr.splitlines() if "broken.gpx" in line]
        assert result.returncode == 0
        assert [line.partition("broken.gpx")[0] for line in told] == [f"{folder}/done/", f"{folder}/routes/"]
    result = run("rehearse", folder)
    assert (result.stdout + result.stderr).count("routes/broken.gpx") == 1


def test_a_line_of_a_day_to_come_stops_what_changes(folder: Path) -> None:
    (folder / "log.csv").write_text(f"date,runner,session\n2027-03-09,{WHO},\n", "utf-8")
    with pytest.raises(InputProblems, match=r"log\.csv:2: the date must be 2027-03-06 or before"):
        list(living.propose(read_block(folder), today=FIRST + 5 * DAY))
    assert list(living.propose(read_block(folder), today=FIRST + 8 * DAY))


def test_the_log_tells_of_a_wrong_line_once(folder: Path) -> None:
    (folder / "log.csv").write_text(f"date,runner,session\nsoon,{WHO},\n", "utf-8")
    result = run("log", folder, "--runner", WHO, "--date", "2027-03-02", "--today", "2027-03-06")
    assert result.returncode == 2
    assert result.stderr.count("log.csv:2: date must be a date") == 1


def test_what_was_run_stands_beside_what_was_planned(folder: Path, tmp_path: Path) -> None:
    living.register_night(folder, dt.date(2027, 3, 2), [])
    living.add_to_log(folder, [LogLine("2027-03-07", WHO, "w01-long", distance="14 km", time="1:24:00")])
    (now,) = pipeline.plans_now(read_block(folder))
    assert now.told.run[1].sessions == 2
    assert now.told.outlook.startswith(
        "2 of 2 sessions told of were run, no word yet of 3 others; the plan goes on. For race day"
    )
    built(folder, tmp_path / "out")
    assert "2 of 5 runs, " in (tmp_path / "out" / "maren-t" / "plan.html").read_text()


def test_the_range_for_race_day_narrows_as_the_day_comes(folder: Path) -> None:
    from planbuilder.schedule.replan.done import race_range_s

    block = read_block(folder)
    living.add_to_log(folder, [LogLine("2027-03-02", WHO, "w01-club")])
    records = read_records(block)
    (now,) = pipeline.plans_now(block)
    ground = survey(block, block.runners)
    (runner,) = block.runners
    situation = pipeline.situation_on(block, ground, runner, records, now.request, FIRST)
    spans = [
        high - low
        for low, high in (race_range_s(situation, FIRST + week * 7 * DAY) for week in range(0, 12, 3))
    ]
    assert spans == sorted(spans, reverse=True)
    assert spans[0] > spans[-1]
    low, high = race_range_s(replace(situation, pace_lines=("a result",)), FIRST)  # and with every result
    assert spans[-1] < high - low < spans[0]


def test_a_changed_setting_is_told_of_and_lays_out_only_the_days_ahead(folder: Path) -> None:
    path = folder / "block.toml"
    path.write_text(path.read_text().replace('long_run_day = "sunday"', 'long_run_day = "saturday"')
                    .replace("saturday = 60, sunday = 150", "saturday = 150, sunday = 150"))  # fmt: skip
    (said,) = living.moved_away(read_block(folder))
    assert "have changed since the plan was accepted" in said
    today = dt.date(2027, 4, 5)
    before = read_history(folder / STATE_FOLDER).accepted("maren-t")
    assert before is not None
    found = replan(folder, today)
    after = read_history(folder / STATE_FOLDER).accepted("maren-t")
    assert after is not None
    assert [one for week in after.weeks for one in week.sessions if one.date < today] == [
        one for week in before.weeks for one in week.sessions if one.date < today
    ]
    longs = [one for week in after.weeks for one in week.sessions if one.role == "long" and one.date >= today]
    assert any(one.date.weekday() == 5 for one in longs)
    old = {one.id for week in before.weeks for one in week.sessions if one.role == "long"}
    assert {one.id for one in longs} <= old
    for was, now in zip(before.weeks, after.weeks, strict=True):
        assert now.distance_m <= was.distance_m + 1
    assert found.answer.changes
    assert replan(folder, today).stands


def test_a_crash_between_the_edit_and_the_history_loses_neither(folder: Path) -> None:
    """The edit is written first; without its line in the history, re-planning finds it and takes it in."""
    from planbuilder.block.edits import add_edit

    today = FIRST + 30 * DAY
    values = {"do": "skip", "session": "w07-easy", "runner": WHO, "on": today}
    add_edit(read_block(folder), values)
    found = replan(folder, today)
    assert any(change.after and change.after.cancelled for change in found.answer.changes)
    assert replan(folder, today).stands


def _edit_in_another_process(folder: Path, session: str) -> None:
    edit(folder, FIRST + 30 * DAY, do="skip", session=session)


def test_two_people_who_edit_at_once_wait_for_each_other(folder: Path) -> None:
    """Real processes on one real folder: both edits stand, none is lost."""
    context = multiprocessing.get_context("fork")
    with one_writer(folder / STATE_FOLDER):
        workers = [
            context.Process(target=_edit_in_another_process, args=(folder, session))
            for session in ("w07-easy", "w09-easy")
        ]
        for worker in workers:
            worker.start()
        workers[0].join(1)
        assert all(worker.is_alive() for worker in workers)
    for worker in workers:
        worker.join(90)
    assert [worker.exitcode for worker in workers] == [0, 0]
    (plan,) = pipeline.plan_all(read_block(folder))
    assert {one.id for one in plan.sessions if one.cancelled} == {"w07-easy", "w09-easy"}
    assert [entry.by for entry in read_history(folder / STATE_FOLDER).heads] == ["publish", "edit", "edit"]


def test_after_a_re_plan_the_feed_shows_each_session_once_and_only_changed_ones_anew(
    folder: Path, tmp_path: Path
) -> None:
    """RFC 5545, 3.8.4.7 and 3.8.7.4: one UID an event, a higher SEQUENCE with each revision of it."""
    site = tmp_path / "site"

    def feed(today: dt.date) -> dict[str, tuple[int, bytes]]:
        block = read_block(folder)
        delivery.publish_block(block, site=site, base_url="https://example.org/r", now=noon(today))
        (path,) = site.rglob("*.ics")
        events = list(Calendar.from_ical(path.read_bytes()).walk("VEVENT"))
        found = {str(one["UID"]): (int(str(one["SEQUENCE"])), one.to_ical()) for one in events}
        assert len(found) == len(events)
        return found

    today = dt.date(2027, 4, 5)
    before = feed(today)
    assert feed(today) == before
    edit(folder, today, do="ill", from_=today, to=today + 2 * DAY, fever=True)
    answer = replan(folder, today).answer
    after = feed(today + DAY)
    week_ahead = today + 8 * DAY
    far = [one for one in answer.changes if one.after and one.after.cancelled and one.after.date > week_ahead]
    assert len(before.keys() - after.keys()) == len(far)
    assert not after.keys() - before.keys()
    changed = {uid for uid in after if after[uid] != before[uid]}
    assert len(changed) == len(answer.changes) - len(far)
    assert all(after[uid][0] > before[uid][0] for uid in changed)


def test_a_build_into_the_same_folder_takes_in_what_was_logged(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    before = built(folder, out)
    living.register_night(folder, dt.date(2027, 3, 2), [])
    assert built(folder, out)["maren-t/plan.html"] != before["maren-t/plan.html"]


def run(*arguments: str | Path, typed: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "planbuilder.cli", *map(str, arguments)],
        input=typed,
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_commands_say_what_they_do(folder: Path) -> None:
    said = run(
        "log", folder, "--paste", "--today", "2027-04-01", typed=f"{WHO} | w05-club | missed | 2027-03-30\n"
    )
    assert said.returncode == 0, said.stderr
    assert "Tuesday 30 March" in said.stdout
    assert "(w05-club), missed." in said.stdout
    said = run("edit", folder, "w07-long", "--to", "saturday", "--why", "family day", "--today", "2027-04-05")
    assert said.returncode == 0, said.stderr
    assert "Sat 17 Apr" in said.stdout
    assert "Breach (day." in said.stdout
    said = run("edit", folder, "ill", "--from", "2027-04-05", "--to", "2027-04-07", "--today", "2027-04-05")
    assert "replan" in said.stdout
    said = run("build", folder, "--out", folder / "out", "--today", "2027-04-05")
    assert "There is news of Maren T" in said.stderr
    said = run("replan", folder, "--today", "2027-04-05", "--json")
    assert '"called' not in said.stdout
    assert '"cancelled": true' in said.stdout
    said = run("replan", folder, "--accept", "--today", "2027-04-05")
    assert "Accepted for 1 runner" in said.stdout
    said = run("undo", folder, "--today", "2027-04-05")
    assert "is taken back" in said.stdout


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("log",), "a line needs --runner and --date"),
        (("log", "--night", "2027-03-02"), "--night needs --all"),
        (("edit", "w07-long"), "say one thing to do with w07-long"),
        (("edit", "w07-lng", "--skip"), 'Did you mean "w07-long"'),
        (("edit", "holiday", "--to", "2027-04-05"), "or one of away, easy, ill, tired, niggle, result, goal"),
        (("edit", "w07-long", "--to", "someday"), "must be a date such as 2027-05-16 or a weekday"),
        (("undo",), "there must be a change to take back"),
    ],
)
def test_a_command_that_cannot_be_followed_says_why(
    folder: Path, arguments: tuple[str, ...], said: str
) -> None:
    name, *rest = arguments
    result = run(name, folder, *rest)
    assert result.returncode == 2
    assert said in result.stderr


def test_what_is_said_to_be_accepted_is_what_undo_takes_back(folder: Path) -> None:
    living.add_to_log(folder, [LogLine("2027-03-02", WHO, "w01-club")])
    told = run("replan", folder, "--accept", "--today", "2027-03-03").stdout
    assert (
        "Accepted for 1 runner, 1 of them with news that changes no session. "
        f"Take back: planbuilder undo {folder}\n"
    ) in told
    again = run("replan", folder, "--accept", "--today", "2027-03-03").stdout
    assert again.endswith("Nothing is new, so nothing was accepted.\n")
    assert len(run("undo", folder, "--today", "2027-03-03").stdout.splitlines()) == 1


def test_a_goal_that_moves_no_session_tells_what_it_does_to_plan_a(folder: Path) -> None:
    today = FIRST + 9 * DAY
    found = edit(folder, today, do="goal", goal_time="1:46:00")
    assert not found.answer.changes
    assert [one for one in found.times if one.startswith("Plan A: 1:46:00, before 1:44:00")] != []
    assert "Maren T: no session changes." in run("replan", folder, "--today", str(today)).stdout


def test_a_result_tells_the_new_prediction_and_paces(folder: Path) -> None:
    today = FIRST + 15 * DAY
    found = edit(folder, today, do="result", date=today - 2 * DAY, distance="10 km", time="44:00")
    assert [one.partition(":")[0] for one in found.times][:1] == ["Predicted time on race day"]
    assert any(one.startswith("Pace, threshold: {pb:") for one in found.times)
    data = json.loads(run("replan", folder, "--json", "--today", str(today)).stdout)
    assert data["runners"][0]["times"][0].startswith("Predicted time on race day: 1:4")


def test_a_result_counts_on_its_own_day_for_the_days_behind_it(folder: Path) -> None:
    accepted = read_history(folder / STATE_FOLDER).accepted("maren-t")
    assert accepted
    runs = [one for week in accepted.weeks for one in week.sessions if one.steps]
    day = next(one.date for one in runs if one.hard and one.date > FIRST + 20 * DAY)
    told = edit(folder, day, do="result", date=day, distance="10 km", time="42:30")
    changed = {one.after.date for one in told.answer.changes if one.after}
    assert changed
    assert min(changed) > day
    assert replan(folder, day).accepted.weeks == told.accepted.weeks
    assert replan(folder, day + DAY).stands


def test_a_result_that_is_told_again_is_one_result_with_all_that_was_said_of_it(folder: Path) -> None:
    day = FIRST + 20 * DAY
    edit(
        folder, day, do="result", date=day, distance="10 km", time="45:40", temperature="11 C", explained=True
    )
    first = replan(folder, day)
    again = edit(folder, day + DAY, do="result", date=day, distance="10k", time="45:40", confirmed=True)
    assert again.accepted.basis.time_factor < first.accepted.basis.time_factor < 1
    (line,) = read_records(read_block(folder)).edits_of("maren-t", day + DAY)
    assert isinstance(line.edit, NewResult)
    assert (line.edit.temperature_c, line.edit.explained, line.edit.confirmed) == (11, True, True)
    (words,) = {why.text for change in again.answer.changes for why in change.why}
    assert words.count("45:40") == 1
    replan(folder, day + DAY)
    assert replan(folder, day + 2 * DAY).stands


def test_a_register_of_a_night_to_come_is_refused_once(folder: Path) -> None:
    said = run("log", folder, "--night", "2027-03-09", "--all", "--today", "2027-03-02")
    assert said.returncode == 2
    assert said.stderr == "log: the night must be 2027-03-02 or before, not 2027-03-09.\n"


def test_a_reason_that_speaks_of_health_is_kept_and_its_writer_is_told(folder: Path) -> None:
    words = ("w07-easy", "--skip", "--why", "sore knee", "--today", "2027-04-05")
    said = run("edit", folder, *words)
    assert said.stderr == (
        f"Mind: this speaks of health (sore, knee), and it is shown on {WHO}'s page as you wrote it.\n"
    )
    assert "Your coach's word: sore knee." in said.stdout
    run("undo", folder, "--today", "2027-04-05")
    assert not run("edit", folder, *words[:3], "family day", *words[4:]).stderr


def test_a_result_behind_an_illness_that_is_open_asks_whether_it_is_over(folder: Path) -> None:
    run("edit", folder, "ill", "--from", "2027-03-03", "--today", "2027-03-03")
    race = ("--distance", "10k", "--time", "44:00", "--date", "2027-04-18", "--today", "2027-04-19")
    end = f'planbuilder edit {folder} ill --runner "{WHO}" --to YYYY-MM-DD'
    assert f"If it is: {end}\n" in run("edit", folder, "result", *race).stdout


def test_commands_that_are_offered_can_be_typed_as_they_stand(folder: Path) -> None:
    words = ("--place", "knee", "--pain", "4", "--today", "2027-03-02")
    said = " ".join(run("edit", folder, "niggle", *words).stdout.split())
    assert f'planbuilder edit {folder} niggle --runner "{WHO}" --place knee' in said
    assert " BLOCK " not in said


def test_forget_says_what_only_a_person_can_take_out(folder: Path) -> None:
    said = run("forget", folder, WHO, "--yes").stdout
    assert said.startswith("Taken out: nothing of log.csv, nothing of edits.toml.\n")
    assert f"What {folder / 'block.toml'} says of {WHO} stays, for you to take out: " in said
