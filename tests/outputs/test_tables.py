"""plan.csv: any spreadsheet opens it, and it says what the feed says."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

from planbuilder.outputs.calendar import content_of
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
