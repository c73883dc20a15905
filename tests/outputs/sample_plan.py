"""A plan built by hand: four weeks to a half marathon and the week after it, for tests of the outputs.

The race, the people and the places are invented. The clocks go forward on the Sunday of week 2
(28 March 2027, Europe/Lisbon). ``sample_plan(units="mi")`` is the same training for a runner who reads miles.
"""

from __future__ import annotations

import datetime as dt
from typing import Final, Literal
from zoneinfo import ZoneInfo

import numpy as np

from planbuilder.course.types import Course, Feature, Remark
from planbuilder.demands.types import CourseDemands, Demand
from planbuilder.plan.types import (
    Ground,
    Phase,
    Plan,
    PlanRace,
    PlanRunner,
    Reason,
    Role,
    Session,
    Step,
    StepKind,
    Week,
)
from planbuilder.race.types import (
    Adjustment,
    DecisionPoint,
    GoalCheck,
    Intake,
    Outcome,
    RacePlan,
    Stretch,
    TimedLine,
)
from planbuilder.runner.types import Band, Form, Paces, UsedResult
from planbuilder.settings.notes import Note
from planbuilder.settings.session_models import BandName
from planbuilder.units import (
    HALF_MARATHON_M,
    System,
    height_mark,
    pace_band_mark,
    place_mark,
    run_mark,
    say_minutes,
    unit_m,
)

NAME: Final = 'Sam <3 & "Co"'
FIRST_DAY: Final = dt.date(2027, 3, 15)
RACE_DAY: Final = dt.date(2027, 4, 11)
ZONE: Final = "Europe/Lisbon"
EASY: Final = (330.0, 375.0)
LONG: Final = (325.0, 365.0)
THRESHOLD: Final = (279.0, 287.0)
RACE_PACE: Final = (285.0, 295.0)


def sample_course() -> Course:
    """Flat for 15 km, a climb of 62 m at 3.4 %, then down to the line."""
    steps = 2110
    at = np.linspace(0.0, HALF_MARATHON_M, steps + 1)
    height = np.interp(at, [0, 15000, 16800, 19000, HALF_MARATHON_M], [0.0, 6.0, 68.0, 22.0, 18.0])
    return Course(
        name="Heron Bay Half",
        distance_m=HALF_MARATHON_M,
        measured_m=21140.0,
        step_m=HALF_MARATHON_M / steps,
        height_m=height,
        grade=np.gradient(height, at),
        ascent_m=68.0,
        descent_m=50.0,
        ascent_low_m=64.0,
        ascent_high_m=75.0,
        source="planned",
        known=True,
        climb_uncertain=False,
        notes=(),
    )


def sample_features() -> tuple[Feature, ...]:
    """The long flat, the decisive climb, the descent behind it."""
    return (
        Feature(
            kind="flat",
            name="the long flat",
            start_m=0.0,
            end_m=15000.0,
            gain_m=6.0,
            ascent_m=6.0,
            descent_m=0.0,
            grade=0.0004,
            steepest_grade=0.001,
            share_done=0.0,
            decisive=False,
            words=f"Level for {run_mark(15000)}",
        ),
        Feature(
            kind="climb",
            name="climb 1",
            start_m=15000.0,
            end_m=16800.0,
            gain_m=62.0,
            ascent_m=62.0,
            descent_m=0.0,
            grade=0.0344,
            steepest_grade=0.041,
            share_done=0.711,
            decisive=True,
            words=f"Climbs {height_mark(62)} from {place_mark(15000)}",
        ),
        Feature(
            kind="descent",
            name="descent 1",
            start_m=16800.0,
            end_m=19000.0,
            gain_m=-46.0,
            ascent_m=0.0,
            descent_m=46.0,
            grade=-0.0209,
            steepest_grade=-0.026,
            share_done=0.796,
            decisive=False,
            words=f"Falls {height_mark(46)} from {place_mark(16800)}",
        ),
    )


