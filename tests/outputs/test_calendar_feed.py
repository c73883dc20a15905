"""The bytes of a feed: order, folding, what they say and what they never say."""

from __future__ import annotations

import datetime as dt
import os
import re
import subprocess
import sys
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from planbuilder.outputs.calendar import (
    check_feed,
    fingerprint_of,
    first_revisions,
    meaning_digest,
    uid_of,
    write_feed,
)
from planbuilder.outputs.calendar.content import content_of
from planbuilder.outputs.calendar.ical import fold
from planbuilder.plan.types import Ground, Plan, Session, Step
from tests.outputs.sample_plan import NAME, sample_plan


def _feed(plan: Plan, **options: Any) -> bytes:
    return write_feed(plan, first_revisions(plan), **options)


def _events(data: bytes) -> dict[str, Any]:
    calendar = Calendar.from_ical(data)
    assert isinstance(calendar, Calendar)
    return {str(event["UID"]): event for event in calendar.events}


def _event(plan: Plan, session_id: str, **options: Any) -> Any:
    return _events(_feed(plan, **options))[uid_of(plan.race.key, plan.runner.key, session_id)]


def _change(plan: Plan, session_id: str, **values: Any) -> Plan:
    """The plan with one session changed."""
    weeks = tuple(
        replace(
            week,
            sessions=tuple(
                replace(session, **values) if session.id == session_id else session
                for session in week.sessions
            ),
        )
        for week in plan.weeks
    )
    return replace(plan, weeks=weeks)


# Bytes ---------------------------------------------------------------------------------------------------


def test_the_file_is_utf_8_with_crlf_and_no_line_above_75_octets() -> None:
    """RFC 5545 3.1."""
    data = _feed(sample_plan())
    assert data.endswith(b"END:VCALENDAR\r\n")
    assert not data.startswith(b"\xef\xbb\xbf")
    lines = data.split(b"\r\n")
    assert all(b"\r" not in line and b"\n" not in line for line in lines)
    assert max(map(len, lines)) <= 75
    assert all(line.decode("utf-8") or line == b"" for line in lines), "each line stands alone as UTF-8"


@given(st.text(st.sampled_from('\\;,nN"é漢🏃 a'), min_size=60, max_size=400))
def test_folding_cuts_neither_characters_nor_escapes_and_loses_nothing(text: str) -> None:
    escaped = text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    line = f"DESCRIPTION:{escaped}".encode()
    folded = fold(line)
    assert folded.replace(b"\r\n ", b"") == line
    for piece in folded.split(b"\r\n "):
        piece.decode("utf-8")
        assert (len(piece) - len(piece.rstrip(b"\\"))) % 2 == 0
    assert all(len(part) <= 75 for part in folded.split(b"\r\n"))


def test_a_line_of_exactly_75_octets_is_not_folded_and_one_of_76_is() -> None:
    assert fold(b"x" * 75) == b"x" * 75
    assert fold(b"x" * 76) == b"x" * 75 + b"\r\n x"


def test_the_head_says_what_clients_need_and_nothing_that_harms() -> None:
    """The properties are those of RFC 7986; what UID and METHOD do to real clients is tested with them."""
    head = _feed(sample_plan()).partition(b"BEGIN:VTIMEZONE")[0].decode().replace("\r\n ", "").split("\r\n")
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT6H" in head
    assert "X-PUBLISHED-TTL:PT6H" in head
    assert "X-WR-TIMEZONE:Europe/Lisbon" in head
    assert "NAME:Heron Bay Half plan" in head
    assert "X-WR-CALNAME:Heron Bay Half plan" in head
    assert not [line for line in head if line.startswith(("UID", "METHOD", "SOURCE"))]


def test_a_name_with_what_must_be_escaped_is_written_without_it() -> None:
    plan = sample_plan()
    plan = replace(plan, race=replace(plan.race, name="Sea, Sand; and \\ Sky"))
    assert b"NAME:Sea \xe2\x80\x93 Sand \xe2\x80\x93 and \xe2\x80\x93 Sky plan\r\n" in _feed(plan)


def test_the_one_off_file_does_not_ask_to_be_fetched_again() -> None:
    plan = sample_plan()
    once, feed = _feed(plan, one_off=True), _feed(plan)
    assert b"REFRESH-INTERVAL" not in once
    assert b"X-PUBLISHED-TTL" not in once
    assert b"Changes do not reach this copy" in once.replace(b"\r\n ", b"")
    assert once[once.index(b"BEGIN:VTIMEZONE") :] == feed[feed.index(b"BEGIN:VTIMEZONE") :]


