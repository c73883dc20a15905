"""How the plan answers, case by case.

The numbers are those of ``limits.toml``: common coaching practice or our choice within it, no source, unless
a test names one.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from planbuilder.plan.types import Session, Week
from planbuilder.rules.context import is_training_run
from planbuilder.schedule import make_schedule
from planbuilder.schedule.replan import Done, EditLine, Replan, Situation, edit_only, replan
from planbuilder.schedule.replan.identity import keep_ids
from planbuilder.settings.health_words import health_words
from tests.schedule.builders import request_of
from tests.schedule.random_histories import done, edit
from tests.schedule.test_replan_properties import MAREN, again, ahead_m, maren

DAY = dt.timedelta(days=1)
REQUEST, WEEKS = maren()


def first(week: int) -> dt.date:
    return WEEKS[week - 1].first_day


def ask(today: dt.date, *, log: Sequence[Done] = (), edits: Sequence[EditLine] = ()) -> Replan:
    """The answer, which must hold every rule, keep the past and settle."""
    situation = Situation(
        request=REQUEST,
        accepted=WEEKS,
        original=WEEKS,
        today=today,
        log=tuple(log),
        edits=tuple(edits),
    )
    answer = replan(situation)
    assert not answer.breaches
    assert ahead_m(answer.weeks, today) <= ahead_m(WEEKS, today) + 1
    assert not replan(again(situation, answer)).changes
    return answer


def sessions(weeks: Sequence[Week]) -> list[Session]:
    return [one for week in weeks for one in week.sessions]


def missed(start: dt.date, end: dt.date) -> list[Done]:
    return [done(one, "missed") for one in sessions(WEEKS) if start <= one.date <= end]


def ahead(answer: Replan, today: dt.date, days: int = 400) -> list[Session]:
    return [
        one
        for one in sessions(answer.weeks)
        if today <= one.date < today + days * DAY and not one.cancelled and is_training_run(one)
    ]


# Missed days ---------------------------------------------------------------------------------------------


def test_one_missed_easy_run_changes_nothing() -> None:
    easy = next(one for one in WEEKS[3].sessions if one.role == "easy")
    assert not ask(easy.date + DAY, log=[done(easy, "missed")]).changes


def test_a_missed_hard_session_is_left_out_and_never_made_up() -> None:
    hard = next(one for one in WEEKS[4].sessions if one.hard)
    answer = ask(hard.date + DAY, log=[done(hard, "missed")])
    assert all(change.after is not None and change.before is not None for change in answer.changes)
    for change in answer.changes:
        assert change.after is not None
        assert change.before is not None
        assert change.after.work_s <= change.before.work_s


def test_after_a_missed_long_run_the_next_is_no_longer_than_it_was() -> None:
    missed_one = next(one for one in WEEKS[4].sessions if one.role == "long")
    answer = ask(missed_one.date + DAY, log=[done(missed_one, "missed")])
    following = next(one for one in answer.weeks[5].sessions if one.role == "long")
    assert following.distance_m <= missed_one.distance_m + 1


def test_a_week_that_loses_a_session_is_not_judged_as_a_recovery_week() -> None:
    """A person's word about one session; what it breaks is judged by what each week was laid out for."""
    today = first(2)
    recovery = {f"Recovery week {week.number} " for week in WEEKS if week.recovery}
    assert recovery
    for session in sessions(WEEKS[2:]):
        if session.role == "race":
            continue
        line = edit("edit/skip", do="skip", session=session.id, on=today)
        situation = Situation(
            request=REQUEST, accepted=WEEKS, original=WEEKS, today=today, log=(), edits=(line,)
        )
        for breach in edit_only(situation).breaches:
            if breach.rule == "load.recovery_share":
                assert any(breach.text.startswith(words) for words in recovery), (session.id, breach.text)


