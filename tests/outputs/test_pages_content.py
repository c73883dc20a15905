"""What a runner, a coach and a squad find on their pages."""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import replace
from pathlib import Path

from planbuilder import pipeline
from planbuilder.block import read_block
from planbuilder.outputs.pages import (
    Links,
    WeekDone,
    render_plan,
    render_race_card,
)
from planbuilder.outputs.pages.card_page import card_view
from planbuilder.outputs.pages.ground import land
from planbuilder.outputs.pages.plan_page import plan_view
from planbuilder.outputs.pages.sessions import session_view, step_view
from planbuilder.outputs.pages.wall import Wall, wall
from planbuilder.plan.types import Ground, Plan, Session, Step, Week
from planbuilder.race.types import Stretch
from planbuilder.settings.notes import Note, NoteKind
from planbuilder.units import say_date, say_time
from tests.outputs.page_reading import Page
from tests.outputs.sample_plan import sample_plan
from tests.outputs.squad_pages import board_page, coach_page
from tests.outputs.test_pages import PUBLISHED, course_page, long_plan
from tests.squad.squads import write_squad


def plain(text: str) -> str:
    """Text with single, ordinary spaces."""
    return re.sub(r"\s+", " ", text).strip()


def by_effort(plan: Plan) -> Plan:
    """The same race without a clock, as planned for a runner without a result."""
    race = plan.race_plan

    def unclocked(stretches: tuple[Stretch, ...]) -> tuple[Stretch, ...]:
        return tuple(
            replace(
                stretch,
                time_s=None,
                clock_s=None,
                pace_s_per_km=None,
                pace_low_s_per_km=None,
                pace_high_s_per_km=None,
                cost_s=None,
                by_effort=True,
            )
            for stretch in stretches
        )

    return replace(
        plan,
        race_plan=replace(
            race,
            finish_time_s=None,
            features=unclocked(race.features),
            splits_km=unclocked(race.splits_km),
            splits_mi=unclocked(race.splits_mi),
            outcomes=tuple(replace(outcome, time_s=None) for outcome in race.outcomes),
            decisions=tuple(replace(point, clock_a_s=None, clock_b_s=None) for point in race.decisions),
            intakes=tuple(replace(intake, clock_s=None) for intake in race.intakes),
        ),
    )


# plan.html ------------------------------------------------------------------------------------------------


def test_every_session_is_there_with_its_steps_why_and_rule() -> None:
    plan = sample_plan()
    page = Page(render_plan(plan))
    for session in plan.sessions:
        article = plain(page.by_id(session.id).text)
        assert session.title in article
        assert ("effort" in article) == (not session.cancelled)
        for step in () if session.cancelled else session.steps:
            assert f"effort {step.effort_rpe[0]:g}–{step.effort_rpe[1]:g}" in article
        assert "load.single_run_cap" in article
    assert "Holds the pace of the long flat." in plain(page.by_id("w01-club").text)


def test_the_parts_of_the_page_come_in_the_order_a_runner_needs_them() -> None:
    page = Page(render_plan(sample_plan(), links=PUBLISHED))
    sections = [element.attributes["id"] for element in page.all("section") if "id" in element.attributes]
    assert sections == [
        *("next", "goal", "block", "weeks", "paces", "race-plan", "gave-up", "care", "subscribe", "sources")
    ]


def test_at_most_three_notes_stand_on_the_first_screen_and_a_refusal_is_the_first() -> None:
    notes = tuple(Note("load.single_run_cap", f"note {number}", "given_up") for number in range(6))
    refusal = Note("safety.runway", "Four weeks are too short", "refusal")
    view = plan_view(replace(sample_plan(), notes=(refusal, *notes)))
    assert [note.text for note in view.first_notes] == ["Four weeks are too short.", "Note 0.", "Note 1."]
    (group,) = view.more_notes
    assert group.title == "What we gave up, and why"
    assert [note.text for note in group.notes] == ["Note 2.", "Note 3.", "Note 4.", "Note 5."]


