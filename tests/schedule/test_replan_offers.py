"""A missed session is never made up by itself; where the rules allow it, a person is offered a day for it.

Moving a missed hard session or long run by one or two days is common coaching practice, no source.
"""

from __future__ import annotations

from planbuilder.plan.types import Session
from planbuilder.schedule.replan import Replan, Situation, edit_only, replan
from tests.schedule.random_histories import done, edit
from tests.schedule.test_replan import DAY, REQUEST, WEEKS, sessions

HARD = [one for one in sessions(WEEKS) if one.hard and one.role in ("club", "key")]


def the_day_after(session: Session) -> tuple[Situation, Replan]:
    situation = Situation(
        request=REQUEST,
        accepted=WEEKS,
        original=WEEKS,
        today=session.date + DAY,
        log=(done(session, "missed"),),
    )
    return situation, replan(situation)


def offered() -> list[tuple[Situation, Replan]]:
    return [(situation, answer) for situation, answer in map(the_day_after, HARD) if answer.offers]


def test_some_missed_session_of_this_plan_can_be_offered_again_and_none_is_moved_by_itself() -> None:
    found = offered()
    assert found
    assert len(found) < len(HARD)
    for _, answer in found:
        assert all(two.work_s <= one.work_s for one, two in zip(WEEKS, answer.weeks, strict=True))


def test_an_offer_that_a_person_takes_breaks_no_rule() -> None:
    for situation, answer in offered():
        (offer,) = answer.offers
        words = offer.text.split("planbuilder edit BLOCK ")[1].rstrip(".").split()
        line = edit("edit/replace/ines-a/1", do="replace", on=situation.today, session=words[0],
                    kind=words[2], minutes=int(words[4]))  # fmt: skip
        taken = edit_only(Situation(request=REQUEST, accepted=answer.weeks, original=WEEKS,
                                    today=situation.today, log=situation.log, edits=(line,)))  # fmt: skip
        assert taken.changes
        assert not taken.breaches
        place = next(one for one in sessions(taken.weeks) if one.id == words[0])
        assert place.hard
        assert 1 <= (place.date - situation.log[0].date).days <= 2


def test_nothing_is_offered_for_an_easy_run_or_days_later() -> None:
    easy = next(one for one in WEEKS[3].sessions if one.role == "easy")
    assert not the_day_after(easy)[1].offers
    for situation, _ in offered():
        late = Situation(request=REQUEST, accepted=WEEKS, original=WEEKS, log=situation.log,
                         today=situation.today + 3 * DAY)  # fmt: skip
        assert not replan(late).offers


def test_a_runner_who_was_ill_or_sore_is_offered_nothing() -> None:
    for situation, _ in offered():
        sore = edit("edit/niggle/ines-a/1", do="niggle", on=situation.today, place="other", pain=4,
                    **{"from": situation.today})  # fmt: skip
        ill = Situation(request=REQUEST, accepted=WEEKS, original=WEEKS, today=situation.today,
                        log=situation.log, edits=(sore,))  # fmt: skip
        assert not replan(ill).offers