def test_the_order_of_sessions_and_weeks_does_not_matter() -> None:
    plan = sample_plan()
    turned = tuple(replace(week, sessions=week.sessions[::-1]) for week in plan.weeks[::-1])
    stamp = dt.datetime(2027, 3, 1, tzinfo=dt.UTC)
    mixed = replace(plan, weeks=turned)
    names = {week.number: week for week in plan.weeks}
    assert {week.number for week in mixed.weeks} == set(names)
    assert write_feed(plan, first_revisions(plan, stamp)) == write_feed(mixed, first_revisions(mixed, stamp))


@pytest.mark.parametrize(
    ("flags", "environment"),
    [
        ((), {"PYTHONHASHSEED": "1"}),
        ((), {"PYTHONHASHSEED": "4711", "TZ": "Pacific/Auckland"}),
        (("-O",), {"TZ": "America/St_Johns", "LANG": "C"}),
        (("-OO",), {"TZ": "Asia/Kathmandu", "LANG": "tr_TR.UTF-8", "LC_ALL": "C.UTF-8"}),
    ],
)
def test_the_bytes_are_the_same_on_any_machine(flags: tuple[str, ...], environment: dict[str, str]) -> None:
    program = (
        "import sys\n"
        "from tests.outputs.sample_plan import sample_plan\n"
        "from planbuilder.outputs.calendar import first_revisions, fingerprint_of, write_feed\n"
        "plan = sample_plan(reminder=True, busy=True)\n"
        "sys.stdout.buffer.write(fingerprint_of(plan).encode() + write_feed(plan, first_revisions(plan)))\n"
    )
    done = subprocess.run(
        [sys.executable, *flags, "-c", program],
        env={**os.environ, **environment},
        cwd=Path(__file__).parents[2],
        capture_output=True,
        check=True,
        timeout=60,
    )
    plan = sample_plan(reminder=True, busy=True)
    assert done.stdout == fingerprint_of(plan).encode() + _feed(plan)


def test_a_line_break_in_a_name_injects_nothing_even_without_assertions() -> None:
    """The library stops this with an assert alone, which python -O removes."""
    plan = sample_plan()
    evil = "x\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nX-EVIL:1"
    plan = replace(plan, race=replace(plan.race, name=evil, timezone="Europe/Lisbon"))
    plan = _change(plan, "w01-easy", title=evil, place=evil)
    data = _feed(plan)
    assert check_feed(data) == []
    assert not re.search(rb"(?m)^X-EVIL", data)


# What an event says --------------------------------------------------------------------------------------


def test_titles_fit_a_phone_and_say_kind_and_size() -> None:
    titles = [str(event["SUMMARY"]) for event in _events(_feed(sample_plan())).values()]
    assert max(map(len, titles)) <= 30
    assert "Easy run 45 min" in titles
    assert "Long run, flat then up 16 km" in titles
    assert "Long hill repeats 5 × 3 min" in titles
    assert "Race: Heron Bay Half, 21.1 km" in titles


def _titled(title: str, **values: Any) -> str:
    plan = _change(sample_plan(), "w01-easy", title=title, **values)
    return str(_event(plan, "w01-easy")["SUMMARY"])


@pytest.mark.parametrize(
    ("title", "duration_s", "shown"),
    [
        ("Easy run", 2700, "Easy run 45 min"),
        ("Long run with a hill finish", 6600, "Long run + hill finish 1 h 50"),
        ("Easy run with short hill sprints", 2400, "Easy run 40 min"),
        ("Long run, flat then up to the mast", 6600, "Long run 1 h 50 min"),
        ("Short touch of race effort", 2280, "Short touch of race effort"),
    ],
)
def test_a_long_title_says_less_before_it_grows_out_of_a_phone(
    title: str, duration_s: float, shown: str
) -> None:
    assert _titled(title, duration_s=duration_s) == shown


def test_a_long_run_is_told_by_its_whole_length_even_where_it_holds_repeats() -> None:
    plan = sample_plan()
    hills = next(session for session in plan.sessions if session.id == "w02-hills")
    assert _titled("Long run", role="long", steps=hills.steps, duration_s=5400) == "Long run 1 h 30 min"


