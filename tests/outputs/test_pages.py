"""What every page promises, whatever stands on it."""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import itertools
import re
from dataclasses import replace
from functools import cache

import jinja2
import pytest

from planbuilder.course.types import Split
from planbuilder.outputs.pages import (
    Links,
    WeekDone,
    render_course,
    render_plan,
    render_race_card,
)
from planbuilder.outputs.pages.environment import environment, templates_folder
from planbuilder.plan.types import Plan, Reason
from planbuilder.race.types import PreviewStretch
from planbuilder.units import MARK, MILE_M
from tests.outputs.page_reading import Page
from tests.outputs.sample_plan import NAME, sample_plan
from tests.outputs.squad_pages import board_page, coach_page

PUBLISHED = Links(
    feed_url="https://plans.example.org/k7Q2mXc0/sam-3-co/plan.ics",
    webcal_url="webcal://plans.example.org/k7Q2mXc0/sam-3-co/plan.ics",
    course_url="course.html",
)


def splits(plan: Plan, unit_m: float) -> list[Split]:
    """The course cut every kilometre or mile."""
    course, start = plan.course, 0.0
    found: list[Split] = []
    while start < course.distance_m - 1:
        end = min(start + unit_m, course.distance_m)
        net = course.height_at(end) - course.height_at(start)
        grade = net / (end - start)
        found.append(
            Split(len(found) + 1, start, end, net, max(net, 0.0), max(-net, 0.0), grade, grade, "level")
        )
        start = end
    return found


def preview(plan: Plan) -> list[PreviewStretch]:
    """A coach's words about every feature."""
    return [
        PreviewStretch(
            name=feature.name,
            from_m=feature.start_m,
            to_m=feature.end_m,
            grade=feature.grade,
            gain_m=feature.gain_m,
            decisive=feature.decisive,
            ground=feature.words,
            todo="keep it calm",
            mistake="too fast for the first {d:3000}",
            costs_s_per_km=(0.4, 21.0, -6.0),
        )
        for feature in plan.features
    ]


def course_page(plan: Plan) -> str:
    return render_course(
        plan.course,
        plan.features,
        splits(plan, 1000.0),
        splits(plan, MILE_M),
        plan.demands,
        plan.remarks,
        preview=preview(plan),
        sample_paces_s_per_km=(270.0, 330.0, 390.0),
        title=f"Heron Bay Half, {NAME}",
        plans=[plan],
    )


@cache
def pages() -> dict[str, str]:
    """Every page of the sample, written once."""
    plan = sample_plan(refused=True)
    return {
        "plan.html": render_plan(
            plan, links=PUBLISHED, done={1: WeekDone(31000.0, 11000.0, 4)}, outlook="on course for {p:288}"
        ),
        "race-card.html": render_race_card(plan),
        "course.html": course_page(plan),
        "index.html": board_page([plan]),
        "coach.html": coach_page([plan], breaches={"sam-3-co": ["{d:18000} is more than {d:17000}"]}),
    }


every_page = pytest.mark.parametrize(
    "name", ["plan.html", "race-card.html", "course.html", "index.html", "coach.html"]
)


@every_page
def test_a_name_with_signs_of_html_is_text_and_nothing_else(name: str) -> None:
    html = pages()[name]
    assert "Sam <3" not in html
    shown = "Sam C" if name == "index.html" else "Sam &lt;3 &amp; &#34;Co&#34;"  # a board has initials only
    assert shown in html


@every_page
def test_no_unit_mark_is_left_unsaid(name: str) -> None:
    assert MARK.search(pages()[name]) is None


@every_page
def test_the_policy_allows_this_style_and_this_script_and_nothing_else(name: str) -> None:
    page = Page(pages()[name])
    (policy,) = (
        meta.attributes["content"]
        for meta in page.all("meta")
        if meta.attributes.get("http-equiv") == "Content-Security-Policy"
    )
    (style,), (script,) = page.all("style"), page.all("script")
    assert policy.startswith("default-src 'none'; ")
    for word, text in (("style-src", style.text), ("script-src", script.text)):
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{word} 'sha256-{digest}';" in policy
    assert "unsafe" not in policy


@every_page
def test_a_page_asks_the_network_for_nothing(name: str) -> None:
    page = Page(pages()[name])
    assert not [element for element in page.elements if "src" in element.attributes]
    assert not page.all("link")
    assert not re.search(r"url\(|@import|fetch\(|XMLHttpRequest|sendBeacon", pages()[name])


@every_page
def test_there_is_no_inline_handler_and_no_style_attribute(name: str) -> None:
    for element in Page(pages()[name]).elements:
        assert "style" not in element.attributes
        assert not [attribute for attribute in element.attributes if attribute.startswith("on")]


