"""What is kept of an accepted plan is the plan."""

from __future__ import annotations

import json

from planbuilder.plan.store import week_from_data, week_to_data
from tests.outputs.sample_plan import sample_plan


def test_weeks_come_back_as_they_went() -> None:
    weeks = sample_plan().weeks
    text = json.dumps([week_to_data(week) for week in weeks])
    assert tuple(week_from_data(data) for data in json.loads(text)) == weeks