@pytest.mark.parametrize(
    ("title", "work", "shown"),
    [
        ("Threshold run", [(1, 840.0, None)], "Threshold run 14 min"),
        ("Time trial", [(1, None, 3000.0)], "Time trial 3000 m"),
        ("Long hill repeats", [(5, 150.0, None)], "Long hill repeats 5 × 2:30 min"),
        ("Repetitions", [(8, 45.0, None)], "Repetitions 8 × 45 s"),
        ("Threshold run", [(1, 1200.0, None), (4, 30.0, None)], "Threshold run"),
    ],
)
def test_beside_a_hard_kind_stands_its_work_and_never_the_whole_time(
    title: str, work: list[tuple[int, float | None, float | None]], shown: str
) -> None:
    """42 min beside the words "threshold run" would be run at threshold: common practice, no source."""
    easy = Step("warm_up", 1, 1200.0, None, (2.0, 3.0), None, Ground("any"), "easy")
    steps = [
        Step("work", repeat, seconds, metres, (6.0, 7.0), None, Ground("flat"), "even")
        for repeat, seconds, metres in work
    ]
    assert _titled(title, role="key", steps=(easy, *steps, easy), duration_s=2520.0) == shown


def test_a_tune_up_is_told_by_what_is_raced_without_warming_up() -> None:
    plan = sample_plan()
    race = next(session for session in plan.sessions if session.id == "w03-tune-up")
    warm_up = plan.weeks[0].sessions[0].steps[0]
    plan = _change(plan, "w03-tune-up", steps=(warm_up, *race.steps), distance_m=14300.0)
    assert _event(plan, "w03-tune-up")["SUMMARY"] == "Tune-up: Quarry 10, 10 km"


def test_ground_that_the_words_name_already_is_not_named_again() -> None:
    ground = Ground("up", 0.065, "a hill of about 6.5 %")
    hills = sample_plan().weeks[1].sessions[0].steps[1]
    words = "1 min up a hill of about 6.5 %, short steps"
    plan = _change(sample_plan(), "w01-easy", steps=(replace(hills, words=words, ground=ground),))
    assert f"{words} · RPE 7–8\n" in str(_event(plan, "w01-easy")["DESCRIPTION"])


def test_a_runner_in_miles_reads_miles_and_no_kilometre() -> None:
    events = _events(_feed(sample_plan(units="mi"))).values()
    text = "\n".join(f"{event['SUMMARY']}\n{event['DESCRIPTION']}" for event in events)
    assert "Long run, flat then up 10 mi" in text
    assert "8:51–10:04/mi" in text
    assert not re.search(r"\bkm\b|\d m\b", text)


def test_no_unit_mark_is_left_in_any_text() -> None:
    for plan in (sample_plan(), sample_plan(units="mi")):
        assert not re.search(rb"\{(d|l|at|h|p|pb):", _feed(plan).replace(b"\r\n ", b""))


def test_a_description_lists_steps_with_effort_pace_ground_and_reasons() -> None:
    hills = str(_event(sample_plan(), "w02-hills")["DESCRIPTION"])
    assert "5 × 3 min up, strong and even · RPE 7–8 · uphill at 4 %, the quarry lane" in hills
    assert "Warm-up: 15 min easy · RPE 2–3 · 5:30–6:15/km" in hills
    assert "Why: Rehearses climb 1: 62 m at 3.4 %" in hills
    assert "Instead: A treadmill at 4 % does the same" in hills
    long = str(_event(sample_plan(), "w01-long")["DESCRIPTION"])
    assert "Caution: Ease off at once if pain changes how you run" in long
    assert len(long) <= 1500


def test_the_race_carries_its_plan() -> None:
    event = _event(sample_plan(), "w04-race")
    text = str(event["DESCRIPTION"])
    assert "Plan A: 1:41:10 on an even effort" in text
    assert "km 15.0–16.8: RPE 7–8 · 5:25–5:37/km · clock 1:21:24 · Shorten the stride, eyes up" in text
    assert "Do not start with any of these:\n- a fever in the last 48 hours\n" in text
    assert "Check at km 15.0: Slower than 1:13:00 at the foot: go to plan B" in text
    assert event["TRANSP"] == "OPAQUE"
    assert event["LOCATION"] == "Heron Bay, sea wall"
    assert len(text) <= 1500


def test_a_race_without_a_clock_is_told_by_effort() -> None:
    plan = sample_plan()
    silent = tuple(
        replace(stretch, clock_s=None, pace_low_s_per_km=None, pace_high_s_per_km=None)
        for stretch in plan.race_plan.features
    )
    plan = replace(plan, race_plan=replace(plan.race_plan, features=silent, finish_time_s=None))
    text = str(_event(plan, "w04-race")["DESCRIPTION"])
    assert "km 15.0–16.8: RPE 7–8 · Shorten the stride, eyes up" in text


def test_health_and_other_names_never_reach_a_calendar() -> None:
    plan = sample_plan(page_link=True, reminder=True, refused=True)
    text = _feed(plan, page_url="https://plans.club.example/x/plan.html").replace(b"\r\n ", b"").decode()
    for word in ("calf sore", "Left calf", "pain 3", "3 of 10", NAME, "Sam", "too short to build"):
        assert word not in text, word