def test_a_refusal_heads_the_page_in_one_sentence_and_takes_the_times_off_it() -> None:
    text = "4 weeks are too few for a time goal over {d:10000}; 8 are the least. This plan is for finishing."
    plan = sample_plan()
    refused = replace(plan, notes=(Note("phase.runway", text, "refusal"), *plan.notes))
    page = Page(render_plan(refused))
    (said,) = page.with_class("refused")
    assert "4 weeks are too few for a time goal over 10" in said.text
    assert "This plan is for finishing" not in said.text
    ids = [element.attributes.get("id") for element in page.elements]
    assert page.elements.index(said) < ids.index("next")
    assert not page.with_class("goals")
    assert "1:41:10" not in page.with_class("wall")[0].text
    other = Page(render_plan(replace(plan, notes=(Note("safety.screening", text, "refusal"),))))
    assert other.with_class("refused")
    assert other.with_class("goals")
    assert not Page(render_plan(plan)).with_class("refused")


def test_a_private_note_is_on_no_list_of_a_runner() -> None:
    hidden = Note("log.pain", "sore shin", "caution", private=True)
    assert "sore shin" not in render_plan(replace(sample_plan(), notes=(hidden,))).lower()


def test_what_was_taken_as_given_and_what_the_coach_changed_are_told_apart() -> None:
    notes = (
        Note("defaults.hills", "hills near home", "assumed"),
        Note("load.single_run_cap", "your coach's number", "override"),
    )
    view = plan_view(replace(sample_plan(), notes=notes))
    assert [group.title for group in view.more_notes] == [
        "Numbers your coach changed",
        "What we took as given, because nothing was said",
    ]


def test_a_step_says_its_size_once() -> None:
    step = Step("work", 3, 480.0, None, (6, 7), (279.0, 287.0), Ground("any"), "8 min at threshold")
    view = step_view(step)
    assert (view.size, view.text) == (
        "3\N{NO-BREAK SPACE}×\N{NO-BREAK SPACE}8\N{NO-BREAK SPACE}min",
        "At threshold.",
    )


def test_repeats_on_a_track_keep_their_metres_in_both_units() -> None:
    step = Step("work", 5, None, 400.0, (8, 9), None, Ground("flat"), "400 m quick")
    assert step_view(step).size.endswith("400\N{NO-BREAK SPACE}m")
    assert "mi" not in step_view(step).size
    test = Step("work", 1, None, 3000.0, (9, 10), None, Ground("flat"), "3000 m on a track, all-out but even")
    assert (step_view(test).size, step_view(test).text) == (
        "3000\N{NO-BREAK SPACE}m",
        "On a track, all-out but even.",
    )


def test_steep_and_unclocked_steps_are_by_effort_alone() -> None:
    step = Step("work", 1, 180.0, None, (7, 8), None, Ground("up", 0.04), "3 min up")
    assert step_view(step).pace == ""


def test_a_session_in_minutes_says_about_how_far_and_one_in_distance_about_how_long() -> None:
    plan = sample_plan()
    drawn = land(plan.course)
    text = {s.id: plain(re.sub("<[^>]+>", " ", session_view(s, drawn, ()).size)) for s in plan.sessions}
    assert text["w01-easy"].startswith("45 min, about 7.5 km")
    assert text["w01-long"].startswith("16 km 10 mi , about 1 h")
    assert text["w01-strength"] == "30 min"


def test_a_tune_up_says_the_race_first_and_what_warming_up_adds() -> None:
    plan = sample_plan()
    race = next(one for one in plan.sessions if one.role == "tune_up")
    warm = Step("warm_up", 1, 900.0, None, (2, 3), None, Ground("any"), "easy")
    step = Step("race", 1, None, 10000.0, (8, 10), None, Ground("any"), "even effort")
    named = replace(race, title="Tune-up: Quarry 10", steps=(warm, step), distance_m=12500.0)
    view = session_view(named, land(plan.course), ())
    assert plain(re.sub('<span class="mi">[^<]*</span>|<[^>]+>', "", view.size)).startswith(
        "10 km race, 12.5 km in all, about "
    )
    assert view.ground is None  # nobody has told of its ground
    flat = replace(named, steps=(warm, replace(step, ground=Ground("flat"))))
    assert session_view(flat, land(plan.course), ()).ground is not None
    weeks = [replace(w, sessions=tuple(named if s is race else s for s in w.sessions)) for w in plan.weeks]
    (entry,) = (e for row in wall(weeks).rows for day in row.days for e in day.entries if "Quarry" in e.title)
    assert "10\N{NO-BREAK SPACE}km" in entry.size


