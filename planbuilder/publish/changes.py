"""What changed since the last publish, as a message to paste into the squad's chat."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from planbuilder.outputs.calendar import contents_of
from planbuilder.plan.types import Plan
from planbuilder.publish.addresses import Addresses, known_secret
from planbuilder.publish.folder import STATE_FOLDER
from planbuilder.publish.sent import Sent, SentEvent, SentFeed, parse_stamp, read_steadily
from planbuilder.publish.site import events_now
from planbuilder.settings.models import RaceSettings
from planbuilder.units import say_date

FEED_TOO_SLOW: Final = dt.timedelta(hours=48)  # some calendars fetch a feed once a day
_CLUB: Final = "-club"  # in the id of what was laid out as a club night
_RACE: Final = "-race"
_TUNE_UP: Final = "-tune-up"
_FEW: Final = 3  # so many new texts, changes of a runner of a squad, or names are said one by one


@dataclass(frozen=True, slots=True)
class Change:
    """One session that is not as it was sent."""

    runner: str  # name
    session: str
    before: SentEvent | None  # None: new
    after: SentEvent | None  # None: gone

    @property
    def first_day(self) -> dt.date:
        """The earlier of the old and the new day."""
        return min(dt.date.fromisoformat(event.date) for event in (self.before, self.after) if event)

    @property
    def last_day(self) -> dt.date:
        """The later of the old and the new day."""
        return max(dt.date.fromisoformat(event.date) for event in (self.before, self.after) if event)

    @property
    def only_details(self) -> bool:
        """Whether day, hour and title stayed."""
        before, after = self.before, self.after
        return bool(before and after and before.shows == after.shows)

    @property
    def is_news(self) -> bool:
        """Whether somebody who runs the session has to know: not where only words of its week are new."""
        before, after = self.before, self.after
        return not (self.only_details and before and after and before.own and before.own == after.own)


Nights = Mapping[dt.date, dt.date | None]  # club nights of which a coach's word for all moved or took the day

NO_NIGHTS: Final[Nights] = {}
_NOTHING: Final = ("Nothing has been published yet", "Nothing has changed")


def nothing_new(message: str) -> bool:
    """Whether a message of ``changes`` tells of no change."""
    return message.startswith(_NOTHING)


def changes(
    block_folder: Path,
    plans: Iterable[Plan],
    *,
    now: dt.datetime,
    why: Mapping[str, str],
    race: RaceSettings,
    nights: Nights = NO_NIGHTS,
) -> str:
    """The message for these plans against what the block's ``state`` says was sent; nothing is written.

    It begins where news was last told, by a publish or by ``count_as_told``; what a server has sent since is
    news too. ``why`` gives a reason in words by runner key, or under "" for everyone; it is read by the whole
    squad, so it holds nothing about health. ``nights`` are club nights that were moved or called off
    for all: each is told once.
    """
    state = block_folder / STATE_FOLDER
    if not state.is_dir():
        return say_changes(Sent(), Sent(), {}, race=race, now=now, why=why, nights=nights)
    sent, told = read_steadily(state)
    said = {
        plan.runner.key: Said(plan.runner.name, _events_now(sent, plan, _page_url(state, sent, plan), now))
        for plan in plans
    }
    return say_changes(told, sent, said, race=race, now=now, why=why, nights=nights)


class Said(NamedTuple):
    """What a feed says of one runner."""

    name: str
    events: Mapping[str, SentEvent]


def say_changes(
    told: Sent,
    sent: Sent,
    said: Mapping[str, Said | SentFeed],
    *,
    race: RaceSettings,
    now: dt.datetime,
    why: Mapping[str, str],
    shown_as: Callable[[str], str] = str,
    nights: Nights = NO_NIGHTS,
) -> str:
    """What changed, for whom, from when, why, and as which version; a message in plain text.

    News is what differs from ``told``; ``sent`` is what was sent last, later where a server sent more.
    ``said`` is what every runner's feed says now, by key; ``shown_as`` shortens names for a page that many
    read.
    """
    if not told.feeds:
        return "Nothing has been published yet.\n"
    zone = ZoneInfo(race.timezone)
    names, news = _names_and_news(told, said, now.astimezone(zone), shown_as, nights)
    new = [names[key] for key in said if key not in told.feeds]
    retired = {entry.runner for entry in told.retired}
    left = [names[key] for key in told.feeds if key not in said and key not in retired]
    if not (news or new or left):
        return f"Nothing has changed since version {told.version}.\n"
    first = min((one.first_day for one in news.values()), default=None)
    since = f", from {say_date(first)} on" if first else ""
    everyone = {key: names[key] for key in said if key in told.feeds}
    parts = [
        f"{race.name}: version {_version_now(told, sent, said)} of the plan{since}.",
        "" if sent.version == told.version else _told_until(told, zone),
        _races_told([(key, one) for key, news_of_one in news.items() for one in news_of_one.races], everyone),
        _nights_told(one for news_of_one in news.values() for one in news_of_one.nights),
        *_groups({key: one.lines for key, one in news.items()}, everyone),
        f"New in the squad: {', '.join(new)}." if new else "",
        f"No longer in the squad: {', '.join(left)}." if left else "",
        f"Why: {why['']}" if why.get("") else "",
        *(f"Why, {names[key]}: {why[key]}" for key in said if key in news and why.get(key)),
        _feed_words([one.starts for one in news.values()], now, zone),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def _names_and_news(
    told: Sent,
    said: Mapping[str, Said | SentFeed],
    now: dt.datetime,
    shown_as: Callable[[str], str],
    nights: Nights,
) -> tuple[dict[str, str], dict[str, _RunnerNews]]:
    """Everyone's name, and what changed for whom, by key; one runner after the other, and little is kept."""
    names: dict[str, str] = {}
    found: dict[str, _RunnerNews] = {}
    for key in told.feeds:
        if key not in said:
            names[key] = shown_as(told.feeds[key].name)
    for key, feed in said.items():
        names[key] = shown_as(feed.name)
        changed = find_changes(names[key], told.feeds.get(key), feed.events)
        coming = [change for change in changed if change.last_day >= now.date() and change.is_news]
        if coming:
            of_all = [change for change in coming if _as_told_to_all(change, nights)]
            races = [change for change in coming if _moves_a_race(change)]
            own = [
                change
                for change in coming
                if change not in races and (change not in of_all or _another_title(change))
            ]
            found[key] = _RunnerNews(
                tuple(_news(own, now)),
                tuple(_night(change) for change in of_all),
                tuple(_race(change) for change in races),
                min(change.first_day for change in coming),
                min(_starts(change, now.tzinfo) for change in coming),
            )
    return names, found