def test_a_session_without_an_hour_lasts_the_day_and_its_end_is_the_next() -> None:
    event = _event(sample_plan(), "w02-easy-2")
    assert event["DTSTART"].dt == dt.date(2027, 3, 27)
    assert event["DTEND"].dt == dt.date(2027, 3, 28)
    assert event["DTSTART"].params["VALUE"] == "DATE"


@pytest.mark.parametrize(
    ("session", "busy", "expected"),
    [
        ("w01-club", False, "TRANSPARENT"),
        ("w01-club", True, "OPAQUE"),
        ("w01-long", True, "TRANSPARENT"),  # lasts all day: would block all of it
        ("w04-club", True, "TRANSPARENT"),  # called off
        ("w04-race", False, "OPAQUE"),
    ],
)
def test_training_blocks_the_day_only_for_who_asked(session: str, busy: bool, expected: str) -> None:
    event = _event(sample_plan(busy=busy), session)
    assert event["TRANSP"] == expected
    assert event["X-MICROSOFT-CDO-BUSYSTATUS"] == ("BUSY" if expected == "OPAQUE" else "FREE")


@pytest.mark.parametrize(
    ("session", "evening"),
    [
        ("w01-club", "2027-03-15T20:00:00+00:00"),
        ("w01-easy", "2027-03-17T20:00:00+00:00"),
        ("w02-long", "2027-03-27T20:00:00+00:00"),  # the clocks go forward in between
        ("w04-race", "2027-04-10T19:00:00+00:00"),  # 20:00 in summer time
    ],
)
def test_a_reminder_rings_at_eight_on_the_evening_before(session: str, evening: str) -> None:
    event = _event(sample_plan(reminder=True), session)
    (alarm,) = event.walk("VALARM")
    rings = event["DTSTART"].dt.astimezone(dt.UTC) + alarm["TRIGGER"].dt
    assert rings == dt.datetime.fromisoformat(evening)


def test_a_reminder_for_an_untimed_session_counts_from_midnight() -> None:
    (alarm,) = _event(sample_plan(reminder=True), "w01-long").walk("VALARM")
    assert alarm["TRIGGER"].dt == -dt.timedelta(hours=4)


def test_no_reminder_unless_asked_and_none_for_a_session_called_off() -> None:
    assert b"VALARM" not in _feed(sample_plan())
    assert not _event(sample_plan(reminder=True), "w04-club").walk("VALARM")


def test_the_address_of_the_page_stands_only_where_the_runner_asked_for_it() -> None:
    address = "https://plans.club.example/secret/plan.html"
    assert address.encode() not in _feed(sample_plan(), page_url=address).replace(b"\r\n ", b"")
    event = _event(sample_plan(page_link=True), "w01-easy", page_url=address)
    assert event["URL"] == address
    assert str(event["DESCRIPTION"]).endswith(address)


def test_a_session_called_off_says_so_in_its_title_and_status() -> None:
    event = _event(sample_plan(), "w04-club")
    assert event["STATUS"] == "CANCELLED"
    assert event["SUMMARY"] == "Cancelled: Threshold repeats"
    assert "called off" in event["DESCRIPTION"]


def test_a_session_called_off_that_has_no_revision_is_left_out() -> None:
    plan = sample_plan()
    revisions = {name: entry for name, entry in first_revisions(plan).items() if name != "w04-club"}
    assert len(_events(write_feed(plan, revisions))) == len(plan.sessions) - 1


def test_any_other_session_without_a_revision_is_an_error() -> None:
    plan = sample_plan()
    revisions = {name: entry for name, entry in first_revisions(plan).items() if name != "w01-long"}
    with pytest.raises(KeyError, match="w01-long"):
        write_feed(plan, revisions)


def test_sessions_after_the_race_are_in_the_feed() -> None:
    assert _event(sample_plan(), "w05-after")["DTSTART"].dt == dt.date(2027, 4, 16)


def test_a_plan_without_sessions_is_one_event_never_an_empty_calendar() -> None:
    plan = replace(sample_plan(), weeks=())
    (event,) = _events(write_feed(plan, {})).values()
    assert event["SUMMARY"] == "Heron Bay Half: no sessions"


# Identity and meaning ------------------------------------------------------------------------------------