def test_heart_rate_is_shown_only_where_it_was_measured() -> None:
    plan = sample_plan()
    assert "Heart rate" not in render_plan(plan)
    measured = tuple(
        replace(band, heart_rate_low=140, heart_rate_high=152) if band.name == "easy" else band
        for band in plan.paces.bands
    )
    page = render_plan(replace(plan, paces=replace(plan.paces, bands=measured)))
    assert "Heart rate" in page
    assert "140–152" in page


def test_subscribing_is_offered_only_where_a_feed_is_published() -> None:
    private, public = render_plan(sample_plan()), render_plan(sample_plan(), links=PUBLISHED)
    assert "Subscribe" not in private
    assert 'class="qr"' not in private
    assert f'href="{PUBLISHED.webcal_url}"' in public
    assert PUBLISHED.feed_url in public
    assert 'class="qr"' in public


def test_the_calendar_is_printed_only_where_paper_can_lead_to_it() -> None:
    """A square code can be photographed from paper; a link cannot be followed."""
    for links, kept in ((PUBLISHED, ""), (Links(file_url="plan.ics"), "screen")):
        page = Page(render_plan(sample_plan(), links=links))
        (section,) = [one for one in page.all("section") if one.attributes.get("id") == "subscribe"]
        assert section.attributes.get("class", "") == kept


def test_what_was_run_stands_beside_what_was_planned() -> None:
    page = Page(render_plan(sample_plan(), done={1: WeekDone(31000.0, 11000.0, 4)}, outlook="{p:288} holds"))
    text = plain(page.by_id("block").text)
    assert "4 of 4 runs, 31 km" in text
    assert "4:48/km" in text
    assert "Done" not in plain(Page(render_plan(sample_plan())).by_id("block").text)


def test_a_runner_without_a_clock_gets_a_whole_page_by_effort() -> None:
    page = Page(render_plan(by_effort(sample_plan())))
    text = plain(page.by_id("race-plan").text)
    assert "by effort" in text
    assert "None" not in text
    assert "Aby effort" in plain(page.with_class("goals")[0].text)


def test_stop_signs_say_what_to_do_and_defer_to_those_who_may_judge() -> None:
    text = plain(Page(render_plan(sample_plan())).by_id("care").text)
    assert "Call the local emergency number" in text
    assert "not medical advice" in text
    assert "follow local rules" in text


def test_the_wall_sheet_keeps_every_week_and_narrows_the_days_nobody_runs() -> None:
    sheet = wall(sample_plan().weeks)
    assert [row.number for row in sheet.rows] == [1, 2, 3, 4, 5]
    assert [column.name for column in sheet.columns if column.idle] == ["Mon", "Wed"]
    assert sheet.rows[3].days[1].entries == ()  # the club night that was called off
    days = [int(day.number.split()[0]) for row in sheet.rows for day in row.days]
    assert days == [*range(15, 32), *range(1, 19)]  # every date from Monday 15 March to Sunday 18 April 2027


def test_the_wall_sheet_of_a_usual_block_reads_from_a_metre() -> None:
    """A letter that normal sight just reads fills 5 minutes of arc (Snellen 1862); half as much again."""
    many = long_plan(14)
    four_days = replace(
        many,
        weeks=tuple(replace(week, sessions=week.sessions[1:4] + week.sessions[5:]) for week in many.weeks),
    )
    letters_pt = float(wall(four_days.weeks).letters[5:].replace("-", "."))
    capital_mm = 0.7 * letters_pt * 25.4 / 72  # capitals are about 0.7 of the size, from memory
    assert math.degrees(math.atan(capital_mm / 1000)) * 60 >= 1.5 * 5


def test_letters_of_the_wall_sheet_shrink_as_the_block_grows() -> None:
    sizes = [float(wall(long_plan(weeks).weeks).letters[5:].replace("-", ".")) for weeks in (6, 12, 18, 24)]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[0] > sizes[-1] >= 5.5


