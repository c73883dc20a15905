"""A coach types a club night in a line; the line is read as a coach means it (common practice, no source)."""

from __future__ import annotations

import pytest

from planbuilder.rules.library import load_library
from planbuilder.rules.night_shape import row_words
from planbuilder.rules.orders import MainSet
from planbuilder.rules.typed_night import TypedNight, read_night
from planbuilder.schedule import whistle_of
from planbuilder.schedule.squad_night import night_text
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
        ("hills 10 x 60 s, jog down, Mill Lane", 10, 60, None, "Short hill repeats", "Mill Lane"),
        ("6 x 800 m, 2 min jog", 6, 210, 120, "Intervals", ""),
        ("5 x 1 km at threshold, 60 s jog", 5, 255, 60, "Threshold repeats", ""),
        ("8 x 3 min, 90 s", 8, 180, 90, "Intervals", ""),
        ("5 x 1k off 90s", 5, 255, 90, "Threshold repeats", ""),
        ("6 x 3' off 60\"", 6, 180, 60, "Threshold repeats", ""),
        ("12 x 1 min on 1 min off", 12, 60, 60, "Intervals", ""),
        ("5 x 5min (1min)", 5, 300, 60, "Threshold repeats", ""),
        ("8 x 400, 60 s jog, track", 8, 105, 60, "Intervals", "track"),
        ("4 x mile @ threshold, 2 min jog", 4, 405, 120, "Threshold repeats", ""),
        ("1200m x 5, 2 min jog", 5, 300, 120, "Intervals", ""),
        ("6 x 800m hills", 6, 210, None, "Long hill repeats", ""),
        ("8 x 60 s hills (jog down 90 s), Mill Lane", 8, 60, 90, "Short hill repeats", "Mill Lane"),
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
    assert by_race.repeat_seconds is not None
    assert by_race.repeat_seconds.novice == by_race.repeat_seconds.club
    named = read("threshold repeats")
    assert named.base == "threshold_repeats"
    assert named.template.repeat_seconds is not None
    assert named.template.repeat_seconds.novice == named.template.repeat_seconds.club
    assert read("40 min easy").template.counts_as == "easy"


def test_what_was_assumed_is_said() -> None:
    assert "since no effort was typed" in read("8 x 3 min, 90 s jog, canal").words
    assert "so that all stop together" in read("6 x 800 m, 2 min jog").words


@pytest.mark.parametrize("text", ["", "see you there", "0 x 3 min", "lots of hills"])
def test_what_is_no_session_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(ValueError, match="a session such as"):
        read(text)


