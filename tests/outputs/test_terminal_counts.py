"""One of a thing is said as one, on the terminal and on the sheet for the evening before."""

from __future__ import annotations

import datetime as dt

from planbuilder.outputs.terminal import build_text
from planbuilder.outputs.terminal_living import no_days_text, replan_text, unchanged_text, without_days
from planbuilder.rules import Breach
from planbuilder.schedule.replan import Replan
from planbuilder.settings.notes import Note


def test_one_caution_is_one_caution() -> None:
    notes = [
        Note("r.a", "Mind.", "caution"),
        Note("r.b", "Used.", "exception"),
        Note("r.c", "Given.", "given_up"),
    ]
    assert build_text("Ann", notes, system="km", width=80) == "Ann: 1 caution, 1 wish given up, 1 exception\n"
    assert (
        build_text("Ann", notes * 2, system="km", width=80)
        == "Ann: 2 cautions, 2 wishes given up, 2 exceptions\n"
    )


def test_runners_of_whom_nothing_is_new_share_one_line() -> None:
    assert unchanged_text(["Ann"], width=80) == "Ann: nothing changes.\n"
    assert unchanged_text(["Ann", "Ben"], width=80) == "Nothing changes for 2 runners: Ann, Ben.\n"


def test_a_breach_names_its_session() -> None:
    found = (
        Breach("load.long_cap", "w05-long", None, "Too long."),
        Breach("load.peak", None, None, "Too much."),
    )
    text = replan_text("Ann", Replan((), (), found, (), ()), system="km", width=80)
    assert text.splitlines()[1:] == [
        "Breach (load.long_cap): w05-long: Too long.",
        "Breach (load.peak): Too much.",
    ]


def test_whose_day_a_moved_night_is_not_is_one_line_and_none_once_it_is_accepted() -> None:
    wednesday = dt.date(2027, 3, 3)
    found = Breach("day.available", "w05-club", wednesday, "A run on Wednesday 3 March; your days are few.")
    other = Breach("load.peak", None, wednesday, "Too much.")
    answer = Replan((), (), (found, other), (), ())
    told = [("Ann", answer), ("Bo", answer), ("Cy", Replan((), (), (), (), ()))]
    assert no_days_text(told, width=80) == "Wednesday is no day of: Ann, Bo."
    assert without_days(answer).breaches == (other,)
    assert without_days(answer, accepted_only=True).breaches == (other,)