def letters_pt(sheet: Wall) -> tuple[float, float]:
    """Sizes on Letter and on A4."""
    letter, a4 = (name.partition("-")[2].replace("-", ".") for name in (sheet.letters, sheet.letters_a4))
    return float(letter), float(a4)


def test_sixteen_weeks_of_five_days_stand_in_nine_points_and_more_on_a4(tmp_path: Path) -> None:
    """9 points: our choice, what no letter of the race card goes below either."""
    block = read_block(write_squad(tmp_path / "squad", 12, seed=3, days=("tuesday", "thursday")))
    sheets = [wall(plan.weeks) for plan in pipeline.plan_all(block)]
    usual = [sheet for sheet in sheets if [column.idle for column in sheet.columns].count(False) <= 5]
    assert len(usual) >= 8
    assert min(letters_pt(sheet)[1] for sheet in usual) >= 9.0
    assert all(letters_pt(sheet)[0] >= 8.0 for sheet in sheets)


def clubs_at(*times: dt.time) -> tuple[Week, ...]:
    """Weeks of club nights that begin at these times, and what else there is."""
    weeks = long_plan(len(times)).weeks
    return tuple(
        replace(
            week,
            sessions=tuple(
                replace(one, start_time=time if one.role == "club" else one.start_time)
                for one in week.sessions
            ),
        )
        for week, time in zip(weeks, times, strict=True)
    )


def test_the_time_of_the_club_stands_once_in_the_head_of_its_day() -> None:
    seven = dt.time(19)
    same = wall(clubs_at(seven, seven, seven))
    assert [column.clock for column in same.columns] == ["", "19:00", "", "", "", "", ""]
    assert {entry.clock for row in same.rows for entry in row.days[1].entries} == {""}
    changing = wall(clubs_at(seven, seven, dt.time(19, 30)))
    assert not any(column.clock for column in changing.columns)
    assert [row.days[1].entries[0].clock for row in changing.rows] == ["19:00", "19:00", "19:30"]


def test_a_run_without_the_club_on_its_day_says_that_its_time_is_free() -> None:
    weeks = clubs_at(*[dt.time(19)] * 3)
    own = tuple(
        replace(one, role="easy", start_time=None) if one.role == "club" else one for one in weeks[2].sessions
    )
    sheet = wall((*weeks[:2], replace(weeks[2], sessions=own)))
    assert sheet.columns[1].clock == "19:00"
    assert [row.days[1].entries[0].clock for row in sheet.rows] == ["", "", "any time"]


def test_strength_is_one_small_line_below_the_run_of_its_day() -> None:
    week = sample_plan().weeks[0]
    strength = next(one for one in week.sessions if one.role == "strength")
    run = next(one for one in week.sessions if one.role == "club")
    both = replace(week, sessions=(replace(strength, date=run.date), run))
    (row,) = wall((both,)).rows
    assert [entry.beside for entry in row.days[1].entries] == [False, True]
    weeks = [both, *sample_plan().weeks[1:]]
    lines = Page(render_plan(replace(sample_plan(), weeks=tuple(weeks)))).with_class("beside")
    assert plain(lines[0].text) == "+ strength 30 min"


def test_on_paper_the_exercises_of_a_phase_stand_once_and_on_a_phone_every_time() -> None:
    plan = sample_plan()
    first = plan.weeks[0]
    strength = next(one for one in first.sessions if one.role == "strength")
    later = tuple(
        replace(
            week,
            phase=phase,
            sessions=(replace(strength, id=f"w{week.number:02d}-strength", date=week.first_day),),
        )
        for week, phase in zip(plan.weeks[1:4], (first.phase, first.phase, "taper"), strict=True)
    )
    page = Page(render_plan(replace(plan, weeks=(first, *later, *plan.weeks[4:]))))
    day = f"{say_date(strength.date).split()[0][:3]} {strength.date.day} Mar"
    told = [one.attributes["id"] for one in page.with_class("again")]
    assert told == ["w02-strength", "w03-strength"]  # another phase prints them anew
    assert [plain(one.text) for one in page.with_class("as-on")] == [f"The exercises of {day}."] * 2
    for name in told:
        assert "effort" in page.by_id(name).text  # the steps stand there for the screen