@pytest.mark.parametrize(("days", "share", "easy"), [(8, 0.80, 3), (20, 0.60, 5), (30, 0.50, 5)])
def test_the_first_week_back_is_light_and_its_first_runs_are_easy(days: int, share: float, easy: int) -> None:
    """Seven days and more: at most 80 % and nothing hard in three runs; two weeks: 50 to 60 %, five runs."""
    start = first(5)
    today = start + days * DAY
    answer = ask(today, log=missed(start, today - DAY))
    loaded = [week for week in WEEKS[:4] if not week.recovery][-1].distance_m
    assert sum(one.distance_m for one in ahead(answer, today, 7)) <= share * loaded + 1
    assert not any(one.hard for one in ahead(answer, today)[:easy])
    assert any(note.rule == "adapt.gap_days" for note in answer.notes)


def test_near_the_race_nothing_is_built_again() -> None:
    today = first(11)
    answer = ask(today, log=missed(today - 8 * DAY, today - DAY))
    assert any("the taper goes on as written" in note.text for note in answer.notes)


def test_silence_of_a_runner_who_keeps_no_log_is_no_miss() -> None:
    night = next(one for one in WEEKS[0].sessions if one.role == "club")
    assert not ask(first(6), log=[done(night)]).changes


def test_silence_of_a_runner_who_keeps_a_log_is_a_break() -> None:
    log = [done(one) for one in sessions(WEEKS[:4])]
    answer = ask(first(7), log=log)
    assert answer.changes
    assert not any(one.hard for one in ahead(answer, first(7))[:5])


def test_a_weekday_that_never_fits_is_offered_as_a_day_off() -> None:
    thursdays = [one for one in sessions(WEEKS[:4]) if one.date.weekday() == 3]
    answer = ask(first(5), log=[done(one, "missed") for one in thursdays])
    assert any(note.rule == "adapt.often_missed" and "Thursday" in note.text for note in answer.notes)


def test_a_longer_run_than_planned_shortens_the_next_easy_one() -> None:
    easy = [one for one in WEEKS[4].sessions if one.role == "easy"]
    extra = Done(
        f"log/{easy[0].date}/ines-a", easy[0].date, easy[0].id, "done", distance_m=easy[0].distance_m + 3000
    )
    answer = ask(easy[0].date + DAY, log=[extra])
    (change,) = [one for one in answer.changes if one.before and one.before.id == easy[1].id]
    assert change.after is not None
    assert change.after.distance_m <= easy[1].distance_m - 2000
    assert change.why[0].rule == "adapt.extra_run"


def test_runs_on_every_day_of_rest_are_followed_by_one() -> None:
    """One day of rest in seven: common practice, no source."""
    resting = [first(5) - 3 * DAY, first(5)]  # a Friday and a Monday outside the runner's days
    extra = [Done(f"log/{day}/ines-a", day, "", "done", distance_m=4000.0) for day in resting]
    today = first(5) + DAY
    answer = ask(today, log=extra)
    ran = {one.date for one in sessions(answer.weeks) if not one.cancelled} | set(resting)
    for last in (today + days * DAY for days in range(7)):
        assert not all(last - back * DAY in ran for back in range(7))


# Illness, nights, pain -----------------------------------------------------------------------------------


def ill(start: dt.date, days: int, **values: Any) -> EditLine:
    end = start + (days - 1) * DAY
    return edit("edit/ill/ines-a/x", do="ill", on=start, **{"from": start, "to": end}, **values)


def test_with_fever_no_running_until_a_day_without_symptoms_then_easy_for_as_long() -> None:
    start = first(5)
    answer = ask(start, edits=[ill(start, 4, fever=True)])
    last = start + 3 * DAY
    assert not [one for one in ahead(answer, start) if one.date <= last + DAY]
    back = ahead(answer, last + 2 * DAY)
    assert back[0].duration_s <= 30 * 60
    assert not any(one.hard for one in back if one.date <= last + 5 * DAY)
    assert not any(one.hard for one in back[:3])