def _demands(features: tuple[Feature, ...]) -> CourseDemands:
    flat, climb, _ = features
    return CourseDemands(
        course_class="rolling",
        class_why=f"It climbs {height_mark(68)} over {run_mark(HALF_MARATHON_M)}",
        climb_m_per_km=3.2,
        demands=(
            Demand("long_flat", 0.0, 15000.0, 0.0004, 6.0, 0.0, flat, "An hour of even running comes first"),
            Demand(
                "late_climb",
                15000.0,
                16800.0,
                0.0344,
                62.0,
                0.711,
                climb,
                f"The climb comes at {place_mark(15000)}, when legs are tired",
            ),
        ),
        decisive=climb,
        second=None,
        late_gain_m=62.0,
        distance_m=HALF_MARATHON_M,
        descent_m=50.0,
    )


def _band(name: BandName, low: float, high: float, talk: str, pace: tuple[float, float] | None) -> Band:
    fast, slow = pace or (None, None)
    return Band(name, low, high, talk, fast, slow, None, None, "from the 10 km of 17 January")


def _paces() -> Paces:
    return Paces(
        bands=(
            _band("recovery", 1, 2, "whole stories", (360.0, 405.0)),
            _band("easy", 2, 3, "whole sentences", EASY),
            _band("long", 2, 4, "whole sentences", LONG),
            _band("steady", 4, 5, "short sentences", (305.0, 320.0)),
            _band("marathon effort", 4, 5, "short sentences", (298.0, 308.0)),
            _band("half-marathon effort", 6, 7, "a few words", RACE_PACE),
            _band("threshold", 6, 7, "a few words", THRESHOLD),
            _band("10 km effort", 7, 8, "single words", (268.0, 274.0)),
            _band("intervals", 8, 9, "none", (255.0, 262.0)),
            _band("repetitions", 8, 9, "none", (235.0, 245.0)),
            _band("strides", 7, 8, "none", None),
            _band("race effort", 6, 7, "a few words", RACE_PACE),
        ),
        words=f"From your 10 km in 44:10: threshold is {pace_band_mark(*THRESHOLD)}",
        easy_s_per_km=352.0,
    )


def _form() -> Form:
    result = UsedResult(10000.0, 2650.0, 57, 2640.0, True, "10 km in 44:10, taken as 44:00 on the flat")
    return Form((result,), result, False, 3.53, 3.48, 3.6, None, None, False, ())


def _stretch(
    name: str, start_m: float, end_m: float, clock_s: float, pace: float, *, grade: float, cue: str = ""
) -> Stretch:
    return Stretch(
        name=name,
        from_m=start_m,
        to_m=end_m,
        time_s=(end_m - start_m) / 1000 * pace,
        clock_s=clock_s,
        pace_s_per_km=pace,
        pace_low_s_per_km=pace - 5,
        pace_high_s_per_km=pace + 7,
        effort_rpe=(6.0, 7.0) if start_m < 15000 else (7.0, 8.0),
        grade=grade,
        gain_m=(end_m - start_m) * grade,
        ground="level" if abs(grade) < 0.01 else "up" if grade > 0 else "down",
        cue=cue,
        cost_s=(pace - 288.0) * (end_m - start_m) / 1000,
        by_effort=abs(grade) > 0.015,
    )


def _pace_at(position_m: float) -> float:
    return 286.0 if position_m < 15000 else 330.0 if position_m < 16800 else 274.0


def _grade_at(position_m: float) -> float:
    return 0.0 if position_m < 15000 else 0.034 if position_m < 16800 else -0.02


def _splits(step_m: float, word: str) -> tuple[Stretch, ...]:
    splits, clock, start, number = [], 0.0, 0.0, 1
    while start < HALF_MARATHON_M - 1:
        end = min(start + step_m, HALF_MARATHON_M)
        middle = (start + end) / 2
        clock += (end - start) / 1000 * _pace_at(middle)
        splits.append(
            _stretch(f"{word} {number}", start, end, clock, _pace_at(middle), grade=_grade_at(middle))
        )
        start, number = end, number + 1
    return tuple(splits)