def test_uids_are_bare_uuids_that_depend_on_block_runner_and_session_alone() -> None:
    """RFC 7986 5.3: no host, no user, no domain in a UID."""
    assert re.fullmatch(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", uid_of("a", "b", "c"))
    uids = {uid_of(*parts) for parts in (("a", "b", "c"), ("a", "b", "d"), ("a", "c", "c"), ("b", "b", "c"))}
    assert len(uids) == 4
    moved = _change(sample_plan(), "w01-long", date=dt.date(2027, 3, 20), title="Other")
    assert set(_events(_feed(moved))) == set(_events(_feed(sample_plan())))


def test_the_first_stamp_depends_on_the_block_alone() -> None:
    plan = sample_plan()
    assert {revision.changed for revision in first_revisions(plan).values()} == {
        dt.datetime(2027, 3, 15, tzinfo=dt.UTC)
    }
    stamp = dt.datetime(2027, 3, 1, 12, 0, 5, 999, tzinfo=dt.UTC)
    assert next(iter(first_revisions(plan, stamp).values())).changed == stamp.replace(microsecond=0)


_SHOWN: dict[str, Any] = {
    "title": "Other",
    "date": dt.date(2027, 3, 19),
    "start_time": dt.time(8, 0),
    "place": "Elsewhere",
    "why": "Other",
    "caution": "Mind the ice",
    "substitute": "Steps",
    "fuelling": "Water",
    "cancelled": True,
    "duration_s": 3000.0,
    "distance_m": 9000.0,
    "rehearses_m": ((0.0, 500.0),),
}


@pytest.mark.parametrize("field", _SHOWN)
def test_the_digest_moves_with_everything_a_runner_can_see(field: str) -> None:
    plan = sample_plan()
    changed = _change(plan, "w01-easy", **{field: _SHOWN[field]})
    assert _digest(plan, "w01-easy") != _digest(changed, "w01-easy")
    assert _digest(plan, "w01-long") == _digest(changed, "w01-long")
    assert fingerprint_of(plan) != fingerprint_of(changed)


@pytest.mark.parametrize(("field", "value"), [("private_note", "calf"), ("reasons", ())])
def test_the_digest_stays_with_what_a_runner_cannot_see(field: str, value: Any) -> None:
    plan = sample_plan()
    assert _digest(plan, "w01-easy") == _digest(_change(plan, "w01-easy", **{field: value}), "w01-easy")


def _digest(plan: Plan, session_id: str) -> str:
    session = next(session for session in plan.sessions if session.id == session_id)
    return meaning_digest(plan, session)


@pytest.mark.parametrize(
    "change",
    [
        {"units": "mi"},
        {"timezone": "Europe/Paris"},
        {"reminder": True},
        {"busy": True},
    ],
)
def test_units_zone_reminder_and_busy_are_part_of_the_meaning(change: dict[str, Any]) -> None:
    plan, other = sample_plan(), sample_plan(**change)
    assert _digest(plan, "w01-club") != _digest(other, "w01-club")
    assert fingerprint_of(plan) != fingerprint_of(other)


def test_every_field_that_a_feed_can_read_moves_the_fingerprint() -> None:
    """A new field of the plan's types cannot be forgotten: whatever it is, the fingerprint reads it."""
    plan = sample_plan()
    before = fingerprint_of(plan)
    session = plan.weeks[1].sessions[0]
    step = session.steps[1]
    for kind, owner in ((Session, session), (Step, step), (Ground, step.ground)):
        for field in fields(kind):
            if field.name in ("reasons", "private_note", "steps", "ground"):
                continue
            value = _other(getattr(owner, field.name))
            if kind is Session:
                changed = _change(plan, session.id, **{field.name: value})
            else:
                new = (
                    replace(step, ground=replace(step.ground, **{field.name: value}))
                    if kind is Ground
                    else (replace(step, **{field.name: value}))
                )
                steps = (session.steps[0], new, *session.steps[2:])
                changed = _change(plan, session.id, steps=steps)
            assert fingerprint_of(changed) != before, f"{kind.__name__}.{field.name}"


def _other(value: Any) -> Any:
    match value:
        case bool():
            return not value
        case str():
            return f"{value}x"
        case int() | float():
            return value + 1
        case dt.date():
            return value + dt.timedelta(days=1)
        case tuple():
            return (*value, (1.0, 2.0))
        case None:
            return dt.time(9, 0)
    raise AssertionError(value)


def test_equal_digests_give_equal_bytes_of_an_event() -> None:
    plan = sample_plan()
    same = _change(plan, "w01-easy", private_note="sore", reasons=())
    assert _feed(plan) == _feed(same)
    week, session = plan.weeks[0], plan.weeks[0].sessions[1]
    assert content_of(plan, week, session).digest == meaning_digest(plan, session)
