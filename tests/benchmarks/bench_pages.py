"""What a page costs: preparing it against rendering it, and its weight."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import pytest

from planbuilder.outputs.pages import render_race_card, words
from planbuilder.outputs.pages.environment import render
from planbuilder.outputs.pages.plan_page import plan_view, render_plan
from tests.outputs.test_pages import PUBLISHED, long_plan

pytestmark = pytest.mark.benchmark

ROUNDS = 15


def forget() -> None:
    """Empty the memory of sentences, so that every round prepares a runner never seen before."""
    for remembered in (words.both, words.sentence, words.pace_band, words.from_to):
        remembered.cache_clear()


def median_s(*works: Callable[[], object]) -> list[float]:
    """Median CPU seconds of each piece of work, run in turn after one round to warm up."""
    taken: list[list[float]] = [[] for _ in works]
    for _ in range(ROUNDS + 1):
        for times, work in zip(taken, works, strict=True):
            forget()
            begun = time.process_time()
            work()
            times.append(time.process_time() - begun)
    return [statistics.median(times[1:]) for times in taken]


def test_preparing_a_page_costs_at_most_twice_rendering_it() -> None:
    plan = long_plan(16)
    view = plan_view(plan, links=PUBLISHED)
    prepare_s, render_s = median_s(
        lambda: plan_view(plan, links=PUBLISHED), lambda: render("plan.html", page=view)
    )
    print(
        f"\nplan.html, 16 weeks: prepared in {prepare_s * 1e3:.1f} ms, rendered in {render_s * 1e3:.1f} ms, "
        f"ratio {prepare_s / render_s:.2f} (at most 2)"
    )
    assert prepare_s <= 2 * render_s


def test_a_page_weighs_less_than_300_kilobytes() -> None:
    plan = long_plan(16)
    page, card = len(render_plan(plan, links=PUBLISHED).encode()), len(render_race_card(plan).encode())
    print(f"\nplan.html {page / 1e3:.0f} kB (below 300), race-card.html {card / 1e3:.0f} kB")
    assert page < 300_000
