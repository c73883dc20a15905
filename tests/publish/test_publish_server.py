"""The server's contract with browsers and with calendars that poll, asked over loopback."""

from __future__ import annotations

import asyncio
import datetime as dt
import logging
import sys
import threading
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from email.utils import format_datetime
from pathlib import Path
from typing import Any

import pytest

from planbuilder import delivery
from planbuilder.outputs.calendar import check_feed
from planbuilder.publish import Site, block_stamp, serve
from planbuilder.publish.server import Keeper, Shelf, make_app
from planbuilder.settings.problems import CannotWrite, InputProblems, PlanbuilderError
from tests.accepted_half import FIRST, accepted_half, noon
from tests.publish.loopback import Loopback, served
from tests.publish.squad import BEFORE, change, in_memory, squad

MOMENT = dt.datetime(2027, 3, 14, 9, 0, tzinfo=dt.UTC)


def _site(folder: Path, title: str = "Easy run", last: Mapping[str, bytes] | None = None) -> Site:
    plans = [change(plan, "w01-easy", title=title) for plan in squad()]
    return in_memory(folder, plans, now=BEFORE, base_url="http://127.0.0.1:1", last=last or {})


def _feed_path(site: Site, key: str = "sam-3-co") -> str:
    return f"/{site.addresses[key].folder}/plan.ics"


@pytest.fixture(name="shelf")
def _shelf() -> Shelf:
    return Shelf()


@pytest.fixture(name="site", scope="module")
def _site_of_all_tests(tmp_path_factory: pytest.TempPathFactory) -> Site:
    return _site(tmp_path_factory.mktemp("block"))


@pytest.fixture(name="server", scope="module")
def _server_of_all_tests(site: Site) -> Iterator[Loopback]:
    shelf = Shelf()
    assert shelf.replace(site.files, site.removed, now=MOMENT) == []
    with served(make_app(shelf)) as loopback:
        yield loopback


# One answer ----------------------------------------------------------------------------------------------


def test_a_feed_is_answered_whole_with_all_that_a_poller_needs(server: Loopback, site: Site) -> None:
    answer = server.ask(_feed_path(site))
    assert answer.status == 200
    assert answer.body == site.files[_feed_path(site)[1:]]
    assert check_feed(answer.body) == []
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    assert answer.headers["content-length"] == str(len(answer.body))
    assert answer.headers["cache-control"] == "private, no-cache"
    assert answer.headers["last-modified"] == format_datetime(MOMENT, usegmt=True)
    assert answer.headers["content-disposition"] == 'inline; filename="plan.ics"'
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert answer.headers["x-robots-tag"] == "noindex, nofollow, noarchive"
    assert answer.headers["etag"].startswith('"')
    for name in ("set-cookie", "location", "www-authenticate", "server", "transfer-encoding"):
        assert name not in answer.headers, name


def test_pages_are_html_and_the_front_gives_nothing_away(server: Loopback, site: Site) -> None:
    page = server.ask(_feed_path(site).replace("plan.ics", "plan.html"))
    assert (page.status, page.headers["content-type"]) == (200, "text/html; charset=utf-8")
    front = server.ask("/")
    assert front.status == 200
    assert site.addresses["sam-3-co"].folder.encode() not in front.body
    assert server.ask("/robots.txt").body == b"User-agent: *\nDisallow:\n"


def test_head_is_get_without_the_body(server: Loopback, site: Site) -> None:
    for path in (_feed_path(site), "/nothing", "/robots.txt"):
        get, head = server.ask(path), server.ask(path, "HEAD")
        assert head.status == get.status
        assert head.body == b""
        for one in (get, head):
            one.headers.pop("date")
        assert head.headers == get.headers


@pytest.mark.parametrize(
    "tags",
    ["{tag}", "W/{tag}", '"other", {tag}', '"a",W/{tag} , "b"', "*", ' {tag} ,"x"'],
)
def test_a_client_that_holds_the_bytes_gets_304(server: Loopback, site: Site, tags: str) -> None:
    """RFC 9110 13.1.2: lists, weak comparison, the star."""
    tag = server.ask(_feed_path(site)).headers["etag"]
    answer = server.ask(_feed_path(site), if_none_match=tags.replace("{tag}", tag))
    assert (answer.status, answer.body) == (304, b"")
    assert answer.headers["etag"] == tag
    assert answer.headers["cache-control"] == "private, no-cache"


