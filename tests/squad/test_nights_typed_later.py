"""Nights that a coach types, changes or calls off behind the accepted plan: answered night by night."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from planbuilder import delivery, living, pipeline
from planbuilder.block import read_block
from planbuilder.block.club import write_night
from planbuilder.cli import cli
from planbuilder.plan.types import Plan, Session, Week
from planbuilder.rules.context import main_work_s
from tests.accepted_half import noon
from tests.squad.squads import FIRST_DAY as SQUADS_DAY
from tests.squad.squads import write_squad

DAY = dt.timedelta(days=1)
FIRST_DAY = SQUADS_DAY + 56 * DAY  # 8 weeks
TODAY = FIRST_DAY + 7 * DAY


def tuesday(week: int) -> dt.date:
    return FIRST_DAY + (7 * (week - 1) + 1) * DAY


FIRST = {tuesday(4): "hills 5 x 3 min, jog down", tuesday(6): "off"}


@pytest.fixture(scope="module")
def accepted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A squad of two nights a week whose plans were accepted."""
    folder = write_squad(tmp_path_factory.mktemp("squad"), 4, nights=FIRST, days=("tuesday", "thursday"))
    file = folder / "block.toml"
    file.write_text(file.read_text("utf-8").replace(str(SQUADS_DAY), str(FIRST_DAY)), "utf-8")
    delivery.accept_as_they_stand(read_block(folder), now=noon(FIRST_DAY))
    return folder


@pytest.fixture
def folder(accepted: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(accepted, tmp_path / "block"))


def publish(folder: Path, day: dt.date) -> None:
    delivery.publish_block(
        read_block(folder), site=folder.parent / "site", base_url="https://example.org/run", now=noon(day)
    )


def plans(folder: Path) -> dict[str, Plan]:
    return {plan.runner.name: plan for plan in pipeline.plan_all(read_block(folder))}


def replan(folder: Path, today: dt.date = TODAY) -> tuple[living.Proposal, ...]:
    return tuple(living.propose(read_block(folder), today=today))


def accept(folder: Path, today: dt.date = TODAY) -> tuple[living.Proposal, ...]:
    return living.accept(read_block(folder), replan(folder, today), by="replan", today=today, now=noon(today))


def tell(folder: Path, night: dt.date, line: str) -> None:
    write_night(folder / "club.toml", night, line)


def take_out(folder: Path, night: dt.date) -> None:
    file = folder / "club.toml"
    kept = [line for line in file.read_text("utf-8").splitlines() if str(night) not in line]
    file.write_text("\n".join(kept) + "\n", "utf-8")


def weeks(folder: Path) -> dict[str, tuple[Week, ...]]:
    return {name: plan.weeks for name, plan in plans(folder).items()}


def on(plan: Plan, date: dt.date) -> Session | None:
    return next((one for one in plan.sessions if one.date == date and not one.cancelled), None)


def said(*words: str) -> str:
    found = CliRunner().invoke(cli, [*words, "--today", str(TODAY)])
    assert found.exit_code == 0, found.output
    return " ".join(found.output.split())


def test_a_line_changed_or_added_later_reaches_everybody_who_comes(folder: Path) -> None:
    """Weeks typed one by one behind the first publish: the core of what a coach does all season."""
    before = plans(folder)
    tell(folder, tuesday(4), "hills 7 x 90 s, jog down")
    tell(folder, tuesday(5), "10 x 1 min, 1 min jog")
    found = accept(folder)
    assert found
    after = plans(folder)
    for night, most_s in ((tuesday(4), 7 * 90), (tuesday(5), 10 * 60)):
        works = [
            one for plan in after.values() if (one := on(plan, night)) and one.role == "club" and one.hard
        ]
        assert len(works) >= 2, night
        assert all(0 < main_work_s(one) <= most_s + 7 * 15 for one in works)  # a hill's crest is run out
        assert len({one.group_ends for one in works}) == 1
    for name, plan in before.items():
        ids = [one.id for one in plan.sessions]
        assert [one.id for one in after[name].sessions] == ids, name
        past = [one for one in plan.sessions if one.date < TODAY]
        assert [one for one in after[name].sessions if one.date < TODAY] == past
    assert not [one for one in replan(folder) if one.answer.changes or not one.stands]
    for _, breaches in pipeline.check_block(read_block(folder)):
        assert not [one.text for one in breaches if not one.excepted]