def _version_now(told: Sent, sent: Sent, said: Mapping[str, Said | SentFeed]) -> int:
    """The version that holds all of this: that which is sent next, or the last where it has been sent."""
    if sent.version == told.version:
        return sent.version + 1
    last = sent.feeds
    more = any(key not in last or any(find_changes("", last[key], feed.events)) for key, feed in said.items())
    return sent.version + more


def _told_until(told: Sent, zone: dt.tzinfo) -> str:
    at = max(parse_stamp(feed.changed) for feed in told.feeds.values()).astimezone(zone)
    return f"Told here is everything since version {told.version} of {say_date(at.date())} {at:%H:%M}."


def find_changes(name: str, last: SentFeed | None, after: Mapping[str, SentEvent]) -> Iterator[Change]:
    """Every session of one runner that is sent differently now; nothing for one whose first feed it is."""
    if last is None:
        return
    for session, event in after.items():
        was, now_is = _standing(last.events.get(session)), _standing(event)
        if was != now_is:
            yield Change(name, session, was, now_is)


def _page_url(state: Path, sent: Sent, plan: Plan) -> str | None:
    """The address of a runner's page, where their calendar carries it."""
    if not (sent.base_url and plan.runner.page_link):
        return None
    key = plan.runner.key
    addresses = Addresses(known_secret(state), sent.base_url)
    return addresses.runner(key, plan.runner.name, sent.renewals.get(key, 0)).page_url


