"""A real browser on pages that lie on disk, as a runner opens them."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from planbuilder.outputs.debrief import Debrief, StretchRun
from planbuilder.outputs.pages import Links, render_debrief, render_plan, render_race_card
from planbuilder.plan.types import Plan
from tests.outputs.sample_plan import sample_plan
from tests.outputs.squad_pages import board_page, coach_page
from tests.outputs.test_pages import course_page

MORNING = "2027-03-21T06:00:00"  # the Sunday of the long run
_ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """The system's Chromium; without one the tests are skipped, but never in continuous integration."""
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if found is None:
        if os.environ.get("CI"):
            pytest.fail("no Chromium is installed; continuous integration needs one")
        pytest.skip("no Chromium is installed")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=found, args=list(_ARGUMENTS))
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A built block, as the coach has it on disk."""
    out = tmp_path_factory.mktemp("built")
    plan = sample_plan()
    runner = out / plan.runner.key
    runner.mkdir()
    links = Links(
        feed_url="https://plans.example.org/k7Q2/plan.ics",
        webcal_url="webcal://plans.example.org/k7Q2/plan.ics",
        debrief_url="debrief.html",
    )
    (runner / "plan.html").write_text(render_plan(plan, links=links), "utf-8")
    (runner / "race-card.html").write_text(render_race_card(plan), "utf-8")
    (runner / "debrief.html").write_text(render_debrief(plan, debrief_of(plan)), "utf-8")
    (out / "course.html").write_text(course_page(plan), "utf-8")
    (out / "index.html").write_text(board_page([plan, sample_plan(name="Ines A", key="ines-a")]), "utf-8")
    (out / "coach.html").write_text(coach_page([plan]), "utf-8")
    return out


def debrief_of(plan: Plan) -> Debrief:
    """The race as planned, with a heart rate."""
    stretches = tuple(
        StretchRun(
            one.name,
            one.from_m,
            one.to_m,
            one.grade,
            one.time_s,
            one.time_s or 0.0,
            one.pace_s_per_km or 0.0,
            165.0,
            0.0,
            "harder than the rest",
        )
        for one in plan.race_plan.features
    )
    return Debrief(6070.0, 6070.0, 6000.0, 6200.0, stretches)


FILES = {
    "plan.html": "sam-3-co/plan.html",
    "race-card.html": "sam-3-co/race-card.html",
    "debrief.html": "sam-3-co/debrief.html",
    "course.html": "course.html",
    "index.html": "index.html",
    "coach.html": "coach.html",
}

Opener = Callable[..., Page]


@pytest.fixture
def opened(browser: Browser, folder: Path) -> Iterator[Opener]:
    """Opens a page from disk; a console message, an error or a request to anywhere fails the test."""
    contexts: list[BrowserContext] = []
    heard: list[str] = []

    def open_page(
        name: str,
        *,
        width: int = 390,
        scheme: str = "light",
        script: bool = True,
        now: str = MORNING,
        motion: str = "no-preference",
    ) -> Page:
        context = browser.new_context(
            viewport={"width": width, "height": 844},
            color_scheme="dark" if scheme == "dark" else "light",
            reduced_motion="reduce" if motion == "reduce" else "no-preference",
            java_script_enabled=script,
        )
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: heard.append(f"console: {message.text}"))
        page.on("pageerror", lambda error: heard.append(f"error: {error}"))
        page.on(
            "request",
            lambda request: None if request.url.startswith("file://") else heard.append(request.url),
        )
        page.clock.set_fixed_time(now)
        page.goto((folder / FILES[name]).as_uri())
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert heard == []
