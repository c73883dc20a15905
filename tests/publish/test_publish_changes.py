"""The message for the squad's chat says what, for whom, from when, why, and when the feed is too slow."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path

import pytest

from planbuilder.outputs.calendar import contents_of
from planbuilder.outputs.squad import board_name
from planbuilder.plan.types import Plan
from planbuilder.publish import Making, SharedPages, changes, count_as_told, say_changes
from planbuilder.publish import sent as sent_file
from planbuilder.publish.changes import Said
from planbuilder.publish.sent import Sent, read_sent
from planbuilder.publish.site import events_now
from planbuilder.settings.models import RaceSettings
from planbuilder.settings.problems import InputProblems
from planbuilder.units import say_date
from tests.outputs.sample_plan import sample_plan
from tests.publish.squad import BEFORE, add, change, drop, in_memory, publish_to, squad

RACE = RaceSettings.model_validate(
    {
        "name": sample_plan().race.name,
        "date": sample_plan().race.date,
        "distance": "half marathon",
        "timezone": sample_plan().race.timezone,
    }
)
NOW = dt.datetime(2027, 3, 16, 12, 0, tzinfo=dt.UTC)
EARLY = NOW - dt.timedelta(days=1)  # more than 48 hours before the first session that the tests change


def _message(
    folder: Path, plans: list[Plan], *, now: dt.datetime = NOW, why: dict[str, str] | None = None
) -> str:
    return changes(folder / "block", plans, now=now, why=why or {}, race=RACE)


def test_before_the_first_publish_there_is_nothing_to_tell(tmp_path: Path) -> None:
    assert _message(tmp_path, squad()) == "Nothing has been published yet.\n"
    assert not (tmp_path / "block").exists()


def test_an_unchanged_plan_has_no_news(tmp_path: Path) -> None:
    plans = squad()
    plans[0] = sample_plan(page_link=True)
    publish_to(tmp_path, plans)
    assert _message(tmp_path, plans) == "Nothing has changed since version 1.\n"


def test_a_folder_that_cannot_be_written_is_read_all_the_same(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    state = tmp_path / "block/state"
    (state / ".lock").unlink()
    (state / ".lock").mkdir()  # nobody can take it now, whoever runs this
    plans = [change(plan, "w02-hills", date=dt.date(2027, 3, 24)) for plan in squad()]
    assert "moves to Wednesday 24 March" in _message(tmp_path, plans)


def test_asking_what_changed_leaves_the_folder_as_it_is(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    state = tmp_path / "block/state"
    for name in (".lock", "secret"):
        (state / name).unlink()
    before = sorted(path.name for path in state.iterdir())
    assert _message(tmp_path, squad()) == "Nothing has changed since version 1.\n"
    assert sorted(path.name for path in state.iterdir()) == before


def test_an_address_that_cannot_be_known_is_said_and_not_made_up(tmp_path: Path) -> None:
    plans = [sample_plan(page_link=True)]
    publish_to(tmp_path, plans)
    (tmp_path / "block/state/secret").unlink()
    with pytest.raises(InputProblems, match="secret must be"):
        _message(tmp_path, plans)
    assert not (tmp_path / "block/state/secret").exists()


def test_files_that_are_swapped_while_they_are_read_are_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    later = [change(plan, "w02-hills", date=dt.date(2027, 3, 24)) for plan in squad()]
    publish_to(tmp_path, squad())
    read, times = sent_file.read_told, []

    def meanwhile(state: Path, sent: Sent, *, whole: bool = False) -> Sent:
        times.append(sent.version)
        if len(times) == 1:
            publish_to(tmp_path, later)
        return read(state, sent, whole=whole)

    monkeypatch.setattr(sent_file, "read_told", meanwhile)
    sent, told = sent_file.read_steadily(tmp_path / "block/state")
    assert (times, sent.version, told.version) == ([1, 2], 2, 2)


def test_the_message_is_complete(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    plans = [change(plan, "w02-hills", date=dt.date(2027, 3, 24)) for plan in squad()]
    plans[0] = change(plans[0], "w02-easy", start_time=dt.time(18, 30))
    plans[0] = change(plans[0], "w02-easy-2", title="Steady run")
    plans[0] = change(plans[0], "w03-club", cancelled=True)
    plans[1] = drop(plans[1], "w03-easy")
    plans[1] = add(plans[1], "w03-easy-2", "w03-easy-9", date=dt.date(2027, 4, 2))
    plans[1] = change(plans[1], "w02-long", why="Another reason")
    why = {"": "the quarry lane is closed", "ines-a": "away at work"}
    message = _message(tmp_path, plans, why=why)
    assert message == (
        "Heron Bay Half: version 2 of the plan, from Tuesday 23 March on.\n"
        "\n"
        "Everyone:\n"
        "- Tuesday 23 March: Long hill repeats 5 × 3 min moves to Wednesday 24 March\n"
        "\n"
        "Ines A:\n"
        "- Sunday 28 March 08:00: Long run, flat then up 11 mi, new details\n"
        "- Thursday 1 April: Easy run 30 min is off\n"
        "- Friday 2 April: new, Easy run 50 min\n"
        "\n"
        'Sam <3 & "Co":\n'
        "- Thursday 25 March 07:15: Easy run 45 min moves to Thursday 25 March 18:30\n"
        "- Saturday 27 March: Easy run 40 min, now Steady run 40 min\n"
        "- Tuesday 30 March 19:00: Threshold repeats 3 × 8 min is off\n"
        "\n"
        "Why: the quarry lane is closed\n"
        "\n"
        "Why, Ines A: away at work\n"
        "\n"
        "Your calendar fetches this by itself, mostly within a day. There is nothing to do.\n"
    )


def test_a_session_called_off_near_its_day_is_told_as_called_off(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    plans = squad()
    plans[0] = change(plans[0], "w01-easy", cancelled=True)
    assert "- Thursday 18 March 07:15: Easy run 45 min is called off" in _message(tmp_path, plans)


def test_a_change_inside_48_hours_says_that_the_feed_is_too_slow(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    plans = squad()
    plans[0] = change(plans[0], "w01-easy", start_time=dt.time(18, 0))  # Thursday 18 March, 07:15 before
    slow = "The calendar feed alone is too slow for that"
    too_slow = f"{slow}: please answer in the chat once you have read it."
    assert too_slow in _message(tmp_path, plans)
    early = dt.datetime(2027, 3, 16, 7, 0, tzinfo=dt.UTC)
    assert too_slow not in _message(tmp_path, plans, now=early)
    assert too_slow in _message(tmp_path, plans, now=early + dt.timedelta(minutes=15))


def test_a_session_moved_away_from_tomorrow_is_hurried_too(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    plans = squad()
    plans[0] = change(plans[0], "w01-easy", date=dt.date(2027, 3, 20))
    assert "too slow" in _message(tmp_path, plans)


def test_what_lies_in_the_past_is_not_told(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    plans = squad()
    plans[0] = change(plans[0], "w01-easy", title="Other")
    later = dt.datetime(2027, 3, 20, 12, tzinfo=dt.UTC)
    assert _message(tmp_path, plans, now=later) == "Nothing has changed since version 1.\n"


def test_many_new_details_are_one_line(tmp_path: Path) -> None:
    publish_to(tmp_path, squad()[:1])
    plans = squad()[:1]
    for session in plans[0].sessions:
        if session.role == "easy":
            plans[0] = change(plans[0], session.id, why="A new test set the paces")
    line = "sessions from Thursday 18 March on: new details, such as steps or paces"
    assert f"- 10 {line}" in _message(tmp_path, plans, now=EARLY)


def test_the_many_changes_of_one_of_a_squad_are_a_count_that_tells_nobody_why(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    plans = [change(plan, "w02-hills", date=dt.date(2027, 3, 24)) for plan in squad()]
    eased = [one.id for one in plans[1].sessions if one.role in ("easy", "long")]
    for session in eased:
        plans[1] = change(plans[1], session, title="Walk")
    message = _message(tmp_path, plans, now=EARLY)
    assert "Walk" not in message
    assert f"Ines A: {len(eased)} sessions from Thursday 18 March on change; see your own page.\n" in message
    assert "Everyone:\n- Tuesday 23 March: Long hill repeats" in message


def test_the_many_changes_that_two_of_a_squad_share_are_a_count_for_each(tmp_path: Path) -> None:
    names = ("Ada P", "Bo K", "Cy L")
    plans = [sample_plan(name=name, key=name.lower().replace(" ", "-")) for name in names]
    publish_to(tmp_path, plans)
    eased = [one.id for one in plans[0].sessions if one.role in ("easy", "long")]
    for at in (0, 1):
        for session in eased:
            plans[at] = change(plans[at], session, title="Walk")
    message = _message(tmp_path, plans, now=EARLY)
    assert "Walk" not in message
    for name in names[:2]:
        assert (
            f"{name}: {len(eased)} sessions from Thursday 18 March on change; see your own page.\n" in message
        )


def test_what_is_too_soon_for_the_feed_is_never_a_count(tmp_path: Path) -> None:
    names = ("Ada P", "Bo K", "Cy L")
    plans = [sample_plan(name=name, key=name.lower().replace(" ", "-")) for name in names]
    publish_to(tmp_path, plans)
    eased = [one.id for one in plans[0].sessions if one.role in ("easy", "long")]
    for session in eased:
        plans[1] = change(plans[1], session, title="Walk")
    message = _message(tmp_path, plans)
    assert "\n\nBo K:\n- Thursday 18 March 07:15: Easy run 45 min, now Walk 45 min\n\n" in message
    assert (
        f"Bo K: {len(eased) - 1} more sessions from Saturday 20 March on change; see your own page.\n"
        in message
    )
    assert message.count("Walk") == 1
    for session in eased:
        plans[1] = change(plans[1], session, title="Easy run", why="Another reason")
    assert "- Thursday 18 March 07:15: Easy run 45 min, new details\n" in _message(tmp_path, plans)


def test_a_night_that_is_moved_or_off_for_all_is_told_once_by_its_date(tmp_path: Path) -> None:
    names = ("Ada P", "Bo K", "Cy L", "Di M")
    plans = [sample_plan(name=name, key=name.lower().replace(" ", "-")) for name in names]
    plans = [change(plan, "w03-club", title=f"Title {at}") for at, plan in enumerate(plans)]
    publish_to(tmp_path, plans)
    day = dt.date(2027, 3, 30)
    moved = [change(plan, "w03-club", date=day + dt.timedelta(days=1)) for plan in plans]
    moved[0] = change(moved[0], "w03-club", title="Easy run")
    moved[1] = change(moved[1], "w03-club", date=day, cancelled=True)
    message = changes(
        tmp_path / "block", moved, now=NOW, why={}, race=RACE, nights={day: day + dt.timedelta(days=1)}
    )
    told = "Club nights, for everybody:\n- Tuesday 30 March 19:00 moves to Wednesday 31 March 19:00"
    assert message.split("\n\n")[1:4] == [
        told,
        "Ada P:\n- Tuesday 30 March 19:00: Title 0 3 × 8 min moves to Wednesday 31 March 19:00, "
        "now Easy run 3 × 8 min",
        "Bo K:\n- Tuesday 30 March 19:00: Title 1 3 × 8 min is off",
    ]
    off = [change(plan, "w03-club", cancelled=True) for plan in plans]
    message = changes(tmp_path / "block", off, now=NOW, why={}, race=RACE, nights={day: None})
    assert message.split("\n\n")[1] == "Club nights, for everybody:\n- Tuesday 30 March 19:00 is off"
    assert not [name for name in names if name in message]


def test_what_more_than_three_share_is_said_once_with_a_count_for_names(tmp_path: Path) -> None:
    names = [f"{letter} Runner" for letter in "ABCDEF"]
    plans = [sample_plan(name=name, key=name.lower().replace(" ", "-")) for name in names]
    publish_to(tmp_path, plans)
    for at in range(5):
        plans[at] = change(plans[at], "w02-hills", date=dt.date(2027, 3, 24))
    plans[4] = change(plans[4], "w02-easy", start_time=dt.time(18, 30))
    message = _message(tmp_path, plans)
    assert message.split("\n\n")[1:3] == [
        "5 runners, as their own pages say:\n"
        "- Tuesday 23 March: Long hill repeats 5 × 3 min moves to Wednesday 24 March",
        "E Runner:\n- Thursday 25 March 07:15: Easy run 45 min moves to Thursday 25 March 18:30",
    ]


def test_who_joined_and_who_left_is_told_by_name(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    message = _message(tmp_path, [squad()[0], sample_plan(name="Bo K", key="bo-k")])
    assert "New in the squad: Bo K." in message
    assert "No longer in the squad: Ines A." in message


def test_telling_writes_nothing_and_the_next_publish_says_the_same_version(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    plans = [change(plan, "w01-easy", title="Other") for plan in squad()]
    record = (tmp_path / "block/state/sent.json").read_bytes()
    assert "version 2 of the plan" in _message(tmp_path, plans)
    assert (tmp_path / "block/state/sent.json").read_bytes() == record
    assert publish_to(tmp_path, plans, now=BEFORE + dt.timedelta(hours=1)).version == 2
    assert _message(tmp_path, plans) == "Nothing has changed since version 2.\n"


def test_health_never_reaches_the_message(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    plans = squad()
    plans[0] = change(plans[0], "w01-easy", title="Own session", private_note="sore achilles")
    assert "achilles" not in _message(tmp_path, plans)


# Where a server sends each change at once -----------------------------------------------------------------


def _served(folder: Path, plans: list[Plan], *, hours: int) -> None:
    in_memory(folder / "block", plans, now=BEFORE + dt.timedelta(hours=hours))


def test_what_a_server_has_sent_is_still_news_for_the_coach(tmp_path: Path) -> None:
    _served(tmp_path, squad(), hours=0)
    plans = [change(plan, "w02-hills", date=dt.date(2027, 3, 24)) for plan in squad()]
    _served(tmp_path, plans, hours=1)
    _served(tmp_path, plans, hours=2)
    message = _message(tmp_path, plans)
    assert message.split("\n\n")[:3] == [
        "Heron Bay Half: version 2 of the plan, from Tuesday 23 March on.",
        "Told here is everything since version 1 of Sunday 14 March 09:00.",
        "Everyone:\n- Tuesday 23 March: Long hill repeats 5 × 3 min moves to Wednesday 24 March",
    ]
    assert _message(tmp_path, plans) == message, "asking takes nothing away"


def test_what_a_server_sent_and_what_it_will_send_are_told_as_one_version(tmp_path: Path) -> None:
    _served(tmp_path, squad(), hours=0)
    plans = [change(plan, "w02-hills", date=dt.date(2027, 3, 24)) for plan in squad()]
    _served(tmp_path, plans, hours=1)
    plans[0] = change(plans[0], "w03-club", cancelled=True)
    message = _message(tmp_path, plans)
    assert "version 3 of the plan" in message
    assert "Tuesday 30 March 19:00: " in message
    assert "moves to Wednesday 24 March" in message


def test_news_begins_anew_once_it_is_told_or_published(tmp_path: Path) -> None:
    _served(tmp_path, squad(), hours=0)
    plans = [change(plan, "w02-hills", date=dt.date(2027, 3, 24)) for plan in squad()]
    _served(tmp_path, plans, hours=1)
    count_as_told(tmp_path / "block/state")
    assert _message(tmp_path, plans) == "Nothing has changed since version 2.\n"
    again = [change(plan, "w03-club", cancelled=True) for plan in plans]
    _served(tmp_path, again, hours=2)
    message = _message(tmp_path, again)
    assert "since version 2 of" in message
    assert "24 March" not in message.partition("Everyone")[2]
    publish_to(tmp_path, again, now=BEFORE + dt.timedelta(hours=3))
    assert _message(tmp_path, again) == "Nothing has changed since version 3.\n"


def test_the_board_of_a_server_tells_the_same_news_at_every_edition(tmp_path: Path) -> None:
    told: list[int] = []

    def shared(making: Making, _: object) -> SharedPages:
        told.append(making.told.version)
        return SharedPages()

    for hours, title in enumerate(("Easy run", "Other", "Other", "Another")):
        plans = [change(plan, "w01-easy", title=title) for plan in squad()]
        in_memory(tmp_path / "block", plans, now=BEFORE + dt.timedelta(hours=hours), shared=shared)
    assert told == [0, 1, 1, 1]


def test_two_of_one_shown_name_are_told_apart(tmp_path: Path) -> None:
    """On the board two people can be "Sam A"; each has their own news."""
    plans = [sample_plan(name=name, key=key) for name, key in (("Sam Ash", "one"), ("Sam Alder", "two"))]
    plans.append(sample_plan(name="Bo K", key="bo"))
    publish_to(tmp_path, plans)
    sent = read_sent(tmp_path / "block/state")
    later = [change(plans[0], "w02-hills", date=dt.date(2027, 3, 24)), *plans[1:]]
    said = {
        plan.runner.key: Said(
            plan.runner.name,
            events_now(plan, contents_of(plan, None), sent.feeds[plan.runner.key].events, NOW.date(), NOW),
        )
        for plan in later
    }
    message = say_changes(sent, sent, said, race=RACE, now=NOW, why={}, shown_as=board_name)
    assert "\n\nSam A:\n" in message
    assert message.count("Sam A") == 1


def _race_week_later(plan: Plan) -> Plan:
    """The race and its tune-up a week later, as a coach who moves the race lays the weeks out again."""
    week = dt.timedelta(weeks=1)
    for session in plan.sessions:
        if session.role in ("race", "tune_up"):
            plan = change(plan, session.id, date=session.date + week)
    return replace(plan, weeks=tuple(replace(one, purpose=f"{one.purpose} again") for one in plan.weeks))


def test_a_race_on_another_day_is_told_first_and_once_for_all(tmp_path: Path) -> None:
    names = ("Ada P", "Bo K", "Cy L", "Di M")
    plans = [
        sample_plan(name=name, key=name.lower().replace(" ", "-"), units="mi" if at else "km")
        for at, name in enumerate(names)
    ]
    publish_to(tmp_path, plans)
    moved = [_race_week_later(plan) for plan in plans]
    moved[0] = change(moved[0], "w02-easy", start_time=dt.time(18, 30))
    message = _message(tmp_path, moved, now=EARLY)
    races = [one for one in plans[0].sessions if one.role in ("race", "tune_up")]
    said = [
        f"The {'race' if one.role == 'race' else 'tune-up race'} moves from {say_date(one.date)} to "
        f"{say_date(one.date + dt.timedelta(weeks=1))}, for everybody."
        for one in sorted(races, key=lambda one: one.date)
    ]
    assert message.split("\n\n")[1] == "\n".join(said)
    assert message.split("\n\n")[2].startswith("Ada P:\n- Thursday 25 March 07:15")
    assert "new details" not in message


def test_only_words_of_the_week_are_no_news_and_the_feed_says_them_all_the_same(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    plans = [
        replace(plan, weeks=tuple(replace(one, purpose="Another word") for one in plan.weeks))
        for plan in squad()
    ]
    assert _message(tmp_path, plans) == "Nothing has changed since version 1.\n"
    publish_to(tmp_path, plans, now=BEFORE + dt.timedelta(hours=1))
    later = read_sent(tmp_path / "block/state")
    sent = [event for feed in later.feeds.values() for event in feed.events.values() if not event.gone]
    assert {event.sequence for event in sent} == {1}


def test_what_has_passed_keeps_its_edition(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    plans = [
        replace(plan, weeks=tuple(replace(one, purpose="Another word") for one in plan.weeks))
        for plan in squad()
    ]
    day = dt.date(2027, 3, 30)
    publish_to(tmp_path, plans, now=dt.datetime.combine(day, dt.time(12), dt.UTC))
    for feed in read_sent(tmp_path / "block/state").feeds.values():
        for event in (one for one in feed.events.values() if not one.gone):
            assert event.sequence == (0 if dt.date.fromisoformat(event.date) < day else 1)


def test_a_record_of_before_is_read_and_its_events_are_told_as_ever(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    path = tmp_path / "block/state/sent.json"
    old = json.loads(path.read_bytes())
    old["event"].remove("own")
    for feed in old["feeds"].values():
        feed["events"] = {name: row[:-1] for name, row in feed["events"].items()}
    path.write_text(json.dumps(old))
    assert _message(tmp_path, squad()) == "Nothing has changed since version 1.\n"
    plans = [change(plan, "w02-long", why="Another reason") for plan in squad()]
    assert "new details" in _message(tmp_path, plans)
