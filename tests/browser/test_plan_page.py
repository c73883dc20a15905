"""What a runner does with the page on a phone."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from planbuilder import pipeline
from planbuilder.block import read_block
from planbuilder.block.chat import pasted
from planbuilder.block.log_table import LogLine
from planbuilder.outputs.pages import WeekDone, render_plan
from planbuilder.outputs.pages.wall import wall
from tests.browser.conftest import FILES, Opener
from tests.outputs.sample_plan import sample_plan
from tests.outputs.squad_pages import board_page
from tests.outputs.test_pages import long_plan
from tests.squad.squads import write_squad


def test_at_six_in_the_morning_the_first_screen_says_what_to_do_today(opened: Opener) -> None:
    page = opened("plan.html")
    today = page.locator("#next")
    expect(today.locator("h2")).to_have_text("Today")
    expect(today.locator("h3:visible")).to_have_text("Long run, flat then up")
    place = today.locator("h3:visible").bounding_box()
    assert place is not None
    assert place["y"] + place["height"] < 844
    expect(page.locator(".to-go")).to_have_text("21 days to go")


@pytest.mark.parametrize(
    ("now", "coming"),
    [
        ("2027-03-22T06:00:00", "Tomorrow: Long hill repeats, "),
        ("2027-04-12T06:00:00", "Fri 16 Apr: Easy run, "),  # the day after the race
    ],
)
def test_a_day_without_a_run_says_rest_and_names_what_comes_in_small(
    opened: Opener, now: str, coming: str
) -> None:
    page = opened("plan.html", now=now)
    today = page.locator("#next")
    expect(today.locator("h2")).to_have_text("Today")
    expect(today.locator("h3:visible")).to_have_text("Rest")
    expect(today).to_contain_text("No run today. Rest is training too.")
    assert today.locator(".coming").inner_text().startswith(coming)
    assert today.locator(".session").count() == 0
    today.locator(".coming").get_by_role("link").click()
    assert page.evaluate("document.querySelector(location.hash).matches('.session')")


def test_before_the_block_the_first_session_is_shown(opened: Opener) -> None:
    page = opened("plan.html", now="2027-02-01T06:00:00")
    expect(page.locator("#next h2")).to_have_text("Next: Tue 16 Mar")
    expect(page.locator("#next .waiting")).to_have_text("The block has not begun.")
    expect(page.locator("#next h3:visible")).to_have_text("Threshold repeats")
    expect(page.get_by_text("Rest is training too")).to_be_hidden()


def test_a_session_called_off_is_never_the_next_one(opened: Opener) -> None:
    page = opened("plan.html", now="2027-04-06T06:00:00")
    expect(page.locator("#next .coming")).to_contain_text("Easy run")
    expect(page.locator("#next")).not_to_contain_text("called off")


def test_after_the_last_session_the_block_is_over(opened: Opener) -> None:
    page = opened("plan.html", now="2028-01-01T06:00:00")
    expect(page.locator("#next h2")).to_have_text("After the race")
    expect(page.locator("#next .over")).to_be_visible()
    expect(page.locator("#next").get_by_role("link", name="Looking back")).to_be_visible()
    expect(page.locator(".to-go")).to_be_hidden()


@pytest.mark.parametrize(
    ("now", "link"), [("2027-04-11T06:00:00", "Race card"), ("2027-04-12T06:00:00", "Looking back")]
)
def test_card_and_look_back_are_on_the_first_screen_when_they_are_wanted(
    opened: Opener, now: str, link: str
) -> None:
    page = opened("plan.html", now=now)
    box = page.locator("#next").get_by_role("link", name=link).bounding_box()
    assert box is not None
    assert box["y"] + box["height"] < 844
    other = opened("plan.html", now="2027-03-22T06:00:00")
    assert other.locator("#next").get_by_role("link", name=link).count() == 0


def test_this_week_and_the_next_are_open_and_all_of_it_is_a_touch_away(opened: Opener) -> None:
    page = opened("plan.html", now="2027-03-24T06:00:00")
    opens = page.locator("details.week").evaluate_all("(all) => all.map((week) => week.open)")
    assert opens == [False, True, True, False, False]
    ways = page.get_by_role("navigation", name="On this page").get_by_role("link")
    assert ways.all_inner_texts() == ["Weeks", "Paces", "Race plan", "Race card", "Looking back"]
    page.get_by_role("link", name="Weeks").click()
    expect(page.locator("#weeks-title")).to_be_in_viewport()


def test_miles_at_a_touch_are_remembered(opened: Opener) -> None:
    page = opened("plan.html")
    size = page.locator("#next .size")
    assert "16\N{NO-BREAK SPACE}km" in size.inner_text()
    page.get_by_role("button", name="miles").click()
    assert "10\N{NO-BREAK SPACE}mi" in size.inner_text()
    assert "km" not in size.inner_text()
    page.reload()
    assert "10\N{NO-BREAK SPACE}mi" in page.locator("#next .size").inner_text()
    expect(page.get_by_role("button", name="miles")).to_have_attribute("aria-pressed", "true")
    page.get_by_role("button", name="km", exact=True).click()
    assert "16\N{NO-BREAK SPACE}km" in page.locator("#next .size").inner_text()


def test_why_opens_with_the_keyboard_and_names_the_rule(opened: Opener) -> None:
    page = opened("plan.html")
    why = page.locator("#w02-hills details")
    expect(why.locator("dd").first).to_be_hidden()
    why.locator("summary").focus()
    page.keyboard.press("Enter")
    expect(why.locator("dd").first).to_be_visible()
    why.get_by_role("link", name="load.single_run_cap").click()
    expect(page.locator("[id='rule-load.single_run_cap']")).to_be_visible()


def test_a_done_mark_survives_a_reload_and_can_be_taken_back(opened: Opener) -> None:
    page = opened("plan.html")
    page.locator("#next").get_by_label("Done").check()
    expect(page.locator("#w01-long").get_by_label("Done")).to_be_checked()
    page.reload()
    expect(page.locator("#w01-long").get_by_label("Done")).to_be_checked()
    page.locator("#w01-long").get_by_label("Done").uncheck()
    page.reload()
    expect(page.locator("#next").get_by_label("Done")).not_to_be_checked()


def tell(page: Page) -> str:
    return page.locator("#tell-line").inner_text()


def test_the_line_for_the_coach_is_shown_before_it_is_sent(opened: Opener) -> None:
    page = opened("plan.html")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.locator("#next").get_by_role("button", name="Tell my coach").click()
    page.get_by_label("Effort, 0 to 10").fill("4")
    page.get_by_label("A word").fill("felt | good")
    assert tell(page) == 'Sam <3 & "Co" | w01-long | done | effort 4 | 2027-03-21 | felt good'
    page.get_by_role("button", name="Send").click()
    expect(page.locator("#tell-said")).to_have_text("Copied. Paste it into the chat with your coach.")
    assert page.evaluate("navigator.clipboard.readText()") == tell(page)
    page.get_by_role("button", name="Close").click()
    expect(page.locator("#w01-long").get_by_label("Done")).to_be_checked()


def test_the_coach_reads_the_line_back_as_it_was_meant(opened: Opener, tmp_path: Path) -> None:
    (tmp_path / "block.toml").write_text(
        '[race]\nname = "Heron Bay Half"\ndate = 2027-04-11\ntimezone = "Europe/Lisbon"\n'
        'distance = "half marathon"\n[[runner]]\nname = "Sam <3 & \\"Co\\""\n',
        "utf-8",
    )
    page = opened("plan.html")
    page.locator("#next").get_by_role("button", name="Tell my coach").click()
    page.get_by_label("Effort, 0 to 10").fill("7")
    page.get_by_label("Something hurt").check()
    page.get_by_label("Pain, 0 to 10").fill("3")
    page.get_by_label("Where").fill("left calf")
    page.get_by_label("A word").fill("windy, and we turned back")
    ((_, line),) = pasted(f"Morning all!\n[08:12] {tell(page)}\nSee you", read_block(tmp_path)).lines
    assert line == LogLine(
        date="2027-03-21",
        runner='Sam <3 & "Co"',
        session="w01-long",
        went="done",
        effort="7",
        pain="3",
        where="left calf",
        note="windy, and we turned back",
    )


def test_the_time_of_a_race_is_asked_for_and_of_no_other_session(opened: Opener) -> None:
    page = opened("plan.html")
    page.locator("#next").get_by_role("button", name="Tell my coach").click()
    expect(page.get_by_label("Finish time")).to_be_hidden()
    page.get_by_role("button", name="Close").click()
    page.evaluate("document.querySelectorAll('details.week').forEach((week) => { week.open = true; })")
    race = page.locator("article[data-timed]").first
    race.get_by_role("button", name="Tell my coach").click()
    page.get_by_label("Finish time").fill("47:3")
    assert "time" not in tell(page)
    page.get_by_label("Finish time").fill("47:30")
    assert "| done | time 47:30 | 2027-" in tell(page)
    page.get_by_label("missed").check()
    expect(page.get_by_label("Finish time")).to_be_hidden()
    assert "time" not in tell(page)


def test_pain_is_told_only_when_ticked(opened: Opener) -> None:
    page = opened("plan.html")
    page.locator("#next").get_by_role("button", name="Tell my coach").click()
    page.get_by_label("part of it").check()
    expect(page.get_by_label("Pain, 0 to 10")).to_be_hidden()
    page.get_by_label("Something hurt").check()
    page.get_by_label("Pain, 0 to 10").fill("3")
    page.get_by_label("Where").fill("left calf")
    assert tell(page) == 'Sam <3 & "Co" | w01-long | part | 2027-03-21 | pain 3 left calf'
    page.get_by_label("Something hurt").uncheck()
    assert "pain" not in tell(page)


def test_weeks_gone_by_are_folded_and_a_link_opens_them(opened: Opener) -> None:
    page = opened("plan.html", now="2027-04-01T06:00:00")
    expect(page.locator("#week-1")).not_to_have_attribute("open", "")
    page.locator(".glance").get_by_role("link", name="1", exact=True).click()
    expect(page.locator("#week-1")).to_have_attribute("open", "")


def test_without_script_everything_is_there_in_the_runners_own_units(opened: Opener) -> None:
    page = opened("plan.html", script=False)
    expect(page.locator("#next")).to_be_hidden()
    expect(page.get_by_role("link", name="week by week")).to_be_visible()
    sessions = page.locator("#weeks .session")
    assert sessions.count() == 19
    for number in range(sessions.count()):
        expect(sessions.nth(number).locator("h4")).to_be_visible()
    expect(page.get_by_role("button", name="miles")).to_be_hidden()
    assert "km" in page.locator("#w01-long .size").inner_text()
    assert "mi " not in page.locator("#w01-long .size").inner_text()


def test_nothing_that_is_read_waits_for_the_script(opened: Opener) -> None:
    page = opened("plan.html")
    painted = page.evaluate(
        "new Promise((done) => {"
        " const seen = [];"
        " const wanted = 'first-contentful-paint';"  # may come in a list of its own, behind the first paint
        " new PerformanceObserver((list) => {"
        "  seen.push(...list.getEntries().map((e) => e.name));"
        "  if (seen.includes(wanted)) done(seen);"
        " }).observe({ type: 'paint', buffered: true });"
        " setTimeout(() => done(seen), 10000);"
        "})"
    )
    assert "first-contentful-paint" in painted
    scripts = page.locator("script")
    assert scripts.count() == 1
    assert scripts.evaluate("(script) => script === document.body.lastElementChild")


def test_at_twice_the_letter_size_nothing_leaves_the_screen(opened: Opener) -> None:
    for name in FILES:
        page = opened(name, width=320)  # what 200 % leaves of 640 px
        assert page.evaluate("document.documentElement.scrollWidth") <= 320, name


@pytest.mark.parametrize("name", FILES)
def test_letters_twice_as_large_leave_no_page_wider_than_a_phone(opened: Opener, name: str) -> None:
    """Text resized to 200 % without loss: WCAG 2.2, success criterion 1.4.4."""
    page = opened(name, width=360)
    page.evaluate("document.documentElement.style.fontSize = '200%'")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360


_TOUCHING = """() => [...document.querySelectorAll('.profile > svg, .ground > svg')].flatMap((svg) => {
  const all = [...svg.querySelectorAll('text')].filter((text) => text.checkVisibility());
  const boxes = all.map((text) => [text.textContent, text.getBoundingClientRect()]);
  return boxes.flatMap(([said, a], place) => boxes.slice(place + 1)
    .filter(([, b]) => a.left < b.right - 1 && b.left < a.right - 1)
    .filter(([, b]) => a.top < b.bottom - 3 && b.top < a.bottom - 3)
    .map(([other]) => said + ' / ' + other));
})"""


@pytest.mark.parametrize(("width", "percent"), [(320, 100), (360, 100), (360, 200), (412, 150), (1280, 200)])
@pytest.mark.parametrize("name", ["plan.html", "course.html"])
def test_no_labels_of_the_ground_run_over_each_other(
    opened: Opener, name: str, width: int, percent: int
) -> None:
    page = opened(name, width=width)
    page.evaluate(f"document.documentElement.style.fontSize = '{percent}%'")
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    for unit in ("km", "miles"):
        page.get_by_role("button", name=unit, exact=True).click()
        assert page.locator(".profile text:visible").count() >= 4
        assert page.evaluate(_TOUCHING) == []


def test_a_runner_with_a_session_of_their_own_stays_on_a_phone(browser: Browser, tmp_path: Path) -> None:
    plans = [sample_plan(name=f"Runner {name}", key=f"runner-{name.lower()}") for name in "AB"]
    html = board_page(plans)
    assert "<td>3 ×</td>" in html
    html = html.replace("<td>3 ×</td>", "<td>Own session, same start and end</td>")
    page = _opened_at(browser, tmp_path / "index.html", html, 360)
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    page.close()


def test_a_session_called_off_asks_for_nothing_any_more(opened: Opener) -> None:
    off = opened("plan.html").locator("#weeks .session.off").first
    assert off.locator(".steps, .size, .tick, .tell").count() == 0


@pytest.mark.parametrize("name", ["plan.html", "index.html", "coach.html", "course.html", "race-card.html"])
def test_what_is_true_today_alone_is_not_printed(opened: Opener, tmp_path: Path, name: str) -> None:
    page = opened(name)
    page.pdf(path=tmp_path / "page.pdf", format="A4")
    printed = " ".join(text_of(tmp_path / "page.pdf"))
    assert "days to go" not in printed
    assert "this week" not in printed


def _opened_at(browser: Browser, path: Path, html: str, width: int) -> Page:
    path.write_text(html, "utf-8")
    page = browser.new_page(viewport={"width": width, "height": 844})
    page.goto(path.as_uri())
    return page


def test_the_table_of_weeks_needs_no_sideways_scrolling_on_a_phone(browser: Browser, tmp_path: Path) -> None:
    done = {number: WeekDone(31000.0, 11000.0, 4) for number in range(1, 6)}
    page = _opened_at(browser, tmp_path / "plan.html", render_plan(sample_plan(), done=done), 390)
    assert page.locator("#block .wide").evaluate("(box) => box.scrollWidth - box.clientWidth") <= 0
    page.close()


@pytest.mark.parametrize("width", [360, 320])
@pytest.mark.parametrize("name", ["plan.html", "course.html", "debrief.html"])
def test_no_table_with_sentences_is_cut_on_a_phone(opened: Opener, name: str, width: int) -> None:
    page = opened(name, width=width)
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    for unit in ("km", "miles"):
        page.get_by_role("button", name=unit, exact=True).click()
        cut = "(all) => all.filter((box) => box.scrollWidth > box.clientWidth).map((box) => box.ariaLabel)"
        assert page.locator(".wide").evaluate_all(cut) == []


def test_nothing_moves_for_those_who_ask_for_it(opened: Opener) -> None:
    page = opened("plan.html", motion="reduce")
    assert page.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "auto"


def test_a_board_with_one_night_and_a_small_squad_is_one_sheet(opened: Opener, tmp_path: Path) -> None:
    page = opened("index.html")
    assert page.locator("details[open] .night").count() == 1
    page.pdf(path=tmp_path / "board.pdf", format="A4")
    sheets = text_of(tmp_path / "board.pdf")
    assert len(sheets) == 1
    assert "Ines A" in sheets[0]
    page.emulate_media(media="print")
    today = "getComputedStyle(document.querySelector('.squad td.today')).backgroundColor"
    assert page.evaluate(today) == "rgba(0, 0, 0, 0)"
    mark = "getComputedStyle(document.querySelector('.squad [aria-current]'), '::after').display"
    assert page.evaluate(mark) == "none"


def test_a_stretch_of_the_course_may_break_only_behind_its_first_paragraph(opened: Opener) -> None:
    page = opened("course.html")
    page.emulate_media(media="print")
    style = "getComputedStyle(document.querySelector('{}')).{}"
    assert page.evaluate(style.format(".stretch", "breakInside")) == "auto"
    for part in (".stretch h3", ".stretch .where", ".stretch .size"):
        assert page.evaluate(style.format(part, "breakAfter")) == "avoid"


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_wall_sheet_is_one_page_and_nothing_of_the_detail_is_cut(
    opened: Opener, tmp_path: Path, paper: str
) -> None:
    page = opened("plan.html")
    page.pdf(path=tmp_path / "plan.pdf", format=paper)
    page.evaluate("document.querySelectorAll('details.week').forEach((week) => { week.open = true; })")
    sheets = text_of(tmp_path / "plan.pdf")
    for day in ("Threshold", "Strength", "Quarry", "1 Apr", "stop, do not run"):
        assert day in sheets[0]
    assert "Week by week" not in sheets[0]
    assert "Race programme for" in sheets[1]
    whole = re.sub(r"\s+", " ", " ".join(sheets[1:]))
    for session in page.locator("#weeks .session .why").all_inner_texts():
        assert re.sub(r"\s+", " ", session) in whole
    for sign in page.locator(".signs dt").all_inner_texts():
        assert re.sub(r"\s+", " ", sign) in whole
    assert 5 <= len(sheets) <= 8


@pytest.mark.parametrize("weeks", [8, 12, 16, 24])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_long_block_still_fits_one_wall_sheet(
    browser: Browser, tmp_path: Path, paper: str, weeks: int
) -> None:
    (tmp_path / "plan.html").write_text(render_plan(long_plan(weeks)), "utf-8")
    page = browser.new_page()
    page.goto((tmp_path / "plan.html").as_uri())
    page.pdf(path=tmp_path / "plan.pdf", format=paper, page_ranges="1-2")
    page.close()
    sheet, next_sheet = text_of(tmp_path / "plan.pdf")
    assert "follow local rules" in re.sub(r"\s+", " ", sheet)
    assert next_sheet.lstrip().startswith("Race programme for")


def test_exercises_that_the_phase_has_had_are_read_on_the_phone_and_named_by_their_day_on_paper(
    browser: Browser, tmp_path: Path
) -> None:
    plan = sample_plan()
    (first, second, *rest) = plan.weeks
    strength = next(one for one in first.sessions if one.role == "strength")
    again = replace(strength, id="w02-strength", date=second.first_day)
    second = replace(second, phase=first.phase, sessions=(again, *second.sessions))
    html = render_plan(replace(plan, weeks=(first, second, *rest)))
    page = _opened_at(browser, tmp_path / "plan.html", html, 390)
    page.evaluate("document.querySelectorAll('details.week').forEach((week) => { week.open = true; })")
    session = page.locator("#weeks #w02-strength")
    expect(session.locator(".steps")).to_be_visible()
    expect(session.locator(".as-on")).to_be_hidden()
    page.emulate_media(media="print")
    expect(session.locator(".steps")).to_be_hidden()
    expect(session.locator(".as-on")).to_be_visible()
    expect(page.locator("#weeks #w01-strength .steps")).to_be_visible()
    page.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_wall_sheet_prints_alone_at_a_touch(opened: Opener, tmp_path: Path, paper: str) -> None:
    page = opened("plan.html", width=360)
    page.evaluate("window.print = () => {}")  # a browser without a screen shows no dialogue
    page.get_by_role("button", name="Print the wall sheet").click()
    page.pdf(path=tmp_path / "wall.pdf", format=paper)
    (sheet,) = text_of(tmp_path / "wall.pdf")
    assert "Heron Bay Half" in sheet
    assert "follow local" in sheet
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    page.pdf(path=tmp_path / "plan.pdf", format=paper)
    assert len(text_of(tmp_path / "plan.pdf")) >= 5


def test_without_script_nothing_offers_to_print_the_wall_sheet(opened: Opener) -> None:
    expect(opened("plan.html", script=False).get_by_text("Print the wall sheet")).to_be_hidden()


_ON_PAPER = """(wide_mm) => {
  const wall = document.querySelector('.wall');
  wall.style.width = wide_mm + 'mm';
  const table = wall.querySelector('table');
  table.style.height = 'auto';
  return {
    mm: table.querySelector('tbody').getBoundingClientRect().height / 96 * 25.4,
    spilt: [...table.querySelectorAll('th, td')].filter((e) => e.scrollWidth > e.clientWidth + 1).length,
    pt: parseFloat(getComputedStyle(table).fontSize) * .75,
  };
}"""


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_weeks_stand_where_the_wall_sheet_measured_that_they_would(
    browser: Browser, tmp_path: Path, paper: str
) -> None:
    """A4 is 210 mm by 297 mm (ISO 216), Letter 216 mm by 279 mm; what they leave is our choice."""
    block = read_block(write_squad(tmp_path / "squad", 6, seed=3, days=("tuesday", "thursday")))
    wide_px, high_px = (794, 1123) if paper == "A4" else (816, 1056)
    page = browser.new_page(viewport={"width": wide_px, "height": high_px})
    for plan in [*pipeline.plan_all(block), long_plan(12), long_plan(16)]:
        (tmp_path / "plan.html").write_text(render_plan(plan), "utf-8")
        page.goto((tmp_path / "plan.html").as_uri())
        page.emulate_media(media="print")
        stands = page.evaluate(_ON_PAPER, 190 if paper == "A4" else 195.9)
        sheet = wall(plan.weeks)
        letters = (sheet.letters_a4 if paper == "A4" else sheet.letters).partition("-")[2]
        assert stands["pt"] == pytest.approx(float(letters.replace("-", ".")), abs=0.05)
        assert stands["mm"] <= (230 if paper == "A4" else 214) + 0.5
        assert stands["spilt"] == 0
    page.close()


def test_no_label_of_a_closed_list_and_no_dead_link_is_printed(opened: Opener, tmp_path: Path) -> None:
    page = opened("plan.html")
    page.pdf(path=tmp_path / "plan.pdf", format="A4")
    printed = " ".join(text_of(tmp_path / "plan.pdf"))
    assert "The rules this plan names" not in printed
    assert "The same address, to photograph" in printed
    page.evaluate("document.querySelector('#subscribe').classList.add('screen')")
    page.pdf(path=tmp_path / "bare.pdf", format="A4")
    assert "In your calendar" not in " ".join(text_of(tmp_path / "bare.pdf"))


def test_weeks_that_are_folded_on_the_screen_are_printed(opened: Opener, tmp_path: Path) -> None:
    page = opened("plan.html", now="2027-06-01T06:00:00")
    page.pdf(path=tmp_path / "plan.pdf", format="A4")
    assert " ".join(text_of(tmp_path / "plan.pdf")).count("Rehearses climb 1") == 1


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_card_and_its_strips_stand_on_one_page_and_the_evening_on_the_next(
    opened: Opener, tmp_path: Path, paper: str
) -> None:
    page = opened("race-card.html")
    page.pdf(path=tmp_path / "card.pdf", format=paper)
    first, second = text_of(tmp_path / "card.pdf")
    assert "Climb 1" in first
    assert "1:41:13" in first
    assert "The evening before" in second
    for printed in ("clock, effort, pace", 'Sam <3 & "Co"'):
        assert printed in first
    assert 'Sam <3 & "Co"' in second


def test_the_card_is_a6_and_no_text_leaves_its_half_or_its_cell(opened: Opener) -> None:
    page = opened("race-card.html", width=1000)
    box = page.locator(".card").bounding_box()
    assert box is not None
    assert box["width"] == pytest.approx(148 / 25.4 * 96, abs=1)
    assert box["height"] == pytest.approx(105 / 25.4 * 96, abs=1)
    spilt = page.evaluate(
        "[...document.querySelectorAll('.side, .strip td')].filter((e) => e.scrollWidth > e.clientWidth + "
        "1).length"
    )
    assert spilt == 0


@pytest.mark.parametrize("width", [360, 320])
def test_the_strip_is_not_cut_on_a_phone(opened: Opener, width: int) -> None:
    page = opened("race-card.html", width=width)
    cut = "(all) => all.filter((box) => box.scrollWidth > box.clientWidth).length"
    assert page.locator(".cut, .strip, .strip td").evaluate_all(cut) == 0


def test_strips_follow_the_markers_at_the_roadside(opened: Opener) -> None:
    page = opened("race-card.html", width=1000)
    expect(page.locator(".strip.markers-km").first).to_be_visible()
    expect(page.locator(".strip.markers-mi").first).to_be_hidden()
    page.get_by_role("radio", name="every mile").check()
    expect(page.locator(".strip.markers-mi").first).to_be_visible()
    expect(page.locator(".strip.markers-km").first).to_be_hidden()


def test_on_the_board_today_is_marked_and_the_search_stands_behind_the_nights(opened: Opener) -> None:
    page = opened("index.html", width=1280)
    marked = page.locator(".squad [aria-current='date']")
    expect(marked).to_have_count(1)
    expect(marked).to_have_text("Sun")
    assert page.locator(".squad td.today").count() == page.locator("details[open] .squad tbody tr").count()
    order = page.evaluate(
        "[...document.querySelectorAll('details[open] > *')].map((part) => part.classList[0] || part.tagName)"
    )
    assert order[-2:] == ["filter", "wide"]
    page.locator("details:not([open]) summary").first.click()
    page.locator("details[open] summary").first.click()
    expect(page.locator("details[open] .filter")).to_be_visible()


def test_no_letter_of_the_card_is_smaller_than_nine_points_on_a_phone(opened: Opener) -> None:
    page = opened("race-card.html")
    sizes = page.evaluate(
        "[...document.querySelectorAll('.card *, .strip *')].filter((e) => e.checkVisibility() && "
        "[...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()))"
        ".map((e) => parseFloat(getComputedStyle(e).fontSize))"
    )
    assert min(sizes) >= 12.0  # 9pt of 96 px to the inch; our choice


def test_a_band_of_effort_or_pace_never_breaks(opened: Opener) -> None:
    page = opened("plan.html", width=320)
    broken = page.evaluate(
        "[...document.querySelectorAll('.steps small .n')].filter((e) => e.getClientRects().length > 1)"
        ".map((e) => e.textContent)"
    )
    assert broken == []


def test_the_board_opens_this_week_and_finds_a_name(opened: Opener) -> None:
    page = opened("index.html", width=1280)
    assert page.locator("details[open]").count() == 1
    expect(page.locator("details[open] summary")).to_contain_text("15–21 Mar")
    page.get_by_label("Show only names with").fill("ines")
    expect(page.locator("details[open] .squad tbody tr:visible")).to_have_count(1)


def text_of(pdf: Path) -> list[str]:
    """The text of each page of a PDF."""
    if shutil.which("pdftotext") is None and not os.environ.get("CI"):
        pytest.skip("pdftotext of poppler-utils is not installed")
    said = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True, check=True)
    return said.stdout.split("\f")[:-1]
