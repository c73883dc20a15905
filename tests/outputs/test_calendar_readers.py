"""What independent readers understand of a feed is what the plan says."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planbuilder.outputs.calendar import content_of, first_revisions, uid_of, write_feed
from planbuilder.outputs.calendar.content import clean_text
from planbuilder.plan.types import Plan
from tests.outputs.calendar_readers import READERS, Read, Seen
from tests.outputs.sample_plan import sample_plan

# Every character RFC 5545 3.3.11 escapes, what it looks like escaped, and what has upset readers before.
ODD_TEXTS = (
    'comma, semicolon; backslash\\ colon: quote" caret^',
    "C:\\New\\nothing \\N \\n \\\\n \\; \\, \\\\",
    "one\ntwo\r\nthree\rfour\x85five",
    "nul\x00 bell\x07 escape\x1b delete\x7f",
    "🏃🏽‍♀️👩‍👩‍👧‍👦 run 🇵🇹 é e\u0301",
    "שלום עולם \u202eright to left\u202c مرحبا",
    "line\u2028separator paragraph\u2029separator nbsp\u00a0zwsp\u200b",
    "\\" * 500,
    ";,\\\n" * 300,
    "漢字かな交じり文" * 200,
    "x" * 10_000,
    "= + - @ | ${HOME} %s {d:1600}",
    "BEGIN:VEVENT\nEND:VCALENDAR\nUID:1",
)


def _expected(plan: Plan) -> list[Seen]:
    found = []
    for week in plan.weeks:
        for session in week.sessions:
            content = content_of(plan, week, session)
            found.append(
                Seen(
                    uid=uid_of(plan.race.key, plan.runner.key, session.id),
                    start=_utc(content.start),
                    end=_utc(content.end),
                    sequence=0,
                    status="CANCELLED" if session.cancelled else "CONFIRMED",
                    summary=content.summary,
                    description=content.description,
                    location=content.location,
                )
            )
    return sorted(found, key=lambda seen: seen.uid)


def _utc(value: dt.date | dt.datetime) -> dt.date | dt.datetime:
    return value.astimezone(dt.UTC) if isinstance(value, dt.datetime) else value


def _with_texts(plan: Plan, *texts: str) -> Plan:
    """The plan with a text in the title, place, why and caution of one session after another."""
    weeks = []
    left = list(texts)
    for week in plan.weeks:
        sessions = []
        for session in week.sessions:
            text = left.pop() if left else "plain"
            sessions.append(replace(session, title=text or "x", place=text, why=text, caution=text))
        weeks.append(replace(week, sessions=tuple(sessions)))
    assert not left, "more texts than sessions"
    return replace(plan, weeks=tuple(weeks))


@pytest.mark.parametrize("units", ["km", "mi"])
@pytest.mark.parametrize("name", READERS)
def test_a_reader_sees_every_session_as_the_plan_has_it(name: str, units: str) -> None:
    plan = sample_plan(units="mi" if units == "mi" else "km", reminder=True, busy=True)
    seen = sorted(READERS[name](write_feed(plan, first_revisions(plan))), key=lambda event: event.uid)
    assert seen == _expected(plan)
    assert len(seen) == len(plan.sessions) == 19


@pytest.mark.parametrize("name", READERS)
def test_odd_texts_come_back_identical(name: str) -> None:
    plan = _with_texts(sample_plan(), *ODD_TEXTS)
    seen = sorted(READERS[name](write_feed(plan, first_revisions(plan))), key=lambda event: event.uid)
    assert seen == _expected(plan)


_TEXTS = st.text(
    st.one_of(
        st.sampled_from('\\;,:\n\r\t"^nN\x00\x07\x0b\x85\u2028\u2029\ufeff é漢🏃\u202e\u0301'),
        st.characters(exclude_categories=["Cs"]),
    ),
    max_size=400,
)


def _round_trip(read: Read, texts: list[str]) -> None:
    plan = _with_texts(sample_plan(), *texts)
    seen = sorted(read(write_feed(plan, first_revisions(plan))), key=lambda event: event.uid)
    assert seen == _expected(plan)


@pytest.mark.parametrize("name", ["icalendar", "ical", "libical"])
@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(texts=st.lists(_TEXTS, min_size=10, max_size=19))
def test_any_text_comes_back_identical(name: str, texts: list[str]) -> None:
    _round_trip(READERS[name], texts)


@pytest.mark.slow
@pytest.mark.parametrize("name", READERS)
@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(texts=st.lists(_TEXTS, min_size=10, max_size=19))
def test_thousands_of_texts_come_back_identical(name: str, texts: list[str]) -> None:
    _round_trip(READERS[name], texts)


def test_what_a_calendar_may_not_hold_is_taken_out_and_nothing_else() -> None:
    """RFC 5545 3.1: control characters other than tab are not allowed; a line break is one of its texts."""
    assert clean_text("a\x00b\x07c\x1bd\x7fe\x9ff\ud800g\th") == "abcdefg\th"
    assert clean_text("one\r\ntwo\rthree\x85four") == "one\ntwo\nthree\nfour"
    assert clean_text("\u2028 é 漢 🏃🏽‍♀️ \u202e x") == "\u2028 é 漢 🏃🏽‍♀️ \u202e x".strip()
