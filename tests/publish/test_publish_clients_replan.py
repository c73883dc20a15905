"""Real calendar programs follow a plan through a re-plan, its undoing and the days after the race.

The block, the log, the edits and the answers are real; the programs subscribe over loopback alone, as in the
other client tests. What a program shows is held against the plan itself.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from pathlib import Path

from planbuilder import delivery, living, pipeline
from planbuilder.block import read_block
from planbuilder.block.log_table import LogLine
from planbuilder.outputs.calendar import uid_of
from planbuilder.plan.types import Plan
from tests.accepted_half import DAY, FIRST, WHO, copied_half, noon
from tests.outputs.calendar_readers import Seen, read_with_icalendar
from tests.publish.scenario import Story, said, told
from tests.publish.test_publish_clients_command_line import Desk, as_khal_says
from tests.publish.test_publish_clients_desktop import desktop

ZONE = "Europe/Dublin"
TODAY = dt.date(2027, 4, 6)
KHAL_SHOWS = (dt.date(2027, 3, 14), dt.date(2027, 4, 22))  # what ``Desk.shown`` asks khal for


class Season:
    """A block whose coach publishes after every change."""

    def __init__(self, folder: Path, story: Story) -> None:
        self.folder = copied_half(folder)
        self._site, self._story = folder / "site", story
        self.today = FIRST

    @property
    def plan(self) -> Plan:
        (plan,) = pipeline.plan_all(read_block(self.folder))
        return plan

    def publish(self) -> dict[str, Seen]:
        """Serve the feed as it is now; what it says, by UID."""
        block = read_block(self.folder)
        delivery.publish_block(block, site=self._site, base_url="http://127.0.0.1", now=noon(self.today))
        (feed,) = self._site.rglob("*.ics")
        self._story.body = feed.read_bytes()
        events = read_with_icalendar(self._story.body)
        assert len({one.uid for one in events}) == len(events), "each session once"
        return {one.uid: one for one in events}

    def replan(self) -> None:
        block = read_block(self.folder)
        found = list(living.propose(block, today=self.today))
        assert any(one.answer.changes for one in found)
        living.accept(block, found, by="replan", today=self.today, now=noon(self.today))

    def edit(self, **values: object) -> None:
        said = {key.rstrip("_"): value for key, value in values.items()} | {"runner": WHO, "on": self.today}
        living.edit(self.folder, said, today=self.today, now=noon(self.today))

    def log(self, *lines: tuple[str, str, str]) -> None:
        living.add_to_log(
            self.folder, [LogLine(day, WHO, session, time=time) for day, session, time in lines]
        )


def stages(season: Season) -> Iterator[str]:
    """What happens, stage by stage."""
    yield "the first plan"
    season.today = TODAY
    season.log(("2027-03-30", "w05-club", "0:48:00"), ("2027-04-03", "w05-easy-2", "0:40:00"))
    season.edit(do="move", session="w07-easy", to=dt.date(2027, 4, 16))
    season.edit(do="skip", session="w06-easy-2")
    season.edit(do="ill", from_=TODAY, to=TODAY + DAY, fever=True)
    season.replan()
    yield "moved, skipped and ill"
    living.undo(season.folder, only=None, today=TODAY, now=noon(TODAY))
    yield "the answer taken back"
    season.today = dt.date(2027, 5, 24)
    season.log(("2027-05-23", "w12-race", "2:25:00"))
    season.replan()
    yield "after a long hard race"


def check_against_plan(season: Season, shown: list[Seen], first: dict[str, Seen]) -> None:
    """Each session once and on its day, called-off ones gone or cancelled, the past as it was first sent."""
    plan = season.plan
    by_uid = {uid_of(plan.race.key, plan.runner.key, one.id): one for one in plan.sessions}
    seen = {one.uid: one for one in shown}
    assert len(seen) == len(shown)
    assert seen.keys() <= by_uid.keys()
    for uid, session in by_uid.items():
        event = seen.get(uid)
        if session.cancelled:
            assert event is None or event.status == "CANCELLED"
            continue
        assert event is not None, session.id
        start = event.start.date() if isinstance(event.start, dt.datetime) else event.start
        assert start == session.date, session.id
        if session.date < TODAY:
            assert event == first[uid]
    assert sum(session.role == "after" for session in plan.sessions) == 3


def test_a_command_line_calendar_follows_a_re_plan(tmp_path: Path) -> None:
    with told(tmp_path / "state") as (story, port):
        season = Season(tmp_path, story)
        first = season.publish()
        desk = Desk(tmp_path / "desk", port)
        for stage in stages(season):
            now = season.publish()
            assert desk.sync() == 0
            assert desk.events() == said(now.values()), stage
            check_against_plan(season, list(now.values()), first)
            low, high = KHAL_SHOWS
            due = {uid: one for uid, one in now.items() if low <= _day(one) <= high}
            assert desk.shown(ZONE) == as_khal_says(due, ZONE), stage


def _says(expected: dict[str, Seen]) -> Callable[[list[Seen]], bool]:
    return lambda events: said(events) == said(expected.values())


def _day(event: Seen) -> dt.date:
    return event.start.date() if isinstance(event.start, dt.datetime) else event.start


def test_a_desktop_calendar_follows_a_re_plan(tmp_path: Path) -> None:
    with told(tmp_path / "state") as (story, port):
        season = Season(tmp_path, story)
        first = season.publish()
        with desktop(tmp_path / "home", port) as home:
            home.events_when(lambda events: len(events) == len(first))
            moved: set[str] = set()
            before = first
            for stage in stages(season):
                now = season.publish()
                home.refresh(story)
                events = home.events_when(_says(now))
                assert said(events) == said(now.values()), stage
                check_against_plan(season, events, first)
                moved |= {uid for uid in before.keys() & now.keys() if before[uid].start != now[uid].start}
                before = now
            assert moved, "a moved session keeps its identity"
