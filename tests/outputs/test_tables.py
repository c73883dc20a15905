"""plan.csv: any spreadsheet opens it, and it says what the feed says."""

from __future__ import annotations

import csv
import datetime as dt
import io
from dataclasses import replace

from planbuilder.outputs.calendar import content_of
from planbuilder.outputs.calendar.content import span_of
from planbuilder.outputs.calendar.texts import description_of
from planbuilder.outputs.squad import squad_row
from planbuilder.outputs.tables import plan_csv
from tests.outputs.sample_plan import sample_plan


def test_the_table_tells_each_step_in_the_words_of_the_feed() -> None:
    plan = sample_plan()
    rows = {row["session"]: row for row in csv.DictReader(io.StringIO(plan_csv(plan), newline=""))}
    assert list(rows) == [session.id for session in plan.sessions]
    told = 0
    for week in plan.weeks:
        for session in week.sessions:
            if session.role != "race" and session.steps:
                description = content_of(plan, week, session).description.split("\n")
                assert set(rows[session.id]["steps"].split("; ")) <= set(description) | {""}
                told += 1
    assert told > 10


def test_a_session_that_is_called_off_says_so_and_counts_nothing() -> None:
    plan = sample_plan()
    first, *others = plan.weeks[0].sessions
    week = replace(plan.weeks[0], sessions=(replace(first, cancelled=True), *others))
    table = plan_csv(replace(plan, weeks=(week, *plan.weeks[1:])))
    row = next(csv.DictReader(io.StringIO(table, newline="")))
    assert (row["session"], row["title"]) == (first.id, f"called off: {first.title}")
    assert (row["distance"], row["minutes"]) == ("0", "0")


def test_a_length_that_ends_on_half_a_minute_is_rounded_alike_everywhere() -> None:
    plan = sample_plan()
    week = next(week for week in plan.weeks if any(one.start_time for one in week.sessions))
    timed = next(one for one in week.sessions if one.start_time and one.role not in ("race", "tune_up"))
    odd = replace(timed, duration_s=58.5 * 60)
    changed = replace(plan, weeks=(replace(week, sessions=(odd,)),))
    (row,) = csv.DictReader(io.StringIO(plan_csv(changed), newline=""))
    start, end = span_of(changed, odd)
    (entry,) = squad_row(changed).entries
    assert isinstance(start, dt.datetime)
    assert isinstance(end, dt.datetime)
    assert (row["minutes"], entry.minutes, end - start) == ("59", 59, dt.timedelta(minutes=59))
    assert "59 min" in description_of(changed, week, odd, None)
