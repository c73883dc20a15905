"""Quantities on a page stand in kilometres and in miles, and everything else is escaped."""

from __future__ import annotations

import datetime as dt

import pytest

from planbuilder.outputs.pages import words


def test_a_sentence_is_read_in_kilometres_and_in_miles() -> None:
    assert words.both("Run {d:16000} to {at:17300}.") == (
        'Run <span class="km">16\N{NO-BREAK SPACE}km</span><span class="mi">10\N{NO-BREAK SPACE}mi</span> to '
        '<span class="km">km\N{NO-BREAK SPACE}17.3</span><span class="mi">mile\N{NO-BREAK SPACE}10.7</span>.'
    )


def test_text_from_people_is_escaped_around_the_marks() -> None:
    assert words.both('<b> & "Co" {h:0}') == (
        "&lt;b&gt; &amp; &#34;Co&#34; "
        '<span class="km">0\N{NO-BREAK SPACE}m</span><span class="mi">0\N{NO-BREAK SPACE}ft</span>'
    )


def test_a_quantity_that_reads_the_same_in_both_units_is_said_once() -> None:
    assert words.span("400 m", "400 m") == "400\N{NO-BREAK SPACE}m"


def test_a_sentence_gets_a_capital_and_a_full_stop_once() -> None:
    assert words.sentence("jog down") == "Jog down."
    assert words.sentence("Really?") == "Really?"
    assert words.sentence("") == ""


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (18.2, "+18\N{NO-BREAK SPACE}s"),
        (-3.0, "\N{MINUS SIGN}3\N{NO-BREAK SPACE}s"),
        (0.2, "±0\N{NO-BREAK SPACE}s"),
        (130.0, "+2:10"),
    ],
)
def test_seconds_gained_and_lost_carry_their_sign(value: float, said: str) -> None:
    assert words.seconds(value) == said


def test_the_length_of_a_course_is_said_to_the_metre() -> None:
    assert "21.098\N{NO-BREAK SPACE}km" in words.exact_length(21097.5)
    assert "13.109\N{NO-BREAK SPACE}mi" in words.exact_length(21097.5)


def test_days_are_short_and_the_same_in_every_locale() -> None:
    assert words.short_date(dt.date(2027, 4, 18)) == "Sun 18 Apr"
    assert words.clock(dt.time(7, 5)) == "7:05"


def test_effort_and_amounts_in_a_sentence_stay_on_their_line() -> None:
    gap = "\N{NO-BREAK SPACE}"
    assert words.both("At effort 6–8, 5:33–6:18/km, for 1 h 30 min.") == (
        f'At effort{gap}<span class="n">6–8</span>, <span class="n">5:33–6:18/km</span>, '
        f"for 1{gap}h{gap}30{gap}min."
    )
    assert words.both("Up 3 % for 400 m; 2 mornings – 8.") == f"Up 3{gap}% for 400{gap}m; 2 mornings – 8."