@pytest.mark.parametrize("tags", ['"other"', 'W/"other", "more"', "", "nonsense"])
def test_a_client_that_holds_other_bytes_gets_all_of_them(server: Loopback, site: Site, tags: str) -> None:
    assert server.ask(_feed_path(site), if_none_match=tags).status == 200


def test_tags_on_two_lines_are_one_list(server: Loopback, site: Site) -> None:
    tag = server.ask(_feed_path(site)).headers["etag"]
    lines = [("If-None-Match", '"other"'), ("If-None-Match", tag)]
    assert server.ask_with(_feed_path(site), "GET", lines).status == 304


@pytest.mark.parametrize(
    ("since", "status"),
    [
        (format_datetime(MOMENT, usegmt=True), 304),
        (format_datetime(MOMENT + dt.timedelta(days=1), usegmt=True), 304),
        (format_datetime(MOMENT - dt.timedelta(seconds=1), usegmt=True), 200),
        ("yesterday", 200),
        ("Sun, 99 Foo 2027 09:00:00 GMT", 200),
    ],
)
def test_a_date_alone_decides_where_there_is_no_tag(
    server: Loopback, site: Site, since: str, status: int
) -> None:
    assert server.ask(_feed_path(site), if_modified_since=since).status == status
    other = server.ask(_feed_path(site), if_modified_since=since, if_none_match='"other"')
    assert other.status == 200, "a tag outranks the date (RFC 9110 13.1.3)"


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"accept": "text/html"},
        {"accept": "application/json"},
        {"user_agent": ""},
        {"cookie": "a=b", "authorization": "Basic eDp5"},
        {"accept_encoding": "gzip, br", "range": "bytes=0-10"},
        {"if_none_match": "\xff\xfe", "if_modified_since": "\xff"},
    ],
)
def test_no_header_of_a_poller_changes_the_body(
    server: Loopback, site: Site, headers: dict[str, str]
) -> None:
    answer = server.ask(_feed_path(site), **headers)
    assert (answer.status, answer.body) == (200, site.files[_feed_path(site)[1:]])


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "PROPFIND", "PATCH"])
def test_other_methods_are_405_with_those_that_are_allowed(server: Loopback, site: Site, method: str) -> None:
    answer = server.ask(_feed_path(site), method)
    assert (answer.status, answer.headers["allow"]) == (405, "GET, HEAD")


@pytest.mark.parametrize(
    "path",
    [
        "/nothing",
        "/a/plan.ics",
        "/../../etc/passwd",
        "/%2e%2e/state/secret",
        "/%ff%fe",
        "/state/sent.json",
    ],
)
def test_an_unknown_path_is_404_and_says_nothing(server: Loopback, path: str) -> None:
    answer = server.ask(path)
    assert answer.status == 404
    assert b"secret" not in answer.body
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_what_was_taken_away_is_410(shelf: Shelf, site: Site) -> None:
    path = _feed_path(site)
    shelf.replace(site.files, now=MOMENT)
    left = {name: data for name, data in site.files.items() if name != path[1:]}
    shelf.replace(left, [path[1:]], now=MOMENT)
    with served(make_app(shelf)) as server:
        assert server.ask(path).status == 410
        assert server.ask(path, "HEAD").status == 410
        assert server.ask(_feed_path(site, "ines-a")).status == 200


# The last good bytes -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "bad",
    [b"", b"<!doctype html><p>Sorry</p>", b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", None],
)
def test_a_feed_that_is_not_fit_leaves_the_last_good_one(shelf: Shelf, site: Site, bad: bytes | None) -> None:
    path = _feed_path(site)[1:]
    shelf.replace(site.files, now=MOMENT)
    good = site.files[path]
    assert shelf.replace({path: good[:3000] if bad is None else bad}, now=MOMENT) != []
    assert shelf.files[path] == good
    item = shelf.find(path)
    assert not isinstance(item, int)
    assert item.body == good


def test_an_edition_without_a_file_leaves_the_last_good_one(shelf: Shelf, site: Site) -> None:
    shelf.replace(site.files, now=MOMENT)
    shelf.replace({}, now=MOMENT)
    assert shelf.files == site.files