def test_accept_and_publish_bring_the_night_into_the_feed(folder: Path) -> None:
    tell(folder, tuesday(5), "10 x 1 min, 1 min jog")

    def feeds() -> str:
        return "".join(path.read_text("utf-8") for path in (folder.parent / "site").rglob("*.ics"))

    publish(folder, TODAY)
    assert "10 × 1 min" not in feeds().replace("\r\n ", "")
    accept(folder)
    publish(folder, TODAY)
    assert "10 × 1 min" in feeds().replace("\r\n ", "")


def test_only_that_night_changes_where_the_rules_have_room_for_it(folder: Path) -> None:
    """The same work in other repeats: no week gets heavier, so nothing else has to give way."""
    tell(folder, tuesday(4), "hills 6 x 150 s, jog down")
    for one in replan(folder):
        dates = {change.after.date for change in one.answer.changes if change.after}
        assert dates <= {tuesday(4) + day * DAY for day in range(-1, 6)}, one.name
        for week in one.accepted.weeks:
            laid = next(two for two in plans(folder)[one.name].weeks if two.number == week.number)
            assert week.distance_m <= laid.distance_m * 1.1


def test_who_does_not_come_stays_as_they_are(folder: Path) -> None:
    before = plans(folder)
    away = {name for name, plan in before.items() if not any(one.date == tuesday(5) + 2 * DAY and
            one.role == "club" for one in plan.sessions)}  # fmt: skip
    assert away
    tell(folder, tuesday(5) + 2 * DAY, "6 x 3 min, 90 s jog")
    answered = {one.name for one in accept(folder)}
    assert answered
    assert not away & answered
    after = plans(folder)
    assert {name: after[name].weeks for name in away} == {name: before[name].weeks for name in away}


def test_a_proposal_that_is_written_down_stays_what_it_was(folder: Path) -> None:
    before = weeks(folder)
    nights = pipeline.prepare(block := read_block(folder), block.runners).block.nights
    night = next(date for date, one in sorted(nights.items()) if date > TODAY and one.proposed)
    told = said("night", str(folder), str(night), "--accept")
    assert "Wrote it down" in told
    assert night in read_block(folder).nights
    assert all(one.stands for one in replan(folder))
    assert weeks(folder) == before
    assert "(as typed)" in said("night", str(folder), str(night))


def test_a_night_called_off_is_run_alone_and_one_no_longer_off_with_the_group(folder: Path) -> None:
    """No running is lost with a night that is off, and nobody runs twice on one that is held again."""
    held = plans(folder)
    tell(folder, tuesday(3), "off")
    tell(folder, tuesday(6), "6 x 3 min, 90 s jog")
    accept(folder)
    for name, plan in plans(folder).items():
        alone, was = on(plan, tuesday(3)), on(held[name], tuesday(3))
        if was is not None and was.role == "club":
            assert alone is not None, name
            assert (alone.role, alone.start_time, alone.group_ends, alone.place) in {
                (role, None, None, "") for role in ("easy", "key")
            }
            assert alone.work_s <= was.work_s + 1
        again = [one for one in plan.sessions if one.date == tuesday(6) and not one.cancelled]
        assert [one.role for one in again if one.role not in ("strength", "cross")] == ["club"], name
    for _, breaches in pipeline.check_block(read_block(folder)):
        assert not [one.text for one in breaches if not one.excepted]
    assert all(one.stands for one in replan(folder))


def test_a_line_taken_out_gives_the_night_back_to_what_serves_most(folder: Path) -> None:
    take_out(folder, tuesday(4))
    nights = pipeline.prepare(block := read_block(folder), block.runners).block.nights
    assert nights[tuesday(4)].proposed
    found = accept(folder)
    whys = {why.text for one in found for change in one.answer.changes for why in change.why}
    assert any(nights[tuesday(4)].text in text for text in whys)
    assert all(one.stands for one in replan(folder))


