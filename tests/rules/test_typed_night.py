"""A coach types a club night in a line; the line is read as a coach means it (common practice, no source)."""

from __future__ import annotations

import re

import pytest

from planbuilder.rules.library import load_library
from planbuilder.rules.typed_night import TypedNight, read_night
from planbuilder.settings.limits import default_limits


def read(text: str) -> TypedNight:
    return read_night(text, name="night_2027_03_02", library=load_library(), limits=default_limits())


@pytest.mark.parametrize(
    ("text", "repeats", "seconds", "recovery_s", "title", "place"),
    [
        ("8 x 3 min, 90 s jog, canal", 8, 180, 90, "Intervals", "canal"),
        ("6 × 5 min threshold, 75 s jog, the park loop", 6, 300, 75, "Threshold repeats", "the park loop"),
        ("5 x 6 min, 1 min easy jog", 5, 360, 60, "Threshold repeats", ""),
        ("12 x 45 s fast, 90 s walk, track", 12, 45, 90, "Repetitions", "track"),
        ("hills 10 x 60 s, jog down, Mill Lane", 10, 60, None, "Long hill repeats", "Mill Lane"),
        ("6 x 800 m, 2 min jog", 6, 210, 120, "Intervals", ""),
        ("5 x 1 km at threshold, 60 s jog", 5, 255, 60, "Threshold repeats", ""),
        ("8 x 3 min, 90 s", 8, 180, 90, "Intervals", ""),
        ("5 x 1k off 90s", 5, 255, 90, "Threshold repeats", ""),
        ("6 x 3' off 60\"", 6, 180, 60, "Threshold repeats", ""),
        ("12 x 1 min on 1 min off", 12, 60, 60, "Repetitions", ""),
        ("5 x 5min (1min)", 5, 300, 60, "Threshold repeats", ""),
        ("8 x 400, 60 s jog, track", 8, 105, 60, "Intervals", "track"),
        ("4 x mile @ threshold, 2 min jog", 4, 405, 120, "Threshold repeats", ""),
        ("1200m x 5, 2 min jog", 5, 300, 120, "Intervals", ""),
        ("6 x 800m hills", 6, 210, None, "Long hill repeats", ""),
        ("8 x 60 s hills (jog down 90 s), Mill Lane", 8, 60, 90, "Long hill repeats", "Mill Lane"),
    ],
)
def test_repeats_recoveries_effort_and_place_are_read(
    text: str, repeats: int, seconds: float, recovery_s: float | None, title: str, place: str
) -> None:
    night = read(text)
    template = night.template
    assert template.repeats is not None
    assert template.repeat_seconds is not None
    assert template.repeats.club[1] == repeats
    assert template.repeat_seconds.club == (seconds, seconds)
    assert template.title == title
    assert night.place == place
    if recovery_s is not None:
        assert template.recovery_seconds == (recovery_s, recovery_s)


def test_fewer_repeats_and_never_longer_ones_for_those_with_less_behind_them() -> None:
    template = read("8 x 3 min, 90 s jog").template
    assert template.repeats is not None
    assert template.repeats.novice[1] < template.repeats.intermediate[1] < template.repeats.club[1]
    assert template.repeat_seconds is not None
    assert template.repeat_seconds.novice == template.repeat_seconds.club


def test_one_stretch_and_library_names_are_read() -> None:
    tempo = read("20 min tempo, river path")
    assert tempo.template.title == "Threshold run"
    assert tempo.place == "river path"
    by_race = read("race-effort repeats").template
    assert not by_race.races
    assert by_race.repeat_seconds is not None
    named = read("threshold repeats")
    assert named.base == "threshold_repeats"
    assert named.template.repeat_seconds is not None
    assert named.template.repeat_seconds.novice == named.template.repeat_seconds.club
    assert read("40 min easy").template.counts_as == "easy"


def test_what_was_assumed_is_said() -> None:
    assert "since no effort was typed" in read("8 x 3 min, 90 s jog, canal").words
    assert "so that all stop together" in read("6 x 800 m, 2 min jog").words


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("20 min tempo + 4 x 30s hill", "20 min tempo +"),
        ("20 min tempo, 4 x 30 s hill", "20 min tempo"),
        ("3 sets of 4 x 200", "3 sets of"),
        ("10 x 400 (200 jog)", "(200 jog)"),
        ("8 x 3 min, 90 s jog, 4 x 200 m", "4 x 200 m"),
    ],
)
def test_what_would_be_left_out_is_refused_by_its_words(text: str, left: str) -> None:
    with pytest.raises(ValueError, match=re.escape(f'not "{left}" beside')):
        read(text)


@pytest.mark.parametrize("text", ["", "see you there", "0 x 3 min", "lots of hills"])
def test_what_is_no_session_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(ValueError, match="a session such as"):
        read(text)