def _race_plan(start: dt.datetime, features: tuple[Feature, ...]) -> RacePlan:
    cues = ("Hold back, talk in short sentences", "Shorten the stride, eyes up", "Tall, quick feet")
    clocks = (4290.0, 4884.0, 5487.0)
    legs = tuple(
        _stretch(feature.name, feature.start_m, feature.end_m, clock, pace, grade=feature.grade, cue=cue)
        for feature, clock, pace, cue in zip(features, clocks, (286.0, 330.0, 274.0), cues, strict=True)
    )
    finish = _stretch(
        "to the line", 19000.0, HALF_MARATHON_M, 6070.0, 278.0, grade=-0.002, cue="Everything left"
    )
    return RacePlan(
        finish_time_s=6070.0,
        strategy="even effort",
        strategy_costs=(("hold back", 14.0, "safer in heat"), ("pace group", 31.0, "costs on the climb")),
        goal=GoalCheck(
            6000.0,
            6070.0,
            5990.0,
            6160.0,
            0.0115,
            "within form",
            "1:40:00 is within reach; the tune-up on 3 April is the next checkpoint",
            True,
            285.0,
        ),
        model="energy cost of grade",
        course_factor=1.013,
        features=(*legs, finish),
        splits_km=_splits(1000.0, "km"),
        splits_mi=_splits(unit_m("mi"), "mile"),
        splits_5k=_splits(5000.0, "5 km"),
        outcomes=(
            Outcome("A", 6070.0, "1:41:10 on an even effort", "Calm to the foot of the climb"),
            Outcome("B", 6200.0, "Inside 1:43:20", "Run the climb by effort"),
            Outcome("C", None, "Finish with a good last kilometre", "One lamp post at a time"),
        ),
        decisions=(DecisionPoint(15000.0, 4290.0, 4380.0, "Slower than 1:13:00 at the foot: go to plan B"),),
        adjustments=(Adjustment("heat", 22.0, "18 °C is expected at the finish"),),
        intakes=(Intake(7000.0, 2002.0, "A gel and two mouthfuls of water"),),
        fuelling="30 to 60 g of carbohydrate an hour; drink to thirst",
        fuel_g_per_hour=(30.0, 60.0),
        evening=(
            TimedLine(start - dt.timedelta(hours=3), "Breakfast you know"),
            TimedLine(start - dt.timedelta(minutes=25), "Ten minutes of easy jogging"),
        ),
        lay_out=("Number and four pins", "The shoes of the long runs", "Two gels"),
        cues=cues,
        first_minutes=f"The first {run_mark(2000)} feel too easy: that is right",
        do_not_start=(
            "a fever in the last 48 hours",
            "chest pain or fainting",
            "pain that changes how you run",
        ),
        notes=(),
    )


def _ground(kind: Literal["any", "flat", "up", "down"], grade: float | None = None) -> Ground:
    return Ground(kind, grade, "the quarry lane" if kind == "up" else "")


def _timed(
    kind: StepKind,
    minutes: float,
    effort: tuple[float, float],
    pace: tuple[float, float] | None,
    words: str,
    *,
    repeat: int = 1,
    ground: Ground | None = None,
    set_no: int = 0,
    band: str = "easy",
) -> Step:
    where = ground or _ground("any")
    return Step(kind, repeat, minutes * 60, None, effort, pace, where, words, set_no, band)


def _session(
    session_id: str,
    role: Role,
    date: dt.date,
    kind: str,
    title: str,
    steps: tuple[Step, ...],
    *,
    why: str,
    start_time: dt.time | None = None,
    place: str = "",
    distance_m: float | None = None,
    rehearses_m: tuple[tuple[float, float], ...] = (),
    caution: str = "",
    fuelling: str = "",
    substitute: str = "",
    private_note: str = "",
    cancelled: bool = False,
) -> Session:
    duration_s = sum(step.repeat * (step.duration_s or (step.distance_m or 0) * 0.35) for step in steps)
    work_s = sum(
        step.repeat * (step.duration_s or (step.distance_m or 0) * 0.29)
        for step in steps
        if step.effort_rpe[0] >= 5
    )
    return Session(
        id=session_id,
        role=role,
        date=date,
        start_time=start_time,
        place=place,
        kind=kind,
        title=title,
        steps=steps,
        distance_m=duration_s / 0.352 if distance_m is None else distance_m,
        duration_s=duration_s,
        hard=work_s >= 360,
        work_s=work_s,
        hard_s=work_s,
        climb_m=60.0 if kind == "hill_repeats" else 0.0,
        descent_work_s=0.0,
        course_specific=bool(rehearses_m),
        rehearses_m=rehearses_m,
        why=why,
        reasons=(
            Reason("phase", why),
            Reason("number", "One run grows by a tenth at most", "load.single_run_cap"),
        ),
        caution=caution,
        substitute=substitute,
        fuelling=fuelling,
        private_note=private_note,
        cancelled=cancelled,
    )