def test_until_it_is_accepted_everything_says_so(folder: Path) -> None:
    night = tuesday(4)
    asked = said("night", str(folder), str(night))
    tell(folder, night, "hills 7 x 90 s, jog down")
    waits = said("night", str(folder), str(night))
    assert waits.startswith(asked)  # the sheet is that of the plans that hold
    assert 'By now "hills 7 x 90 s, jog down" is typed, not yet accepted.' in waits
    for words in (
        ["build", str(folder), "--out", str(folder.parent / "out")],
        ["changes", str(folder)],
        ["board", str(folder), "--out", str(folder.parent / "board.html")],
    ):
        assert "What was typed for the night of Tuesday 13 April is not in the accepted plans yet" in said(
            *words
        )
    assert "is not in the accepted plans yet" in (folder.parent / "out" / "coach.html").read_text("utf-8")
    accept(folder)
    assert "not in the accepted plans" not in said("build", str(folder), "--out", str(folder.parent / "out"))
    assert "hills 7 x 90 s" in said("night", str(folder), str(night))


def test_an_undone_answer_waits_again(folder: Path) -> None:
    before = weeks(folder)
    tell(folder, tuesday(5), "10 x 1 min, 1 min jog")
    accept(folder)
    living.undo(folder, only=None, today=TODAY, now=noon(TODAY))
    assert weeks(folder) == before
    assert any(one.answer.changes for one in replan(folder))


def test_no_race_is_run_easily_for_a_night_that_was_typed_later(accepted: Path, tmp_path: Path) -> None:
    """Common practice, no source: a tune-up is raced, and the night in its week is what gives way."""
    folder = Path(shutil.copytree(accepted, tmp_path / "block"))
    shutil.rmtree(folder / "state")
    file, sunday = folder / "block.toml", tuesday(5) + 5 * DAY
    race = f'tune_ups = [{{ name = "Quarry 10", date = {sunday}, distance = "10 km", entered = true }}]'
    file.write_text(file.read_text("utf-8").replace("[training]", f"[training]\n{race}"), "utf-8")
    delivery.accept_as_they_stand(read_block(folder), now=noon(FIRST_DAY))
    before = plans(folder)
    tell(folder, tuesday(5), "10 x 1 min, 1 min jog")
    accept(folder)
    after = plans(folder)
    assert any(on(plan, tuesday(5)) != on(before[name], tuesday(5)) for name, plan in after.items())
    for name, plan in before.items():
        raced, now = on(plan, sunday), on(after[name], sunday)
        assert raced is not None, name
        assert now is not None, name
        assert (now.hard, now.work_s) == (raced.hard, raced.work_s), name


def test_a_night_that_a_person_called_off_for_a_runner_stays_off(folder: Path) -> None:
    name, plan = next(iter(plans(folder).items()))
    session = on(plan, tuesday(5))
    assert session is not None
    skip = {"do": "skip", "session": session.id, "runner": name, "on": TODAY}
    living.edit(folder, skip, today=TODAY, now=noon(TODAY))
    tell(folder, tuesday(5), "10 x 1 min, 1 min jog")
    accept(folder)
    assert on(plans(folder)[name], tuesday(5)) is None


def test_a_night_moved_for_all_takes_a_new_line_with_it(folder: Path) -> None:
    move = {"do": "move", "session": str(tuesday(5)), "runner": "everyone", "on": TODAY,
            "to": tuesday(5) + DAY}  # fmt: skip
    living.edit(folder, move, today=TODAY, now=noon(TODAY))
    tell(folder, tuesday(5), "10 x 1 min, 1 min jog")
    accept(folder)
    club = [one for plan in plans(folder).values() for one in plan.sessions if one.role == "club"]
    moved = [one for one in club if one.date == tuesday(5) + DAY]
    assert any(one.hard and main_work_s(one) <= 600 for one in moved)
    assert not [one for one in club if one.date == tuesday(5)]