def _events_now(sent: Sent, plan: Plan, page_url: str | None, now: dt.datetime) -> Mapping[str, SentEvent]:
    feed = sent.feeds.get(plan.runner.key)
    today = now.astimezone(ZoneInfo(plan.race.timezone)).date()
    return events_now(plan, contents_of(plan, page_url), feed.events if feed else {}, today, now)


def _standing(event: SentEvent | None) -> SentEvent | None:
    return None if event is None or event.gone else event


class _News(NamedTuple):
    day: dt.date
    line: str
    sessions: int  # how many it stands for
    soon: bool  # too soon for the feed


class _RunnerNews(NamedTuple):
    lines: tuple[_News, ...]
    nights: tuple[_News, ...]  # what is told of club nights for all
    races: tuple[_News, ...]  # the race or a tune-up race that has another day
    first_day: dt.date
    starts: dt.datetime  # the first session, old or new, that it is about


def _groups(news_of: Mapping[str, Iterable[_News]], everyone: Mapping[str, str]) -> Iterator[str]:
    """The changes, those of the most people first, each once for all it is for; names are by key.

    Many people are a count, not a list of names. In a squad the many changes that a runner shares with next
    to nobody are a count as well: a list of them would tell the others why. What is too soon for the feed is
    never a count: somebody is to read it here.
    """
    who_by_news: dict[_News, list[str]] = defaultdict(list)
    for key in everyone:
        for news in news_of.get(key, ()):
            who_by_news[news].append(key)
    told_to_few: dict[str, list[_News]] = defaultdict(list)
    for news, keys in who_by_news.items():
        for key in keys if len(keys) <= _FEW and len(keys) < len(everyone) else ():
            told_to_few[key].append(news)
    counted = {
        key: [news for news in told if not news.soon]
        for key, told in told_to_few.items()
        if sum(news.sessions for news in told) > _FEW
    }
    news_by_who: dict[tuple[str, ...], list[_News]] = defaultdict(list)
    for news, keys in who_by_news.items():
        named = tuple(everyone[key] for key in keys if news not in counted.get(key, ()))
        if named:
            news_by_who[named].append(news)
    for who, told in sorted(news_by_who.items(), key=_order):
        yield "\n".join((_heading(who, len(everyone)), *(f"- {news.line}" for news in sorted(told))))
    counts = sorted((everyone[key], told, told_to_few[key]) for key, told in counted.items() if told)
    yield "\n".join(_as_count(name, told, of=every) for name, told, every in counts)


def _order(group: tuple[tuple[str, ...], list[_News]]) -> tuple[bool, int, tuple[str, ...]]:
    """What is soon first, then what is for the most people."""
    who, told = group
    return not any(news.soon for news in told), -len(who), who


def _races_told(races: Iterable[tuple[str, _News]], everyone: Mapping[str, str]) -> str:
    """The races that have another day, before anything else: each once, and for whom."""
    for_whom: dict[_News, list[str]] = defaultdict(list)
    for key, news in races:
        for_whom[news].append(everyone[key])
    return "\n".join(f"{news.line}{_for(names, len(everyone))}." for news, names in sorted(for_whom.items()))


def _for(names: list[str], everyone: int) -> str:
    if len(names) == everyone:
        return ", for everybody" if everyone > 1 else ""
    return f", for {', '.join(names)}" if len(names) <= _FEW else f", for {len(names)} runners"


def _moves_a_race(change: Change) -> bool:
    """Whether the race or a tune-up race has another day."""
    before, after = change.before, change.after
    if before is None or after is None or after.called_off:
        return False
    return before.date != after.date and change.session.endswith((_RACE, _TUNE_UP))


def _race(change: Change) -> _News:
    """What is told of a race that has another day, without what differs between runners."""
    before, after = change.before, change.after
    assert before is not None
    assert after is not None
    name = "tune-up race" if change.session.endswith(_TUNE_UP) else "race"
    was, now = (say_date(dt.date.fromisoformat(event.date)) for event in (before, after))
    at = f", {after.start}" if after.start != before.start and after.start else ""
    return _News(change.first_day, f"The {name} moves from {was} to {now}{at}", 1, soon=False)


def _nights_told(news: Iterable[_News]) -> str:
    """What a coach's word changed for all, each night once."""
    told = sorted(set(news))
    return "\n".join(("Club nights, for everybody:", *(f"- {one.line}" for one in told))) if told else ""


