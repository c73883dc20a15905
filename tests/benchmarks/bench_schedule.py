"""CPU time of scheduling one 16-week plan against what jinja2 and icalendar need to write it out.

Run with ``pytest -m benchmark tests/benchmarks/bench_schedule.py -s``. By itself,
``python -m tests.benchmarks.bench_schedule 10000`` schedules so many random runners, sensible and odd, and
prints how far the worst lies from the median.
"""

from __future__ import annotations

import datetime as dt
import gc
import statistics
import sys
import time
from collections.abc import Callable
from random import Random
from typing import Any

import jinja2
import pytest
from icalendar import Calendar, Event

from planbuilder.plan.types import Week
from planbuilder.schedule import Request, make_schedule
from planbuilder.units import say_in, say_minutes, say_run
from tests.schedule.builders import request_of
from tests.schedule.random_blocks import odd_block, sensible_block

# The parts of the libraries that the bound speaks of: a page with every session and step, and a calendar.
PAGE = """<!doctype html><title>Plan</title>
{% for week in weeks %}<h2>Week {{ week.number }}: {{ week.purpose }}</h2><p>{{ run(week.distance_m) }}</p>
{% for one in week.sessions %}<article id="{{ one.id }}"><h3>{{ one.title }}</h3>
<p>{{ one.date.isoformat() }} {{ run(one.distance_m) }} {{ minutes(one.duration_s) }}</p>
<p>{{ say(one.why) }}</p>
<ol>{% for step in one.steps %}<li>{{ step.repeat }} x {{ minutes(step.duration_s or 0) }}
{{ say(step.words) }} RPE {{ step.effort_rpe[0] }} to {{ step.effort_rpe[1] }}</li>{% endfor %}</ol>
{% for reason in one.reasons %}<p>{{ say(reason.text) }}</p>{% endfor %}</article>
{% endfor %}{% endfor %}"""


def _page(weeks: tuple[Week, ...]) -> str:
    template = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined).from_string(PAGE)
    return template.render(
        weeks=weeks,
        run=lambda metres: say_run(metres, "km"),
        minutes=say_minutes,
        say=lambda text: say_in(text, "km"),
    )


def _calendar(weeks: tuple[Week, ...]) -> bytes:
    calendar = Calendar()
    calendar.add("prodid", "-//tests//planbuilder//EN")
    calendar.add("version", "2.0")
    for week in weeks:
        for one in week.sessions:
            event = Event()
            event.add("uid", one.id)
            event.add("dtstamp", dt.datetime(2027, 1, 1, tzinfo=dt.UTC))
            event.add("dtstart", one.date)
            event.add("summary", one.title)
            lines = [f"{step.repeat} x {say_in(step.words, 'km')}" for step in one.steps]
            event.add("description", "\n".join([say_in(one.why, "km"), *lines, say_in(one.fuelling, "km")]))
            calendar.add_component(event)
    return bytes(calendar.to_ical())


def _cpu_s(call: Callable[[], Any], rounds: int = 7) -> float:
    call()
    times = []
    for _ in range(rounds):
        gc.collect()
        start = time.process_time()
        call()
        times.append(time.process_time() - start)
    return statistics.median(times)


BLOCK: dict[str, Any] = {
    "weeks": 16,
    "weekly_distance": "55 km",
    "longest_run": "18 km",
    "days": ("monday", "tuesday", "wednesday", "thursday", "saturday", "sunday"),
    "training": {"club_nights": [{"day": "tuesday", "time": "19:00"}]},
    "results": [{"distance": "10 km", "time": "43:00", "date": dt.date(2027, 1, 10)}],
}


@pytest.mark.benchmark
def test_scheduling_16_weeks_costs_at_most_4_times_writing_them_out() -> None:
    request = request_of(**BLOCK)
    weeks = make_schedule(request).weeks
    written = _cpu_s(lambda: (_page(weeks), _calendar(weeks)))
    planned = _cpu_s(lambda: make_schedule(request))
    print(
        f"\nschedule {planned * 1000:.1f} ms, writing {written * 1000:.1f} ms, ratio {planned / written:.2f}"
    )
    assert planned <= 4 * written


@pytest.mark.benchmark
def test_the_work_is_linear_in_the_number_of_weeks() -> None:
    short, long = request_of(**{**BLOCK, "weeks": 12}), request_of(**{**BLOCK, "weeks": 24})
    ratio = _cpu_s(lambda: make_schedule(long)) / _cpu_s(lambda: make_schedule(short))
    print(f"\n24 weeks cost {ratio:.2f} times 12 weeks")
    assert ratio <= 3.0


def spread(count: int, block: Callable[[Random], dict[str, Any]] = sensible_block) -> float:
    """Schedule so many random runners; print and give the worst CPU time as a multiple of the median.

    The slowest hundredth is timed twice more and the quickest time of each counts, so that a busy
    machine does not make a worst case.
    """
    found: list[tuple[float, int]] = []
    for seed in range(count):
        found.append((_once_s(request_of(**block(Random(seed)))), seed))
    found.sort()
    middle = statistics.median(seconds for seconds, _ in found)
    slow = found[-max(3, count // 100) :]
    again = []
    for seconds, seed in slow:
        request = request_of(**block(Random(seed)))
        again.append((min(seconds, _once_s(request), _once_s(request)), seed))
    worst, seed = max([*found[: -len(slow)][-1:], *again])
    print(
        f"\n{count} runners ({block.__name__}): median {middle * 1000:.0f} ms, 99 of 100 below "
        f"{found[int(0.99 * (count - 1))][0] * 1000:.0f} ms, worst {worst * 1000:.0f} ms (seed {seed}), "
        f"{worst / middle:.1f} times the median"
    )
    return worst / middle


def _once_s(request: Request) -> float:
    start = time.process_time()
    make_schedule(request)
    return time.process_time() - start


@pytest.mark.benchmark
@pytest.mark.parametrize("block", [sensible_block, odd_block])
def test_no_random_runner_costs_ten_times_the_median(block: Callable[[Random], dict[str, Any]]) -> None:
    assert spread(300, block) <= 10


if __name__ == "__main__":
    for word in sys.argv[1:] or ["300"]:
        spread(int(word), sensible_block)
        spread(int(word), odd_block)