@pytest.mark.parametrize("days", [1, 4, 6, 9])
def test_after_fever_every_run_of_the_first_days_is_short_and_the_long_run_about_half(days: int) -> None:
    """Half an hour, then a step more each, for as many days as it lasted, at most 7; common practice for the
    first run and the days, the step and the half are our choice, no source."""
    start = first(5)
    answer = ask(start, edits=[ill(start, days, fever=True)])
    free = start + days * DAY
    back = [one for one in ahead(answer, free + DAY) if one.date <= free + min(days, 7) * DAY]
    for number, one in enumerate(back):
        assert one.duration_s <= (30 + 10 * number) * 60
        assert not one.work_s
    planned = {one.id: one for one in sessions(WEEKS)}
    longs = [one for one in ahead(answer, free + DAY, 7) if one.role == "long"]
    assert longs
    for one in longs:
        assert one.distance_m <= 0.5 * planned[one.id].distance_m + 1
    said = [why for change in answer.changes for why in change.why]
    assert {"adapt.back_step", "adapt.back_long"} & {why.rule for why in said}
    assert not [why.text for why in said if health_words(why.text)]


def test_with_a_cold_above_the_neck_running_is_easy_and_short() -> None:
    start = first(5)
    answer = ask(start, edits=[ill(start, 3, fever=False)])
    during = ahead(answer, start, 3)
    assert during
    assert not any(one.hard or one.duration_s > 3600 for one in during)


def test_an_illness_that_is_not_over_is_taken_to_last_two_days_more() -> None:
    start = first(5)
    still = edit("edit/ill/ines-a/x", do="ill", on=start, **{"from": start})
    answer = ask(start + DAY, edits=[still])
    assert not [one for one in ahead(answer, start + DAY) if one.date <= start + 3 * DAY]


def test_one_bad_night_makes_the_hard_session_easy_and_nothing_else() -> None:
    hard = next(one for one in WEEKS[4].sessions if one.hard)
    answer = ask(hard.date, edits=[edit("edit/tired/x", do="tired", on=hard.date, **{"from": hard.date})])
    assert hard.id in {change.after.id for change in answer.changes if change.after}
    now = next(one for one in sessions(answer.weeks) if one.id == hard.id)
    assert not now.hard
    assert not now.cancelled


def sore(start: dt.date, place: str, pain: int, **values: Any) -> EditLine:
    return edit("edit/niggle/x", do="niggle", on=start, **{"from": start}, place=place, pain=pain, **values)


def climbs(session: Session) -> bool:
    return any((step.ground.grade or 0) > 0.01 for step in session.steps)


def test_a_small_pain_changes_nothing() -> None:
    assert not ask(first(6), edits=[sore(first(6), "calf", 2)]).changes


@pytest.mark.parametrize("place", ["achilles", "calf", "plantar", "hamstring"])
def test_a_sore_calf_takes_hills_and_strides_out_for_a_week_and_a_third_of_the_distance(place: str) -> None:
    today = first(7)
    answer = ask(today, edits=[sore(today, place, 3)])
    week = ahead(answer, today, 7)
    assert not any(climbs(one) or one.hard for one in week)
    assert not any(step.kind == "strides" for one in week for step in one.steps)
    planned = sum(one.distance_m for one in WEEKS[6].sessions)
    assert sum(one.distance_m for one in week) <= 0.7 * planned + 1


def test_strong_pain_stops_running_and_the_coach_reads_whom_to_ask() -> None:
    today = first(7)
    answer = ask(today, edits=[sore(today, "shin", 5)])
    assert not ahead(answer, today, 7)
    assert any("licensed practitioner" in note.text for note in answer.private_notes)
    assert all(note.private for note in answer.private_notes)
    said = " ".join(why.text for change in answer.changes for why in change.why)
    assert "shin" not in said
    assert "pain" not in said


def test_a_sore_bone_stops_running_at_any_pain() -> None:
    today = first(7)
    assert not ahead(ask(today, edits=[sore(today, "bone", 1)]), today, 7)