# Lines as coaches type them (common practice, no source). What is typed in metres becomes time at 255 s/km,
# to 15 s; a jog at 420 s/km, a walk at 600 s/km; an easy night at 360 s/km: our choices, in limits.toml.
LINES = [
    ("8 x 3 min, 90 s jog, canal", "8 × 3 min, 90 s between", "intervals", "canal"),
    (
        "6 × 5 min threshold, 75 s jog, the park loop",
        "6 × 5 min, 75 s between",
        "threshold_repeats",
        "the park loop",
    ),
    ("5 x 6 min, 1 min easy jog", "5 × 6 min, 1 min between", "threshold_repeats", ""),
    ("12 x 45 s fast, 90 s walk, track", "12 × 45 s, 90 s between", "repetitions", "track"),
    ("hills 10 x 60 s, jog down, Mill Lane", "10 × 1 min, 2 min between", "short_hill_reps", "Mill Lane"),
    ("6 x 800 m, 2 min jog", "6 × 3 min 30 s, 2 min between", "intervals", ""),
    ("5 x 1 km at threshold, 60 s jog", "5 × 4 min 15 s, 1 min between", "threshold_repeats", ""),
    ("8 x 3 min, 90 s", "8 × 3 min, 90 s between", "intervals", ""),
    ("5 x 1k off 90s", "5 × 4 min 15 s, 90 s between", "threshold_repeats", ""),
    ("6 x 3' off 60\"", "6 × 3 min, 1 min between", "threshold_repeats", ""),
    ("12 x 1 min on 1 min off", "12 × 1 min, 1 min between", "intervals", ""),
    ("5 x 5min (1min)", "5 × 5 min, 1 min between", "threshold_repeats", ""),
    ("8 x 400, 60 s jog, track", "8 × 105 s, 1 min between", "intervals", "track"),
    ("4 x mile @ threshold, 2 min jog", "4 × 6 min 45 s, 2 min between", "threshold_repeats", ""),
    ("1200m x 5, 2 min jog", "5 × 5 min, 2 min between", "intervals", ""),
    ("6 x 800m hills", "6 × 3 min 30 s, 4 min between", "long_hill_reps", ""),
    ("8 x 60 s hills (jog down 90 s), Mill Lane", "8 × 1 min, 90 s between", "short_hill_reps", "Mill Lane"),
    ("2 mile time trial", "23 min", "test", ""),
    ("3 km TT", "21 min", "test", ""),
    ("5k time trial", "35 min", "test", ""),
    ("3000 m time trial, track", "21 min", "test", "track"),
    ("time trial 3 km", "21 min", "test", ""),
    ("pyramid 1-2-3-4-3-2-1 min, 90 s jog", "1, 2, 3, 4, 3, 2, 1 min, 90 s between", "intervals", ""),
    ("ladder 1,2,3,4,5 min hard, equal jog", "1, 2, 3, 4, 5 min, each recovery as long", "intervals", ""),
    (
        "400-800-1200-800-400, 200 jog",
        "105 s, 3 min 30 s, 5 min, 3 min 30 s, 105 s, 90 s between",
        "intervals",
        "",
    ),
    (
        "1 mile - 1200 - 800 - 400, 2 min jog",
        "6 min 45 s, 5 min, 3 min 30 s, 105 s, 2 min between",
        "intervals",
        "",
    ),
    ("1' 2' 3' 2' 1', 60 s jog", "1, 2, 3, 2, 1 min, 1 min between", "intervals", ""),
    (
        "3 sets of 4 x 200, 30 s / 3 min",
        "3 sets of 4 × 45 s, 30 s between, 3 min between sets",
        "repetitions",
        "",
    ),
    (
        "2 x (4 x 400, 60 s), 3 min between",
        "2 sets of 4 × 105 s, 1 min between, 3 min between sets",
        "intervals",
        "",
    ),
    (
        "2 sets of 5 x 300 fast, 60 s jog, 4 min between sets",
        "2 sets of 5 × 75 s, 1 min between, 4 min between sets",
        "repetitions",
        "",
    ),
    (
        "3x(4x200m), 30s/3min",
        "3 sets of 4 × 45 s, 30 s between, 3 min between sets",
        "repetitions",
        "",
    ),
    (
        "3 x (4 x 200 m) 30 s / 3 min",
        "3 sets of 4 × 45 s, 30 s between, 3 min between sets",
        "repetitions",
        "",
    ),
    (
        "3 x (4 x 200), 3 min between sets, 30 s jog",
        "3 sets of 4 × 45 s, 30 s between, 3 min between sets",
        "repetitions",
        "",
    ),
    ("45 min with strides", "45 min", "strides", ""),
    ("45 min easy with strides, park", "45 min", "strides", "park"),
    ("3 x 4 x 200m, 45s, 3min", "3 sets of 4 × 45 s, 45 s between, 3 min between sets", "repetitions", ""),
    (
        "2 x (3-2-1 min hard, 90 s jog), 4 min",
        "2 sets of 3, 2, 1 min, 90 s between, 4 min between sets",
        "intervals",
        "",
    ),
    (
        "20 min tempo + 4 x 30 s hill",
        "20 min, then after 3 min 4 × 30 s, 1 min between",
        "threshold_run + short_hill_reps",
        "",
    ),
    (
        "20 min tempo, 3 min jog, 6 x 30 s short hills, 90 s jog down",
        "20 min, then after 3 min 6 × 30 s, 90 s between",
        "threshold_run + short_hill_reps",
        "",
    ),
    (
        "3 x 1 mile then 4 x 200",
        "3 × 6 min 45 s, 90 s between, then after 3 min 4 × 45 s, 3 min between",
        "threshold_repeats + repetitions",
        "",
    ),
    (
        "3 x 1 mile threshold, 2 min jog, then 4 x 200 fast, 60 s walk, track",
        "3 × 6 min 45 s, 2 min between, then after 3 min 4 × 45 s, 1 min between",
        "threshold_repeats + repetitions",
        "track",
    ),
    (
        "15 min threshold, 4 x 400 fast, 90 s jog",
        "15 min, then after 3 min 4 × 105 s, 90 s between",
        "threshold_run + repetitions",
        "",
    ),
    ("10 x 400 (200 jog)", "10 × 105 s, 90 s between", "intervals", ""),
    ("8 x 600, 200 m walk", "8 × 2 min 30 s, 2 min between", "intervals", ""),
    ("6 x 1000 m, 400m jog", "6 × 4 min 15 s, 2 min 45 s between", "intervals", ""),
    ("fartlek 40 min", "10 × 2 min, 2 min between", "fartlek", ""),
    ("40 min fartlek", "10 × 2 min, 2 min between", "fartlek", ""),
    ("fartlek 8 x 2 min, 2 min easy", "8 × 2 min, 2 min between", "fartlek", ""),
    ("easy 6 miles", "58 min", "group_easy", ""),
    ("8 km easy", "48 min", "group_easy", ""),
    ("40 min easy", "40 min", "group_easy", ""),
    ("1 hour easy", "60 min", "group_easy", ""),
    ("Kenyan hills 3 x 8 min", "3 × 8 min, 90 s between", "threshold_on_grade", ""),
    ("6 x 800 steady", "6 × 3 min 30 s, 90 s between", "steady_run", ""),
    ("30 min steady, river path", "30 min", "steady_run", "river path"),
    ("6 x 800 m strong, canal", "6 × 3 min 30 s, 2 min 30 s between", "intervals", "canal"),
    ("3x8min threshold", "3 × 8 min, 90 s between", "threshold_repeats", ""),
    ("5 x 1 km at 10k pace, 90 s jog", "5 × 4 min 15 s, 90 s between", "intervals", ""),
    ("4 x 2k @ half marathon pace, 2 min jog", "4 × 8 min 30 s, 2 min between", "threshold_repeats", ""),
    ("6 x 3 min at 5k effort, equal recovery", "6 × 3 min, 3 min between", "intervals", ""),
    ("4 x (5 min threshold, 1 min jog)", "4 × 5 min, 1 min between", "threshold_repeats", ""),
    ("8 x 3 min at the track", "8 × 3 min, 2 min 30 s between", "intervals", "the track"),
    ("5 x 2:30 hard, 1:30 jog", "5 × 2 min 30 s, 90 s between", "intervals", ""),
    ("10 x 1 min uphill, jog down", "10 × 1 min, 2 min between", "short_hill_reps", ""),
    (
        "8 x 2 min hill reps, jog down 2 min, Beacon Lane",
        "8 × 2 min, 2 min between",
        "long_hill_reps",
        "Beacon Lane",
    ),
    ("25 min tempo", "25 min", "threshold_run", ""),
    ("2 miles tempo", "14 min", "threshold_run", ""),
    ("race effort 5 x 4 min, 2 min easy jog", "5 × 4 min, 2 min between", "goal_repeats", ""),
    ("fartlek 10 x 90 s, 90 s easy", "10 × 90 s, 90 s between", "fartlek", ""),
    ("repetitions 10 x 45 s, 2 min walk or jog", "10 × 45 s, 2 min between", "repetitions", ""),
    ("short hills 8 x 60 s, 90 s jog down", "8 × 1 min, 90 s between", "short_hill_reps", ""),
    ("6 x 3 min; 90 s jog; meet at the lodge", "6 × 3 min, 90 s between", "intervals", "meet at the lodge"),
    ("6 x 3 min w/ 90s", "6 × 3 min, 90 s between", "intervals", ""),
    ("8 x 400 w/ 200 m jog @ the track", "8 × 105 s, 90 s between", "intervals", "the track"),
    ("Track: 8 x 400 fast, 90 s", "8 × 105 s, 90 s between", "repetitions", "Track"),
    ("Mill Lane: hills 10 x 60 s, jog down", "10 × 1 min, 2 min between", "short_hill_reps", "Mill Lane"),
    ("hills 8 x 75 s, jog down", "8 × 75 s, 2 min between", "short_hill_reps", ""),
    ("hills 8 x 90 s, 90 s jog down", "8 × 90 s, 90 s between", "long_hill_reps", ""),
    ("long hills 8 x 60 s, 75 s jog down", "8 × 1 min, 75 s between", "long_hill_reps", ""),
    ("Main set: 6 x 3 min, 90 s", "6 × 3 min, 90 s between", "intervals", ""),
    ("Tuesday: 20 min tempo", "20 min", "threshold_run", ""),
    ("30/30 x 20", "20 × 30 s, 30 s between", "intervals", ""),
    ("12 x 45/15 s, canal", "12 × 45 s, 15 s between", "threshold_repeats", "canal"),
    ("2 x (8 x 30/30), 3 min", "2 sets of 8 × 30 s, 30 s between, 3 min between sets", "repetitions", ""),
    ("12 x 200 m with 200 m walk", "12 × 45 s, 2 min between", "repetitions", ""),
]