def test_what_a_size_says_is_not_said_again_beside_it() -> None:
    titles = {entry.title for row in wall(long_plan(1).weeks).rows for d in row.days for entry in d.entries}
    assert {"Threshold", "Long hills"} <= titles


# race-card.html -------------------------------------------------------------------------------------------


def test_the_strip_has_the_clock_of_the_plan_at_every_marker_and_at_the_line() -> None:
    plan = sample_plan()
    strips = {f"{strip.plan} {strip.markers}": strip for strip in card_view(plan).strips}
    assert list(strips) == ["A km", "B km", "A mi", "B mi"]
    for markers, splits in (("km", plan.race_plan.splits_km), ("mi", plan.race_plan.splits_mi)):
        cells = [cell for row in strips[f"A {markers}"].rows for cell in row]
        assert [cell.clock for cell in cells] == [say_time(split.clock_s or 0) for split in splits]
        assert [cell.marker for cell in cells[:3]] == ["1", "2", "3"]
        assert cells[-1].marker == "finish"


def test_plan_b_keeps_the_shape_of_plan_a_and_ends_at_its_own_time() -> None:
    plan = sample_plan()
    view = card_view(plan)
    second = view.sides[1]
    slower = 6200.0 / 6070.0
    assert [line.large for line in second.lines] == [
        say_time((stretch.clock_s or 0) * slower) for stretch in plan.race_plan.features
    ]
    assert second.lines[-1].large == "1:43:20" == second.time


def test_a_card_without_a_clock_shows_the_effort_large_and_has_no_strip() -> None:
    view = card_view(by_effort(sample_plan()))
    assert view.strips == ()
    assert [line.large for line in view.sides[0].lines] == ["6–7", "7–8", "7–8", "7–8"]
    assert "None" not in render_race_card(by_effort(sample_plan()))


def test_the_second_side_of_a_card_without_a_clock_says_what_differs_and_repeats_no_effort() -> None:
    plan = by_effort(sample_plan())
    first, second = card_view(plan).sides
    assert first.lines
    assert not first.text
    assert second.lines == ()
    assert str(second.text) == "Inside 1:43:20."  # the words of the sample's plan B
    assert str(second.text) in plain(render_race_card(plan))


def test_card_strips_and_evening_sheet_name_their_runner_and_the_card_its_figures() -> None:
    plan = sample_plan()
    page = Page(render_race_card(plan))
    parts = [*page.with_class("whose"), *page.with_class("strip"), *page.with_class("evening")]
    assert len(parts) == 6
    assert all(plan.runner.name in plain(part.text) for part in parts)
    assert [plain(target.text) for target in page.with_class("target")] == [
        "A 1:41:10 clock, effort, pace",
        "B 1:43:20 clock, effort, pace",
    ]
    assert card_view(by_effort(plan)).beside == "effort, 0 to 10"


def test_a_name_in_a_heading_keeps_its_initial_on_its_line() -> None:
    plan = sample_plan(name="Wim D", key="wim-d")
    for page, head in (
        (render_plan(plan), "Race programme for"),
        (render_race_card(plan), "Race card for"),
        (render_race_card(plan), "The evening before, for"),
    ):
        assert f"{head} Wim\N{NO-BREAK SPACE}D" in page


def test_effort_and_pace_of_a_step_are_wrapped_each_by_itself() -> None:
    html = render_plan(sample_plan())
    assert re.search(
        r'<small><span class="n">effort [^<]*–[^<]*</span>, <span class="n"><span class="km">', html
    )
    assert not re.search(r"<small>effort", html)


def test_a_drawing_without_a_function_is_no_tab_stop() -> None:
    grounds = Page(render_plan(sample_plan())).with_class("ground")
    assert grounds
    assert not any("tabindex" in figure.attributes for figure in grounds)


def test_the_card_speaks_kilometres_and_miles() -> None:
    html = render_race_card(sample_plan())
    assert "km\N{NO-BREAK SPACE}15.0–16.8" in html
    assert "mile\N{NO-BREAK SPACE}9.3–10.4" in html