def test_a_cleared_runner_comes_back_as_after_a_break_and_hills_come_last() -> None:
    today = first(8)
    healed = sore(today - 10 * DAY, "achilles", 6, cleared=today)
    answer = ask(today, log=missed(today - 10 * DAY, today - DAY), edits=[healed])
    back = ahead(answer, today, 14)
    assert back
    assert not any(one.hard for one in back[:3])
    assert not any(climbs(one) for one in back)


# Days away, a person's word, another race day ------------------------------------------------------------


def test_a_holiday_known_before_keeps_a_few_short_runs() -> None:
    start = first(6)
    away = edit("edit/away/x", do="away", on=first(4), **{"from": start, "to": start + 6 * DAY}, runs=2)
    runner = REQUEST.runner.model_copy(update={"away": (away.edit,)})
    situation = Situation(
        request=replace(REQUEST, runner=runner),
        accepted=WEEKS,
        original=WEEKS,
        today=first(4),
        edits=(away,),
    )
    answer = replan(situation)
    left = ahead(answer, start, 7)
    assert 1 <= len(left) <= 2
    assert all(one.duration_s <= 40 * 60 for one in left)
    assert not answer.breaches


def _told_of(start: dt.date, weeks: int, runs: int) -> Replan:
    """The answer to days away that are told two weeks before them."""
    today, last = start - 14 * DAY, start + (7 * weeks - 1) * DAY
    away = edit("edit/away/x", do="away", on=today, **{"from": start, "to": last}, runs=runs)
    runner = REQUEST.runner.model_copy(update={"away": (away.edit,)})
    situation = Situation(
        request=replace(REQUEST, runner=runner), accepted=WEEKS, original=WEEKS, today=today, edits=(away,)
    )
    answer = replan(situation)
    assert not answer.breaches
    for was, now in zip(WEEKS, answer.weeks, strict=True):
        assert now.distance_m <= was.distance_m + 1
        assert now.work_s <= was.work_s + 1
    assert not replan(again(situation, answer)).changes
    return answer


@pytest.mark.parametrize("runs", [2, 3, 4])
def test_a_holiday_told_of_later_holds_what_one_known_from_the_start_does(runs: int) -> None:
    """40 min, 75 min for one of three and more, and one quick run: our choice within common practice."""
    start = first(6)
    answer = _told_of(start, 1, runs)
    known = make_schedule(
        request_of(**MAREN, away=[{"from": start, "to": start + 6 * DAY, "runs": runs}])
    ).weeks[5]
    told = ahead(answer, start, 7)
    assert len(told) == len([one for one in known.sessions if one.role != "strength"]) == runs
    for found in (told, known.sessions):
        assert sum(one.hard for one in found) == 1
        longs = [one for one in found if one.role == "long"]
        assert [one.duration_s for one in longs] == ([75 * 60] if runs >= 3 else [])
        assert all(one.duration_s <= 40 * 60 for one in found if one not in longs)
        assert not any(one.role == "club" or one.course_specific or one.place for one in found)


def test_the_week_behind_a_holiday_told_of_later_is_a_step_back_and_the_plan_goes_on_from_before() -> None:
    """load.behind_trip, 85 % of load and long run: our choice within common practice."""
    answer = _told_of(first(5), 1, 4)
    long = next(one for one in answer.weeks[5].sessions if one.role == "long")
    usual = next(one for one in WEEKS[3].sessions if one.role == "long")
    assert answer.weeks[5].distance_m <= 0.85 * max(week.distance_m for week in WEEKS[1:4]) + 1
    assert long.distance_m <= 0.85 * usual.distance_m + 1
    assert [week.distance_m for week in answer.weeks[7:]] == [week.distance_m for week in WEEKS[7:]]


def test_behind_two_weeks_with_hardly_a_run_told_of_later_the_load_comes_back_in_steps() -> None:
    """load.way_home: 80, then 90 % of the load before; the first run at home is easy: our choice."""
    answer = _told_of(first(6), 2, 2)
    load = max(week.distance_m for week in WEEKS[2:5])
    assert answer.weeks[7].distance_m <= 0.80 * load + 1
    assert answer.weeks[8].distance_m <= 0.90 * load + 1
    home = ahead(answer, first(8))
    assert not home[0].hard
    why = [why.text for change in answer.changes for why in change.why if why.rule == "load.way_home"]
    assert any(text.startswith("Week 1 at home behind 2 weeks away holds at most ") for text in why)