@pytest.mark.parametrize(("text", "stretches", "kinds", "place"), LINES)
def test_a_line_is_read_into_its_stretches_kinds_and_place(
    text: str, stretches: str, kinds: str, place: str
) -> None:
    night = read(text)
    whistle = whistle_of(night, default_limits())
    if whistle is not None:
        assert row_words(whistle.stretches) == stretches
    else:
        assert night.template.minutes is not None
        assert f"{night.template.minutes.club[1]:g} min" == stretches
    parts = list(dict.fromkeys(stretch.template.name for stretch in night.row)) or [night.base]
    assert " + ".join(parts) == kinds
    assert night.place == place


def test_the_work_of_a_line_adds_up_to_what_was_typed() -> None:
    """Sums by hand: 3 x 4 x 45 s; 1+2+3+4+3+2+1 min; 20 min and 4 x 30 s; 10 x 2 min of a fartlek of 40."""
    sums = {
        "3 sets of 4 x 200, 30 s / 3 min": 540,
        "pyramid 1-2-3-4-3-2-1 min, 90 s jog": 960,
        "20 min tempo + 4 x 30 s hill": 1320,
        "fartlek 40 min": 1200,
    }
    for text, work_s in sums.items():
        whistle = whistle_of(read(text), default_limits())
        assert whistle is not None
        assert whistle.work_s == pytest.approx(work_s, abs=0.1)