def test_the_evening_sheet_counts_back_to_the_start_and_names_what_forbids_starting() -> None:
    text = plain(Page(render_race_card(sample_plan())).with_class("evening")[0].text)
    for line in ("6:30 Breakfast you know", "Number and four pins", "a fever in the last 48 hours"):
        assert line in text
    assert "race another day" in text


# course.html ----------------------------------------------------------------------------------------------


def test_the_course_page_tells_every_stretch_and_what_the_block_does_about_it() -> None:
    page = Page(course_page(sample_plan()))
    stretches = [plain(element.text) for element in page.with_class("stretch")]
    assert len(stretches) == 3
    assert "Where people go wrong. Too fast for the first 3 km" in stretches[0]
    assert (
        "Long hill repeats, 2 weeks before the race; Long run, flat then up, 3 and 2 weeks before"
        in stretches[1]
    )
    assert "km 15.8mile 9.8 Headwind on the bridge" in stretches[1]
    assert "What the block does" not in stretches[2]


def test_what_lies_on_the_road_is_told_before_the_tables() -> None:
    html = course_page(sample_plan())
    assert html.index("On the road") < html.index("The features in numbers") < html.index("Split by split")


def test_the_legend_of_the_course_has_a_row_for_up_and_one_for_down_of_what_is_drawn() -> None:
    html = course_page(sample_plan())
    rows = Page(html).with_class("legend")
    assert [plain(row.text).split(":")[0] for row in rows] == ["up", "down"]
    told = set(re.findall(r'<rect class="(\w+)" width="14"', html))
    drawn = set(re.findall(r'<path class="((?:up|down)\d)"', html))
    assert told == drawn


def test_costs_are_said_a_kilometre_and_a_mile() -> None:
    text = plain(Page(course_page(sample_plan())).with_class("costs")[1].text)
    assert "+21 s/km+34 s/mi at 5:30/km8:51/mi" in text


def test_every_split_of_both_units_is_in_the_tables() -> None:
    page = Page(course_page(sample_plan()))
    rows = [row for row in page.all("tr") if "tbody" in row.inside]
    assert len(rows) == 3 + 22 + 14  # features, kilometres, miles


def test_the_course_page_names_no_runner() -> None:
    plan = sample_plan(name="Ines Almeida")
    assert "Ines" not in course_page(plan)


# index.html and coach.html --------------------------------------------------------------------------------


def squad() -> list[Plan]:
    return [
        sample_plan(name=name, key=name.lower().replace(" ", "-")) for name in ("Tom B", "ines A", "Mara K")
    ]


def test_the_board_has_a_row_for_every_runner_in_every_week_by_name() -> None:
    page = Page(board_page(squad()))
    rows = [
        element.attributes["data-name"] for element in page.all("tr") if "data-minutes" in element.attributes
    ]
    assert rows == ["ines A", "Mara K", "Tom B"] * 5


def test_the_order_of_the_roster_changes_nothing_on_the_board() -> None:
    assert board_page(squad()) == board_page(list(reversed(squad())))


def test_a_published_board_leads_to_nobodys_page() -> None:
    assert 'href="tom-b/plan.html"' in board_page(squad())
    assert "tom-b" not in board_page(squad(), linked=False)


def test_names_stand_in_their_place_whatever_their_accents() -> None:
    plans = [sample_plan(name=name, key=f"key-{name[-1].lower()}") for name in ("Zoë K", "Émile R", "Dov L")]
    board = board_page(plans)
    rows = [one.attributes["data-name"] for one in Page(board).all("tr") if "data-minutes" in one.attributes]
    assert rows[:3] == ["Dov L", "Émile R", "Zoë K"]
    assert [article.text.split()[0] for article in Page(coach_page(plans)).all("article")] == [
        "Dov",
        "Émile",
        "Zoë",
    ]


def test_a_wish_that_was_given_up_alone_needs_no_look() -> None:
    wish = Note("wish.climb_sessions", "4 sessions; 5 were wished for.", "given_up")
    plan = sample_plan(name="Ole S", key="ole-s")
    quiet = replace(
        plan,
        notes=(wish,),
        private_notes=(),
        weeks=tuple(
            replace(week, sessions=tuple(replace(one, private_note="") for one in week.sessions))
            for week in plan.weeks
        ),
    )
    page = Page(coach_page([quiet]))
    assert not page.all("article")
    assert "5 were wished for" in page.all("ul")[-1].text


