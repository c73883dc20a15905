"""After the race: a recording of the whole course against the plan, the pages, the sheet for the squad.

The recording is made here from the course file itself, at the plan's own pace but for the first climb.
"""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from planbuilder import delivery, living, pipeline
from planbuilder.block import read_block
from planbuilder.block.living import read_records
from planbuilder.block.log_table import LogLine
from planbuilder.cli import cli
from planbuilder.course.geodesy import earth_points_m, legs_m
from tests.accepted_half import WHO, accepted_half, noon

QUICKER = 0.92  # time of the first climb against an even effort


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return accepted_half(tmp_path)


def record_race(folder: Path) -> None:
    """done/race.gpx: the course run as planned, the first climb quicker than that."""
    (plan,) = pipeline.plan_all(read_block(folder))
    found = re.findall(r'lat="([-\d.]+)" lon="([-\d.]+)"', (folder / "course.gpx").read_text())
    latitude, longitude = np.array(found, dtype=float).T
    along = np.concatenate([[0.0], np.cumsum(legs_m(earth_points_m(latitude, longitude)))])
    along *= plan.race.distance_m / along[-1]
    clock, places, climbed = 0.0, [0.0], False
    clocks = [0.0]
    for stretch in plan.race_plan.features:
        assert stretch.time_s is not None
        first_climb = stretch.name == "climb 1"
        climbed |= first_climb
        clock += stretch.time_s * (QUICKER if first_climb else 1.0)
        places.append(stretch.to_m)
        clocks.append(clock)
    assert climbed
    start = dt.datetime(2027, 5, 23, 8, 30, tzinfo=dt.UTC)  # 9:30 in Dublin
    rows = "".join(
        f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}">'
        f"<time>{(start + dt.timedelta(seconds=at)).isoformat()}</time>"
        "<extensions><hr>165</hr></extensions></trkpt>"
        for lat, lon, at in zip(latitude, longitude, np.interp(along, places, clocks), strict=True)
    )
    (folder / "done").mkdir()
    (folder / "done" / "race.gpx").write_text(
        '<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
        f"{rows}</trkseg></trk></gpx>"
    )


def test_the_climb_that_was_run_harder_is_found_and_the_rest_is_even(folder: Path) -> None:
    record_race(folder)
    (now,) = pipeline.plans_now(read_block(folder))
    assert now.debrief is not None
    by_name = {one.name: one for one in now.debrief.stretches}
    assert by_name["climb 1"].held == "harder than the rest"
    assert by_name["climb 1"].heart_rate == pytest.approx(165)
    whole = now.debrief.time_s / sum(one.planned_s or 0.0 for one in now.debrief.stretches)
    assert by_name["climb 1"].off == pytest.approx(QUICKER / whole - 1, abs=0.01)
    longer = [one for one in now.debrief.stretches if one.to_m - one.from_m > 1500 and one.name != "climb 1"]
    assert {one.held for one in longer} == {"even"}


def test_the_pages_after_the_race_are_written_with_questions_and_the_next_form(
    folder: Path, tmp_path: Path
) -> None:
    record_race(folder)
    out = tmp_path / "out"
    list(delivery.build(read_block(folder), out))
    page = (out / "maren-t" / "debrief.html").read_text()
    assert page.count('class="blank"') == 4
    assert "harder than the rest" in page
    assert "results =" not in page  # a line of the block file is the coach's
    coach = (out / "coach.html").read_text()
    assert "results = [{ distance = &#34;21.0975 km&#34;" in coach
    assert "course = &#34;course.gpx&#34; }]" in coach
    sheet = (out / "debrief.html").read_text()
    assert WHO in sheet
    assert re.search(r"\d of \d no harder than the rest", sheet)
    places = re.findall(r'lat="([-\d.]+)"', (folder / "course.gpx").read_text())
    assert not any(place[:7] in page + sheet for place in places[::50])