@pytest.mark.parametrize(
    ("text", "band", "rpe"),
    [
        ("5 x 1 km at 10k pace, 90 s jog", "10 km effort", (8, 8)),
        ("4 x 2k @ half marathon pace, 2 min jog", "half-marathon effort", (6, 7)),
        ("3 x 10 min at marathon effort, 2 min jog", "marathon effort", (5, 6)),
        ("6 x 800 steady", "steady", (5, 5)),
    ],
)
def test_an_effort_named_by_its_race_has_the_band_and_effort_of_the_table_of_paces(
    text: str, band: str, rpe: tuple[float, float]
) -> None:
    """RPE of 10 km, half-marathon, marathon effort and of a steady run: common practice, no source."""
    template = read(text).template
    assert template.band == band
    assert template.effort == rpe
    assert template.shape == "repeats"


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("8 x 3 min banana", "banana"),
        ("4 x 20 s strides", "strides"),
        ("8 x 3 min, or your own session", "or your own session"),
        ("8 x 3m, 90 s", "3m"),
        ("10 x 200s, 60 s", "200s"),
        ("1-2-3-2-1, 90 s", "1-2-3-2-1"),
        ("5-6 x 3 min", "5-6"),
        ("8 x 3 min, 90 s, 60 s", "60 s"),
        ("8 x 400, 200", "200"),
        ("15 min warm-up, 6 x 3 min, 90 s", "warm-up"),
        ("20 min tempo, 3 min jog", "3 min"),
        ("4 x (1 km threshold + 200 fast), 2 min", "200"),
        ("40 min easy + 6 x 20 s strides", "strides"),
        ("10 min easy + 6 x 3 min, 90 s", "10 min"),
        ("3 x 2 min 30 s jog", "3 x 2 min 30 s jog"),
        ("5 x 1 km, 90 s, 4 x", "4"),
        ("20 min", "20 min"),
        ("warm-up: 15 min, 6 x 3 min, 90 s", "warm-up"),
        ("6 x 3 min w/o rest", "w/o"),
        ("4 x 200/200", "200"),
        ("6 miles", "6 miles"),
        ("3 sets", "3 sets"),
        ("10 mile time trial", "10 mile time trial"),
        ("2 min fartlek", "2 min"),
        ("2 sets of 3 x 4 x 200", "2 sets of 3 x 4 x 200"),
    ],
)
def test_what_is_not_understood_is_named_beside_two_examples(text: str, left: str) -> None:
    with pytest.raises(ValueError, match="a session such as") as told:
        read(text)
    assert f'not "{left}"' in str(told.value)
    assert str(told.value).count('" or "') == 1


def test_what_the_coach_asks_of_those_who_come_is_no_place() -> None:
    night = read("6x800m off 2 min, bring spikes")
    assert (night.place, night.asks) == ("", "bring spikes")
    night = read("6 x 800 m, 2 min jog, track, wear something bright")
    assert (night.place, night.asks) == ("track", "wear something bright")


def test_an_easy_night_may_leave_room_for_a_session_of_ones_own() -> None:
    assert read("easy 50 min, or your own session").own_too
    assert not read("easy 50 min").own_too


def test_a_proposal_of_hills_as_short_as_the_climb_of_the_race_is_read_as_the_same_kind() -> None:
    for seconds in (60.0, 75.0, 180.0):
        assert read(night_text("long_hill_reps", MainSet(6, seconds), 90.0)).base == "long_hill_reps"