class _Coach:
    """Edits the block, sometimes badly."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.title, self.trouble, self.mark = folder, "Easy run", None, 0
        self.heard: list[str] = []

    trouble: Exception | None

    def rebuild(self, last: Mapping[str, bytes]) -> Site:
        if self.trouble:
            raise self.trouble
        return _site(self.folder, self.title, last)

    def keeper(self, shelf: Shelf) -> Keeper:
        return Keeper(
            shelf,
            self.rebuild,
            lambda: self.mark,
            say=self.heard.append,
            clock=lambda: MOMENT,
            every_s=0.01,
            retry_s=0,
        )


@pytest.mark.parametrize(
    "trouble",
    [
        PlanbuilderError("block.toml:3: race.date must be a date."),
        CannotWrite("disk full"),
        KeyError("x"),
        MemoryError(),
        RecursionError(),
    ],
)
def test_whatever_goes_wrong_in_a_rebuild_the_last_good_bytes_are_served(
    tmp_path: Path, shelf: Shelf, trouble: Exception
) -> None:
    coach = _Coach(tmp_path)
    keeper = coach.keeper(shelf)
    site = keeper.build()
    with served(make_app(shelf)) as server:
        before = server.ask(_feed_path(site))
        coach.trouble, coach.mark = trouble, 1
        assert not keeper.look()
        after = server.ask(_feed_path(site))
        assert (after.status, after.body, after.headers["etag"]) == (200, before.body, before.headers["etag"])
        coach.trouble, coach.title, coach.mark = None, "Mended", 2
        assert keeper.look()
        assert b"SUMMARY:Mended" in server.ask(_feed_path(site)).body
    assert len(coach.heard) == 1, "a failed rebuild is told once"


def test_a_failed_rebuild_is_not_told_again_and_again(tmp_path: Path, shelf: Shelf) -> None:
    coach = _Coach(tmp_path)
    keeper = coach.keeper(shelf)
    keeper.build()
    coach.trouble, coach.mark = PlanbuilderError("broken"), 1
    assert [keeper.look() for _ in range(5)] == [False] * 5
    assert coach.heard == ["broken\nThe last good plans are still served."]


def test_trouble_that_passes_by_itself_is_tried_again_and_wrong_input_is_not(
    tmp_path: Path, shelf: Shelf
) -> None:
    coach = _Coach(tmp_path)
    keeper = coach.keeper(shelf)
    keeper.build()
    for trouble, again in ((CannotWrite("disk full"), True), (InputProblems([]), False)):
        coach.trouble, coach.mark = trouble, coach.mark + 1
        assert not keeper.look()
        coach.trouble = None
        assert keeper.look() is again


def test_the_server_notices_a_change_by_itself(tmp_path: Path, shelf: Shelf) -> None:
    coach = _Coach(tmp_path)
    keeper = coach.keeper(shelf)
    site = keeper.build()
    done = threading.Event()
    original = shelf.replace

    def watched(*arguments: Any, **options: Any) -> list[str]:
        faults = original(*arguments, **options)
        done.set()
        return faults

    shelf.replace = watched  # type: ignore[method-assign]
    with keeper:
        coach.title, coach.mark = "Changed", 1
        assert done.wait(20)
    assert b"SUMMARY:Changed" in shelf.files[_feed_path(site)[1:]]


def test_a_block_s_stamp_moves_with_its_files_and_the_day_alone(tmp_path: Path) -> None:
    (tmp_path / "block.toml").write_text("a")
    (tmp_path / "state").mkdir()
    first = block_stamp(tmp_path, now=MOMENT)
    (tmp_path / "state" / "sent.json").write_text("{}")
    (tmp_path / "state" / ".lock").write_text("")
    assert block_stamp(tmp_path, now=MOMENT + dt.timedelta(hours=1)) == first
    (tmp_path / "state" / "history.jsonl").write_text("{}")
    accepted = block_stamp(tmp_path, now=MOMENT)
    assert accepted != first
    (tmp_path / "block.toml").write_text("ab")
    assert block_stamp(tmp_path, now=MOMENT) != accepted
    assert block_stamp(tmp_path, now=MOMENT + dt.timedelta(days=1)) != block_stamp(tmp_path, now=MOMENT)


def test_the_first_edition_must_succeed(tmp_path: Path) -> None:
    coach = _Coach(tmp_path)
    coach.trouble = PlanbuilderError("block.toml:3: race.date must be a date.")
    with pytest.raises(PlanbuilderError, match=r"block\.toml:3"):
        serve(coach.rebuild, stamp=lambda: 0, port=0, say=coach.heard.append)


# Secrets -------------------------------------------------------------------------------------------------


def test_no_address_is_ever_written_to_a_log(
    tmp_path: Path, shelf: Shelf, caplog: pytest.LogCaptureFixture, capfd: pytest.CaptureFixture[str]
) -> None:
    coach = _Coach(tmp_path)
    keeper = coach.keeper(shelf)
    site = keeper.build()
    folder = site.addresses["sam-3-co"].folder
    with caplog.at_level(logging.DEBUG), served(make_app(shelf), log_level="debug") as server:
        for path in (f"/{folder}/plan.ics", f"/{folder}/nothing", f"/{folder}/%ff"):
            for method in ("GET", "HEAD", "POST"):
                server.ask(path, method, if_none_match="*", cookie="x")
        coach.trouble, coach.mark = KeyError(folder), 1
        keeper.look()
    out, err = capfd.readouterr()
    assert folder not in caplog.text + out + err + "".join(coach.heard)


# Many pollers --------------------------------------------------------------------------------------------


async def _poll(port: int, path: str, tag: list[str]) -> tuple[int, bytes]:
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    condition = f"If-None-Match: {tag[0]}\r\n" if tag else ""
    writer.write(f"GET {path} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n{condition}\r\n".encode())
    raw = await reader.read()
    writer.close()
    head, _, body = raw.partition(b"\r\n\r\n")
    lines = head.decode().split("\r\n")
    headers = {name.lower(): value for name, _, value in (line.partition(": ") for line in lines[1:])}
    status = int(lines[0].split()[1])
    if status == 200:
        assert headers["content-length"] == str(len(body))
        tag[:] = [headers["etag"]]
    return status, body


def test_a_thousand_subscribers_poll_while_the_plan_is_rebuilt_twenty_times(
    tmp_path: Path, shelf: Shelf
) -> None:
    """Over loopback, 40 at a time, 120 seconds at most: every body is complete and one of the versions."""
    coach = _Coach(tmp_path)
    keeper = coach.keeper(shelf)
    site = keeper.build()
    paths = [_feed_path(site, key) for key in ("sam-3-co", "ines-a")]
    versions = {path: {shelf.files[path[1:]]} for path in paths}
    polling = threading.Event()

    def coaching() -> None:
        polling.wait(20)
        for number in range(1, 21):
            coach.title, coach.mark = f"Run {number}", number
            assert keeper.look()
            for path in paths:
                versions[path].add(shelf.files[path[1:]])

    async def polls(port: int) -> list[tuple[str, int, bytes]]:
        gate = asyncio.Semaphore(40)
        seen: list[tuple[str, int, bytes]] = []

        async def subscriber(number: int) -> None:
            tag: list[str] = []
            for _ in range(2):
                async with gate:
                    path = paths[number % 2]
                    seen.append((path, *await _poll(port, path, tag)))
                    polling.set()

        await asyncio.wait_for(asyncio.gather(*(subscriber(number) for number in range(1000))), 120)
        return seen

    with served(make_app(shelf)) as server:
        thread = threading.Thread(target=coaching)
        thread.start()
        with ThreadPoolExecutor(1) as apart:  # a browser test may have left a loop running in this thread
            seen = apart.submit(asyncio.run, polls(server.port)).result()
        thread.join(60)
        last = {path: server.ask(path).body for path in paths}
    assert not thread.is_alive()
    assert len(seen) == 2000
    assert {status for _, status, _ in seen} <= {200, 304}
    assert all(body in versions[path] for path, status, body in seen if status == 200)
    assert all(len(versions[path]) == 21 for path in paths)
    assert all(b"SUMMARY:Run 20" in body for body in last.values())


def test_every_address_is_said_once_when_a_block_is_first_served(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = accepted_half(tmp_path)
    heard: list[str] = []

    def twice(rebuild: Any, **_: object) -> None:
        site = rebuild({})
        rebuild(site.files)
        assert site.addresses["maren-t"].page_url in heard[0]
        assert site.board_url in heard[0]
        assert site.coach_url in heard[0]

    monkeypatch.setattr("planbuilder.publish.serve", twice)
    delivery.serve_block(
        folder,
        host="127.0.0.1",
        port=1,
        base_url="http://x.example",
        say=heard.append,
        clock=lambda: noon(FIRST),
    )
    assert len(heard) == 1


def test_what_serve_lacks_is_told_with_a_line_for_an_environment_without_pip(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "uvicorn", None)
    monkeypatch.setattr(sys, "executable", "/home/a coach/.venv/bin/python")
    with pytest.raises(PlanbuilderError) as told:
        serve(lambda _last: _site(tmp_path), stamp=lambda: None, say=print)
    line = "python3 -m pip --python '/home/a coach/.venv/bin/python' install starlette uvicorn"
    assert str(told.value).endswith(line)