def _easy(
    session_id: str, date: dt.date, minutes: float = 45, *, start_time: dt.time | None = None
) -> Session:
    words = f"{say_minutes(minutes * 60)} easy, whole sentences"
    return _session(
        session_id,
        "easy",
        date,
        "easy",
        "Easy run",
        (_timed("easy", minutes, (2, 3), EASY, words),),
        why="Easy minutes carry the block",
        start_time=start_time,
    )


def _long(session_id: str, date: dt.date, distance_m: float, *, start_time: dt.time | None = None) -> Session:
    steps = (
        Step(
            "easy", 1, None, distance_m - 2000, (2, 4), LONG, _ground("flat"), "Flat and relaxed", 0, "long"
        ),
        Step("work", 1, None, 2000.0, (5, 6), None, _ground("up", 0.034), "Then up, by effort", 0, "steady"),
    )
    return _session(
        session_id,
        "long",
        date,
        "long_flat_then_up",
        "Long run, flat then up",
        steps,
        why=f"The climb at {place_mark(15000)} comes on tired legs",
        start_time=start_time,
        distance_m=distance_m,
        rehearses_m=((13000.0, 16800.0),),
        caution="Ease off at once if pain changes how you run",
        fuelling="Practise the gel you will carry",
    )


def _hills(session_id: str, date: dt.date) -> Session:
    return _session(
        session_id,
        "key",
        date,
        "hill_repeats",
        "Long hill repeats",
        (
            _timed("warm_up", 15, (2, 3), EASY, "15 min easy"),
            _timed(
                "work",
                3,
                (7, 8),
                None,
                "3 min up, strong and even",
                repeat=5,
                ground=_ground("up", 0.04),
                set_no=1,
                band="10 km effort",
            ),
            _timed(
                "recovery", 3, (1, 2), None, "jog down", repeat=4, ground=_ground("down", -0.04), set_no=1
            ),
            _timed("cool_down", 10, (2, 3), EASY, "10 min easy"),
        ),
        why=f"Rehearses climb 1: {height_mark(62)} at 3.4 %",
        rehearses_m=((15000.0, 16800.0),),
        substitute="A treadmill at 4 % does the same",
        private_note="left calf sore on 16 March",
    )


def _club(session_id: str, date: dt.date, *, cancelled: bool = False) -> Session:
    return _session(
        session_id,
        "club",
        date,
        "threshold_repeats",
        "Threshold repeats",
        (
            _timed("warm_up", 15, (2, 3), EASY, "15 min easy"),
            _timed("work", 8, (6, 7), THRESHOLD, "8 min at threshold", repeat=3, set_no=1, band="threshold"),
            _timed("recovery", 2, (1, 2), None, "2 min jog", repeat=2, set_no=1),
            _timed("cool_down", 10, (2, 3), EASY, "10 min easy"),
        ),
        why="Holds the pace of the long flat",
        start_time=dt.time(19, 0),
        place="Heron Bay track, gate 2",
        cancelled=cancelled,
    )


def _week(number: int, phase: Phase, sessions: tuple[Session, ...], purpose: str) -> Week:
    first = FIRST_DAY + dt.timedelta(weeks=number - 1)
    running = [session for session in sessions if session.role not in ("race", "tune_up", "strength")]
    return Week(
        number=number,
        first_day=first,
        last_day=first + dt.timedelta(days=6),
        phase=phase,
        recovery=number == 3,
        purpose=purpose,
        distance_m=sum(session.distance_m for session in running),
        duration_s=sum(session.duration_s for session in running),
        work_s=sum(session.work_s for session in running),
        sessions=sessions,
    )


