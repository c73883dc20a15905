"""After a long break the block drops back a phase; after four weeks it begins again (common practice)."""

from __future__ import annotations

import pytest

from planbuilder.schedule.replan import Situation, replan
from tests.schedule.test_replan import DAY, REQUEST, WEEKS, ask, first, missed

ORDER = ("base", "build", "specific", "taper", "after")


@pytest.mark.parametrize(("start", "days", "steps"), [(4, 14, 1), (5, 20, 1), (3, 30, 2)])
def test_weeks_back_after_a_long_break_stand_a_phase_earlier(start: int, days: int, steps: int) -> None:
    today = first(start) + days * DAY
    answer = ask(today, log=missed(first(start), today - DAY))
    before = {week.number: week.phase for week in WEEKS}
    moved = [week for week in answer.weeks if week.phase != before[week.number]]
    assert moved
    for week in moved:
        assert week.last_day >= today
        assert before[week.number] not in ("taper", "after")
        back = ORDER.index(before[week.number]) - ORDER.index(week.phase)
        assert back == 1 if steps == 1 else week.phase == "base"
        library = REQUEST.library
        hard = [one for one in week.sessions if one.date >= today and one.hard and one.role != "tune_up"]
        assert all(week.phase in library.template(one.kind).phases for one in hard)


def test_a_short_break_changes_no_phase_and_a_corrected_log_brings_them_back() -> None:
    start = first(5)
    short = ask(start + 8 * DAY, log=missed(start, start + 7 * DAY))
    assert [week.phase for week in short.weeks] == [week.phase for week in WEEKS]
    today = start + 20 * DAY
    long = ask(today, log=missed(start, today - DAY))
    corrected = replan(Situation(request=REQUEST, accepted=long.weeks, original=WEEKS, today=today))
    assert [week.phase for week in corrected.weeks] == [week.phase for week in WEEKS]