def _as_told_to_all(change: Change, nights: Nights) -> bool:
    """Whether a runner's club session is moved or called off because the night is, for all."""
    before, after = change.before, change.after
    if before is None or before.called_off or _CLUB not in change.session:
        return False
    day = dt.date.fromisoformat(before.date)
    if day not in nights:
        return False
    to = nights[day]
    if to is None:
        return after is None or bool(after.called_off)
    return after is not None and not after.called_off and after.date == to.isoformat()


def _another_title(change: Change) -> bool:
    """Whether a session that is still on has another title."""
    before, after = change.before, change.after
    return bool(before and after and not after.called_off and before.title != after.title)


def _night(change: Change) -> _News:
    """What is told of a night, whatever each runner was to do on it."""
    before, after = change.before, change.after
    assert before is not None
    off = after is None or after.called_off
    what = "is off" if off or after is None else f"moves to {_when(after)}"
    return _News(change.first_day, f"{_when(before)} {what}", 1, soon=False)


def _heading(who: tuple[str, ...], everyone: int) -> str:
    if len(who) == everyone > 1:
        return "Everyone:"
    if len(who) > _FEW:
        return f"{len(who)} runners, as their own pages say:"
    return f"{', '.join(who)}:"


def _as_count(runner: str, told: list[_News], *, of: list[_News]) -> str:
    count, first = sum(news.sessions for news in told), say_date(min(news.day for news in told))
    more = " more" if len(told) < len(of) else ""
    sessions, change = ("session", "changes") if count == 1 else ("sessions", "change")
    return f"{runner}: {count}{more} {sessions} from {first} on {change}; see your own page."


def _news(found: list[Change], now: dt.datetime) -> Iterator[_News]:
    too_soon = now + FEED_TOO_SLOW
    soon = {change.session for change in found if _starts(change, now.tzinfo) <= too_soon}
    details = [change for change in found if change.only_details and change.session not in soon]
    few = len(details) <= _FEW
    for change in found:
        if few or change not in details:
            yield _News(change.first_day, _line(change), 1, change.session in soon)
    if not few:
        first, count = min(change.first_day for change in details), len(details)
        line = f"{count} sessions from {say_date(first)} on: new details, such as steps or paces"
        yield _News(first, line, count, soon=False)


def _line(change: Change) -> str:
    before, after = change.before, change.after
    if before is None and after is not None:
        return f"{_when(after)}: new, {after.title}"
    if after is None and before is not None:
        return f"{_when(before)}: {before.title} is off"
    if before is None or after is None:
        raise ValueError("a change has a before or an after")
    if after.called_off and not before.called_off:
        return f"{_when(before)}: {before.title} is called off"
    if change.only_details:
        return f"{_when(after)}: {after.title}, new details"
    title = "" if before.title == after.title else f", now {after.title}"
    if (before.date, before.start) == (after.date, after.start):
        return f"{_when(before)}: {before.title}{title}"
    return f"{_when(before)}: {before.title} moves to {_when(after)}{title}"


def _when(event: SentEvent) -> str:
    day = say_date(dt.date.fromisoformat(event.date))
    return f"{day} {event.start}" if event.start else day


def _feed_words(starts: list[dt.datetime], now: dt.datetime, zone: dt.tzinfo) -> str:
    if not starts:
        return ""
    soon = (now + FEED_TOO_SLOW).astimezone(zone)
    if min(starts) > soon:
        return "Your calendar fetches this by itself, mostly within a day. There is nothing to do."
    return (
        f"Some of this comes before {say_date(soon.date())} {soon:%H:%M}. The calendar feed alone is too "
        "slow for that: please answer in the chat once you have read it."
    )


def _starts(change: Change, zone: dt.tzinfo | None) -> dt.datetime:
    """When the earlier of the old and the new session begins; the start of the day where it has no hour."""
    events = [event for event in (change.before, change.after) if event]
    return min(
        dt.datetime.combine(
            dt.date.fromisoformat(event.date), dt.time.fromisoformat(event.start or "00:00"), zone
        )
        for event in events
    )