def _weeks(race_name: str) -> tuple[Week, ...]:
    def day(week: int, weekday: int) -> dt.date:
        return FIRST_DAY + dt.timedelta(weeks=week - 1, days=weekday)

    tune_up = _session(
        "w03-tune-up",
        "tune_up",
        day(3, 5),
        "tune_up",
        "Quarry 10",
        (Step("race", 1, None, 10000.0, (8, 9), (264.0, 270.0), _ground("any"), "Race it evenly", 0, ""),),
        why="Tells how your form stands, eight days out",
        start_time=dt.time(10, 0),
        place="Quarry Road; by the gate",
        distance_m=10000.0,
    )
    race = _session(
        "w04-race",
        "race",
        RACE_DAY,
        "race",
        race_name,
        (
            Step(
                "race",
                1,
                None,
                HALF_MARATHON_M,
                (6, 7),
                RACE_PACE,
                _ground("any"),
                "Run your race plan",
                0,
                "race effort",
            ),
        ),
        why="What the block was for",
        start_time=dt.time(9, 30),
        place="Heron Bay, sea wall",
        distance_m=HALF_MARATHON_M,
        rehearses_m=((0.0, HALF_MARATHON_M),),
    )
    strength = _session(
        "w01-strength",
        "strength",
        day(1, 4),
        "strength",
        "Strength",
        (_timed("strength", 30, (4, 5), None, "Squat, calf raise, side plank: 3 rounds", band=""),),
        why="Stronger legs climb more cheaply",
        distance_m=0.0,
    )
    return (
        _week(
            1,
            "specific",
            (
                _club("w01-club", day(1, 1)),
                _easy("w01-easy", day(1, 3), start_time=dt.time(7, 15)),
                strength,
                _easy("w01-easy-2", day(1, 5), 30),
                _long("w01-long", day(1, 6), 16000.0),
            ),
            "Meet the ground of the race",
        ),
        _week(
            2,
            "specific",
            (
                _hills("w02-hills", day(2, 1)),
                _easy("w02-easy", day(2, 3), start_time=dt.time(7, 15)),
                _easy("w02-easy-2", day(2, 5), 40),
                _long("w02-long", day(2, 6), 17500.0, start_time=dt.time(8, 0)),
            ),
            "Up on tired legs",
        ),
        _week(
            3,
            "taper",
            (
                _club("w03-club", day(3, 1)),
                _easy("w03-easy", day(3, 3), 30),
                tune_up,
                _easy("w03-easy-2", day(3, 6), 50),
            ),
            "Freshen up and race once",
        ),
        _week(
            4,
            "taper",
            (
                _club("w04-club", day(4, 1), cancelled=True),
                _easy("w04-easy", day(4, 3), 30),
                _easy("w04-shakeout", day(4, 5), 20),
                race,
            ),
            "Rest, then race",
        ),
        _week(
            5,
            "after",
            (
                _easy("w05-after", day(5, 4), 20),
                _easy("w05-after-2", day(5, 6), 30),
            ),
            "Recover",
        ),
    )


def sample_plan(
    *,
    units: System = "km",
    name: str = NAME,
    key: str = "sam-3-co",
    timezone: str = ZONE,
    refused: bool = False,
    reminder: bool = False,
    busy: bool = False,
    page_link: bool = False,
) -> Plan:
    """The plan of one runner; quantities in its sentences stand as marks."""
    start = dt.datetime.combine(RACE_DAY, dt.time(9, 30), ZoneInfo(timezone))
    features = sample_features()
    refusal = Note("safety.runway", "Four weeks are too short to build; this keeps you running", "refusal")
    return Plan(
        runner=PlanRunner(key, name, units, "club", refused, reminder, busy, page_link),
        race=PlanRace(
            key="heron-bay-half",
            name="Heron Bay Half",
            date=RACE_DAY,
            start=start,
            timezone=timezone,
            distance_m=HALF_MARATHON_M,
            place="Heron Bay, sea wall",
            markers="km",
        ),
        course=sample_course(),
        features=features,
        remarks=(
            Remark(5000.0, "Water on the left", station=True),
            Remark(15800.0, "Headwind on the bridge", station=False),
        ),
        demands=_demands(features),
        form=_form(),
        paces=_paces(),
        race_plan=_race_plan(start, features),
        weeks=_weeks("Heron Bay Half"),
        notes=(
            *((refusal,) if refused else ()),
            Note("safety.stop", "Stop and see a doctor for chest pain or fainting", "caution"),
            Note("load.single_run_cap", f"The long run stays at {run_mark(17500)}", "given_up", "w02-long"),
            Note("defaults.hills", "No word about hills: taken as near home", "assumed"),
            Note("taper.length", "Two weeks of taper", "info"),
        ),
        private_notes=(Note("log.pain", "Left calf 3 of 10 on 16 March", "caution", "w02-hills", True),),
    )