def test_a_session_called_off_is_not_on_the_board() -> None:
    week = board_page(squad()).split('id="week-of-2027-04-05"')[1].split("</details>")[0]
    assert "Threshold" not in week


def test_the_coach_sees_who_needs_a_look_and_why() -> None:
    quiet = replace(
        sample_plan(name="Ole S", key="ole-s"),
        private_notes=(),
        weeks=tuple(
            replace(week, sessions=tuple(replace(session, private_note="") for session in week.sessions))
            for week in sample_plan().weeks
        ),
    )
    stale = replace(
        quiet, runner=replace(quiet.runner, name="Priya N"), form=replace(quiet.form, anchor=None)
    )
    page = Page(coach_page([quiet, stale, sample_plan(refused=True)], breaches={"ole-s": []}))
    articles = [plain(article.text) for article in page.all("article")]
    assert [article.split(" ")[0] for article in articles] == ["Priya", "Sam"]
    assert "No result" in articles[0]
    assert "Refused" in articles[1]
    assert "Left calf 3 of 10" in articles[1]
    assert "Ole S" in page.all("ul")[-1].text


def test_the_coach_reads_every_kind_of_note_and_each_once() -> None:
    kinds: tuple[NoteKind, ...] = ("refusal", "caution", "given_up", "assumed", "exception", "override")
    own = tuple(Note(f"rule.{kind}", f"What {kind} means here.", kind) for kind in kinds)
    goal = Note("race.goal", "That goal is far. Training goes by today's form.", "refusal")
    heat = Note("race.heat_caution", "It will be hot.", "caution")
    ole = replace(sample_plan(name="Ole S", key="ole-s"), notes=(goal, heat, *own))
    far = replace(ole.race_plan.goal, verdict="not this block", sentence="That goal is far.")
    ole = replace(ole, race_plan=replace(ole.race_plan, goal=far))
    other = replace(sample_plan(), notes=(heat,))
    page = coach_page([ole, other])
    assert [page.count(note.text) for note in own] == [1] * len(own)
    assert page.count("That goal is far.") == 1
    assert page.count("It will be hot.") == 1
    squad = next(part for part in Page(page).all("section") if "The whole squad" in part.text)
    assert "It will be hot." in squad.text
    alone = coach_page([other])
    assert alone.count("It will be hot.") == 1
    assert "The whole squad" not in alone


def test_links_of_the_coachs_own_copy_lead_to_its_neighbours() -> None:
    assert Links().course_url == "../course.html"
    html = render_plan(sample_plan())
    assert 'href="../course.html"' in html
    assert 'href="race-card.html"' in html
    assert 'href="plan.ics"' in html


def test_a_race_that_is_left_out_or_run_easily_has_no_times_on_page_and_card() -> None:
    plan = sample_plan()
    first = plan.race_plan.outcomes[0]
    assert first.time_s is not None

    def without_race(session: Session) -> Session | None:
        return None if session.role == "race" else session

    def run_easily(session: Session) -> Session | None:
        easy = tuple(replace(step, effort_rpe=(2.0, 4.0)) for step in session.steps)
        return replace(session, steps=easy) if session.role == "race" else session

    for change, said in (
        (without_race, "left out of the plan"),
        (run_easily, "Only easy running is planned"),
    ):
        weeks = tuple(
            replace(week, sessions=tuple(one for one in map(change, week.sessions) if one is not None))
            for week in plan.weeks
        )
        changed = replace(plan, weeks=weeks)
        for page in (render_plan(changed), render_race_card(changed)):
            assert said in page
            assert say_time(first.time_s) not in page
    assert say_time(first.time_s) in render_plan(plan)


def test_a_private_note_does_not_name_its_rule_on_the_runners_page() -> None:
    note = Note("runner.injury_pain", "The 10 km is from before an injury", private=True)
    plan = sample_plan()
    assert "runner.injury_pain" not in render_plan(replace(plan, notes=(*plan.notes, note)))