def test_a_changed_race_date_lays_out_the_days_ahead_and_leaves_the_past() -> None:
    today = first(6)
    moved = request_of(
        **{**MAREN, "race_date": REQUEST.race.date + 14 * DAY, "first_day": WEEKS[0].first_day}
    )
    situation = Situation(
        request=moved,
        accepted=WEEKS,
        original=WEEKS,
        today=today,
        used_ids=frozenset(one.id for one in sessions(WEEKS)),
        fresh=True,
    )
    answer = replan(situation)
    past = [one for one in sessions(WEEKS) if one.date < today]
    assert [one for one in sessions(answer.weeks) if one.date < today] == past
    (race,) = [one for one in sessions(answer.weeks) if one.role == "race"]
    assert race.date == moved.race.date
    assert race.id == next(one.id for one in sessions(WEEKS) if one.role == "race")
    ids = [one.id for one in sessions(answer.weeks)]
    assert len(ids) == len(set(ids))


def test_quicker_paces_move_the_bands_and_no_distance() -> None:
    today = first(7)
    situation = Situation(
        request=REQUEST,
        accepted=WEEKS,
        original=WEEKS,
        today=today,
        pace_ratio=0.98,
        pace_why="Your paces move by 2 %.",
    )
    answer = replan(situation)
    assert [week.distance_m for week in answer.weeks] == [week.distance_m for week in WEEKS]
    assert answer.changes
    for change in answer.changes:
        assert change.before is not None
        assert change.after is not None
        for one, two in zip(change.before.steps, change.after.steps, strict=True):
            if one.pace_s_per_km is not None:
                assert two.pace_s_per_km == pytest.approx([0.98 * pace for pace in one.pace_s_per_km])


# Identity ------------------------------------------------------------------------------------------------


def test_a_session_is_found_again_by_role_and_then_by_the_nearest_date() -> None:
    easy = [one for one in WEEKS[2].sessions if one.role == "easy"]
    easy = [easy[0], easy[-1]]
    assert (easy[1].date - easy[0].date).days > 2
    moved = [replace(one, id=f"new-{at}", date=one.date + DAY) for at, one in enumerate(easy)]
    assert [one.id for one in keep_ids(easy, moved, ())] == [one.id for one in easy]


def test_an_id_is_never_given_twice() -> None:
    easy = next(one for one in WEEKS[2].sessions if one.role == "easy")
    far = replace(easy, date=easy.date + 30 * DAY)
    (found,) = keep_ids([easy], [far], {"w03-easy-2", "w03-easy-3"})
    assert found.id == "w03-easy-4"


def test_a_soreness_that_goes_on_for_more_than_a_week_stops_the_running() -> None:
    """Three or four of ten for more than seven days: stop and see a practitioner (common practice)."""
    start = first(4)
    line = edit("edit/niggle/ines-a/1", do="niggle", on=start, place="calf", pain=3, **{"from": start})
    soon = ask(start + 6 * DAY, edits=[line])
    assert ahead(soon, start + 6 * DAY, 7)
    late = ask(start + 9 * DAY, edits=[line])
    assert not ahead(late, start + 9 * DAY, 7)
    assert any("licensed practitioner" in note.text for note in late.private_notes)
    assert all("After 7 days" in note.text for note in late.notes), "days run with care are no break"


def test_an_illness_long_over_is_no_news_for_the_coach() -> None:
    start = first(4)
    line = edit("edit/ill/ines-a/1", do="ill", on=start, fever=False, **{"from": start, "to": start + DAY})
    assert ask(start + 3 * DAY, edits=[line]).private_notes
    assert not ask(start + 20 * DAY, edits=[line]).private_notes
