"""Club nights told behind the accepted plan, for one runner: what gives way to them, and what does not."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from planbuilder.plan.types import Session, Week
from planbuilder.rules.typed_night import TypedNight, read_night
from planbuilder.schedule import make_schedule
from planbuilder.schedule.replan import NightTold, Replan, Situation, replan, with_laid
from tests.schedule.builders import request_of

DAY = dt.timedelta(days=1)


REQUEST = request_of(
    training={"club_nights": [{"day": "tuesday", "time": "19:00"}]},
    weekly_distance="55 km",
    longest_run="18 km",
    fast_minutes=30,
    days=("monday", "tuesday", "wednesday", "friday", "saturday", "sunday"),
    results=[{"distance": "10 km", "time": "42:00", "date": dt.date(2027, 2, 14)}],
)


def night_of(date: dt.date, line: str) -> TypedNight:
    return read_night(line, name=f"night_{date:%Y_%m_%d}", library=REQUEST.library, limits=REQUEST.limits)


TUESDAYS = [REQUEST.first_day + (7 * number + 1) * DAY for number in range(1, 12)]
EASY = {date: night_of(date, "easy 50 min") for date in TUESDAYS}  # the key sessions are the runner's own
ALL_EASY = replace(REQUEST, nights=EASY)
WEEKS = make_schedule(ALL_EASY).all_weeks


def week_of(weeks: tuple[Week, ...], date: dt.date) -> Week:
    return next(week for week in weeks if week.first_day <= date <= week.last_day)


def on(weeks: tuple[Week, ...], date: dt.date) -> Session:
    return next(one for one in week_of(weeks, date).sessions if one.date == date and not one.cancelled)


def ask(told: NightTold, *, accepted: tuple[Week, ...] = WEEKS, today: dt.date | None = None) -> Replan:
    """The answer, which holds every rule, keeps the past and settles."""
    nights = {date: night for date, night in EASY.items() if date != told.date}
    if told.night is not None:
        nights[told.date] = told.night
    off = (told.date,) if told.off else ()
    request = replace(
        REQUEST, nights=nights, training=REQUEST.training.model_copy(update={"nights_off": off})
    )
    day = today or told.date - 10 * DAY
    situation = Situation(request=request, accepted=accepted, original=accepted, today=day, nights=(told,))
    answer = replan(situation)
    assert not answer.breaches
    before = {one.id: one for week in accepted for one in week.sessions if one.date < day}
    assert before.items() <= {one.id: one for week in answer.weeks for one in week.sessions}.items()
    settled = replace(situation, accepted=answer.weeks, original=with_laid(accepted, answer.laid), nights=())
    assert not replan(settled).changes
    return answer


LOADED = [date for date in TUESDAYS if not (week := week_of(WEEKS, date)).recovery and week.phase != "taper"]


@pytest.mark.parametrize("date", LOADED[1:])
def test_the_night_holds_its_work_and_the_hard_session_beside_it_moves_or_gives_way(date: dt.date) -> None:
    """A day between hard days, common practice: what stood on Monday or Wednesday stands there no more."""
    answer = ask(NightTold(date, night_of(date, "8 x 2 min, 90 s jog")))
    session = on(answer.weeks, date)
    assert session.role == "club"
    assert session.hard
    hard = [one.date for one in week_of(answer.weeks, date).sessions if one.hard and not one.cancelled]
    assert date - DAY not in hard
    assert date + DAY not in hard


def test_the_same_line_told_again_changes_nothing() -> None:
    assert not ask(NightTold(LOADED[2], EASY[LOADED[2]])).changes


def test_a_night_that_is_past_stays_as_it_was_run() -> None:
    told = NightTold(LOADED[2], night_of(LOADED[2], "8 x 2 min, 90 s jog"))
    assert not ask(told, today=LOADED[2] + DAY).changes


def test_a_night_that_is_off_is_run_alone_and_nothing_else_changes() -> None:
    date = LOADED[2]
    answer = ask(NightTold(date, None, off=True))
    (change,) = answer.changes
    assert change.after is not None
    assert change.before is not None
    assert (change.after.role, change.after.group_ends, change.after.place) == ("easy", None, "")
    assert change.after.id == change.before.id
    assert change.after.distance_m <= change.before.distance_m + 1


def test_no_week_gets_heavier_than_the_rules_allow_with_hard_nights_one_after_the_other() -> None:
    """``ask`` finds no breach after each; the work of a week grows with what was run before (limits.toml)."""
    weeks = WEEKS
    for date in LOADED[:6]:
        weeks = ask(NightTold(date, night_of(date, "10 x 3 min, 90 s jog")), accepted=weeks).weeks
    assert sum(on(weeks, date).hard for date in LOADED[:6]) >= 4