def test_a_result_in_the_log_alone_makes_a_page_without_stretches(folder: Path, tmp_path: Path) -> None:
    living.add_to_log(folder, [LogLine("2027-05-23", WHO, "w12-race", time="1:43:20", effort="9")])
    out = tmp_path / "out"
    list(delivery.build(read_block(folder), out))
    page = (out / "maren-t" / "debrief.html").read_text()
    assert "1:43:20" in page
    assert "<table>" not in page
    assert "not recorded" in (out / "debrief.html").read_text()


def test_after_the_race_come_days_of_rest_and_then_short_easy_runs_in_the_feed(
    folder: Path, tmp_path: Path
) -> None:
    """Two to five days without running after a half marathon: common practice, no source."""
    (plan,) = pipeline.plan_all(read_block(folder))
    after = [one for week in plan.weeks if week.phase == "after" for one in week.sessions]
    assert [one.role for one in after] == ["after"] * 3
    assert 2 <= (after[0].date - plan.race.date).days - 1 <= 5
    assert all(one.work_s == 0 and one.duration_s <= 2400 for one in after)
    list(delivery.build(read_block(folder), tmp_path / "out"))
    feed = (tmp_path / "out" / "maren-t" / "plan.ics").read_text()
    assert feed.count("BEGIN:VEVENT") == sum(len(week.sessions) for week in plan.weeks)
    living.add_to_log(folder, [LogLine(after[0].date.isoformat(), WHO, after[0].id, "done")])


def test_before_the_race_there_is_nothing_to_look_back_on(folder: Path, tmp_path: Path) -> None:
    list(delivery.build(read_block(folder), tmp_path / "out"))
    assert not list((tmp_path / "out").rglob("debrief.html"))


def test_a_recording_is_matched_to_the_session_of_its_day_by_distance(folder: Path) -> None:
    """A run of about the planned distance is the session; a stroll of 300 m is a run outside the plan."""
    record_race(folder)
    text = (folder / "done" / "race.gpx").read_text()
    (folder / "done" / "race.gpx").write_text(text.replace("2027-05-23", "2027-04-25"))
    (line,) = read_records(read_block(folder)).log_of("maren-t")
    assert line.session == "w08-tune-up"
    points = re.findall(r"<trkpt.*?</trkpt>", text.replace("2027-05-23", "2027-05-09"))[:20]
    head, tail = text[: text.index("<trkpt")], "</trkseg></trk></gpx>"
    (folder / "done" / "race.gpx").write_text(head + "".join(points) + tail)
    (line,) = read_records(read_block(folder)).log_of("maren-t")
    assert line.session == ""


def test_what_is_published_of_a_race_goes_again_with_the_line_that_told_of_it(
    folder: Path, tmp_path: Path
) -> None:
    def publish() -> list[Path]:
        now = dt.datetime(2027, 5, 24, 12, tzinfo=dt.UTC)
        site = tmp_path / "site"
        delivery.publish_block(read_block(folder), site=site, base_url="https://example.org", now=now)
        return sorted(site.rglob("debrief.html"))

    living.add_to_log(folder, [LogLine("2027-05-23", WHO, "w12-race", time="1:43:20")])
    assert len(publish()) == 2, "one at the runner's own address, the sheet at the coach's"
    (folder / "log.csv").unlink()
    assert not publish()


def test_a_link_that_leads_out_of_the_recordings_is_left_alone(folder: Path, tmp_path: Path) -> None:
    record_race(folder)
    (folder / "done" / "race.gpx").rename(tmp_path / "elsewhere.gpx")
    (folder / "done" / "race.gpx").symlink_to(tmp_path / "elsewhere.gpx")
    assert read_records(read_block(folder)).log_of("maren-t") == ()