@every_page
def test_headings_go_down_one_step_at_a_time_from_a_single_first(name: str) -> None:
    page = Page(pages()[name])
    levels = [
        int(element.tag[1])
        for element in page.elements
        if re.fullmatch("h[1-6]", element.tag) and "dialog" not in element.inside
    ]
    if name == "plan.html":
        levels = levels[1:]  # the wall sheet stands alone on its own sheet of paper
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))


@every_page
def test_every_id_is_there_once_and_every_inner_link_leads_somewhere(name: str) -> None:
    page = Page(pages()[name])
    ids = [element.attributes["id"] for element in page.elements if "id" in element.attributes]
    assert sorted(ids) == sorted(set(ids))
    targets = [link.attributes.get("href", "") for link in page.elements if "href" in link.attributes]
    assert {target[1:] for target in targets if target.startswith("#")} <= set(ids)


@every_page
def test_the_race_runs_across_the_top(name: str) -> None:
    page = Page(pages()[name])
    (profile,) = page.with_class("profile")
    assert "header" in profile.inside
    assert "climb 1" in profile.text


@every_page
def test_the_same_plan_makes_the_same_bytes(name: str) -> None:
    plan = sample_plan(refused=True)
    again = {
        "plan.html": lambda: render_plan(
            plan, links=PUBLISHED, done={1: WeekDone(31000.0, 11000.0, 4)}, outlook="on course for {p:288}"
        ),
        "race-card.html": lambda: render_race_card(plan),
        "course.html": lambda: course_page(plan),
        "index.html": lambda: board_page([plan]),
        "coach.html": lambda: coach_page([plan], breaches={"sam-3-co": ["{d:18000} is more than {d:17000}"]}),
    }
    assert again[name]() == pages()[name]


@pytest.mark.parametrize("template", sorted(path.name for path in templates_folder().glob("*.html")))
def test_a_template_computes_nothing(template: str) -> None:
    source = (templates_folder() / template).read_text("utf-8")
    tree = environment().parse(source)
    sums = (jinja2.nodes.Add, jinja2.nodes.Sub, jinja2.nodes.Mul, jinja2.nodes.Div, jinja2.nodes.FloorDiv)
    assert not [node for kind in sums for node in tree.find_all(kind)]


def test_a_name_that_was_not_prepared_is_an_error() -> None:
    with pytest.raises(jinja2.UndefinedError, match="has no attribute 'weather'"):
        environment().from_string("{{ page.weather }}").render(page=sample_plan().race)


def test_health_stands_on_the_coach_page_alone() -> None:
    for name, html in pages().items():
        assert ("calf sore" in html.lower()) == (name == "coach.html"), name
        assert ("Left calf 3 of 10" in html) == (name == "coach.html"), name


def test_a_runner_in_miles_reads_the_same_training() -> None:
    in_km, in_miles = (render_plan(sample_plan(units=units)) for units in ("km", "mi"))
    assert in_miles == in_km.replace('data-units="km"', 'data-units="mi"', 1)


def test_a_plan_of_sixteen_weeks_weighs_less_than_300_kilobytes() -> None:
    html = render_plan(long_plan(16), links=PUBLISHED)
    assert html.count('class="week"') == 16
    assert html.count('<article class="session') >= 96
    assert len(html.encode()) < 300_000


def long_plan(weeks: int) -> Plan:
    """Six sessions a week for so many weeks, with the words and reasons of a full plan."""
    plan = sample_plan()
    first = plan.weeks[1]
    long_run, easy, hills = first.sessions[3], first.sessions[1], first.sessions[0]
    club = plan.weeks[0].sessions[0]
    many = []
    for number in range(1, weeks + 1):
        monday = first.first_day + dt.timedelta(weeks=number - 1)
        sessions = tuple(
            replace(
                session,
                id=f"w{number:02d}-{day}",
                date=monday + dt.timedelta(days=day),
                title=title,
                reasons=tuple(
                    Reason("rule", text, "load.single_run_cap")
                    for text in REASONS[: 6 if session.hard else 2]
                ),
            )
            for day, session, title in (
                (0, easy, "Recovery run"),
                (1, club, "Threshold repeats"),
                (2, easy, "Easy run with short hill sprints"),
                (4, hills, "Long hill repeats"),
                (5, easy, "Easy run with strides"),
                (6, long_run, "Long run with a hill finish"),
            )
        )
        many.append(replace(first, number=number, first_day=monday, sessions=sessions))
    return replace(plan, weeks=tuple(many))


REASONS = (
    "The climb at {at:15000} decides this race: {h:62} in {l:1800} with 71 % of the race run.",
    "The dose for a runner of your level here is 1 h 45 min, 2 × 6 min uphill at the end.",
    "Coaches place it in these phases: build, specific.",
    "The climbs begin after 66 % of the run, because the race brings its climb to tired legs.",
    "Turning the course into sessions is common practice; no trial shows that it beats other training.",
    "A hill nearer home was considered; it is shorter than {l:900} and would end before the effort settles.",
)