@pytest.mark.parametrize(("course", "said"), [('"half.csv"', "half.csv"), (None, "rolling")])
def test_the_next_form_names_the_course_as_the_block_does(
    folder: Path, tmp_path: Path, course: str | None, said: str
) -> None:
    """A course of a table, and one that nobody described: the plan takes rolling ground."""
    record_race(folder)
    (folder / "half.csv").write_text("km,height m\n0,10\n5,30\n10,12\n21.1,40\n")
    text = (folder / "block.toml").read_text()
    line = f"course = {course}" if course else ""
    (folder / "block.toml").write_text(text.replace('course = "course.gpx"', line))
    list(delivery.build(read_block(folder), tmp_path / "out"))
    coach = (tmp_path / "out" / "coach.html").read_text()
    assert f"course = &#34;{said}&#34; }}]" in coach


# The race told in another way -----------------------------------------------------------------------------

RACE_DAY = dt.date(2027, 5, 23)


def debrief_s(folder: Path) -> float | None:
    (now,) = pipeline.plans_now(read_block(folder))
    return now.debrief.time_s if now.debrief else None


def test_a_run_of_race_day_over_its_distance_is_the_race(folder: Path) -> None:
    """A watch measures a road race some way long: common practice, no source."""
    (told,) = living.add_to_log(
        folder, [LogLine("2027-05-23", WHO, distance="21.3 km", time="1:47:30", effort="9")]
    )
    assert told.session is not None
    assert (told.session.id, told.race) == ("w12-race", "")
    assert debrief_s(folder) == 6450


def test_another_run_of_race_day_is_not_and_log_asks(folder: Path) -> None:
    for line in (
        LogLine("2027-05-23", WHO, distance="3 km", time="16:00"),
        LogLine("2027-05-23", WHO, time="20:00"),
    ):
        (told,) = living.add_to_log(folder, [line])
        assert (told.session, told.race) == (None, "w12-race")
    assert debrief_s(folder) is None
    (told,) = living.add_to_log(folder, [LogLine("2027-05-22", WHO, distance="21.1 km", time="2:10:00")])
    assert (told.session, told.race) == (None, "")
    assert debrief_s(folder) is None


def test_a_result_of_race_day_is_the_race_and_wins_over_the_log(folder: Path) -> None:
    living.add_to_log(folder, [LogLine("2027-05-23", WHO, "w12-race", time="1:47:45")])
    said = {"do": "result", "date": RACE_DAY, "distance": "half", "time": "1:47:30", "runner": WHO}
    day = RACE_DAY + dt.timedelta(days=1)
    living.edit(folder, {**said, "on": day}, today=day, now=noon(day))
    assert debrief_s(folder) == 6450
    assert living.is_the_race(folder, WHO, RACE_DAY)
    assert living.is_the_race(folder, WHO, day) is None


@pytest.mark.parametrize(
    ("date", "distance", "time", "told"),
    [
        (RACE_DAY, "half", "1:30:00", "That is the race: build and publish add debrief.html.\n"),
        (RACE_DAY, "10 km", "40:00", "That is the day of the race, but not its distance"),
        (RACE_DAY + dt.timedelta(days=14), "10 km", "40:00", "Give it to the next block as a result.\n"),
    ],
)
def test_a_result_behind_the_race_says_nothing_of_this_plan(
    folder: Path, date: dt.date, distance: str, time: str, told: str
) -> None:
    """Each is far quicker than predicted; in the block it would move prediction, plan A and paces."""
    said = CliRunner().invoke(
        cli,
        [
            "edit",
            str(folder),
            "result",
            "--date",
            str(date),
            "--distance",
            distance,
            "--time",
            time,
            "--today",
            str(date + dt.timedelta(days=1)),
        ],
    )
    assert said.exit_code == 0
    assert told in said.output
    for word in ("Plan A", "Predicted time", "Pace, ", "--accept"):
        assert word not in said.output


def test_a_result_of_another_distance_on_race_day_is_not_the_race(folder: Path) -> None:
    said = {"do": "result", "date": RACE_DAY, "distance": "10 km", "time": "47:30", "runner": WHO}
    day = RACE_DAY + dt.timedelta(days=1)
    living.edit(folder, {**said, "on": day}, today=day, now=noon(day))
    assert living.is_the_race(folder, WHO, RACE_DAY) is False
