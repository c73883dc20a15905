"""Publishing: addresses that last, editions that move with the meaning alone, files swapped whole."""

from __future__ import annotations

import datetime as dt
import gc
import json
import multiprocessing
import re
import shutil
import stat
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from planbuilder.outputs.calendar import check_feed
from planbuilder.plan.types import Plan
from planbuilder.publish import SharedPages
from planbuilder.settings.problems import CannotWrite, InputProblems
from tests.memory import peak_bytes
from tests.outputs.sample_plan import sample_plan
from tests.publish.squad import (
    BASE,
    BEFORE,
    add,
    change,
    drop,
    events_of,
    feed_of,
    pages,
    publish_to,
    squad,
    stamps,
)

LATER = BEFORE + dt.timedelta(days=3, hours=1)


def _times(folder: Path) -> dict[str, int]:
    """When each file was last written, the lock left out."""
    return {
        str(path): path.stat().st_mtime_ns
        for path in folder.rglob("*")
        if path.is_file() and path.name != ".lock"
    }


def _shown(folder: Path) -> set[str]:
    return {str(path.relative_to(folder / "site")) for path in (folder / "site").rglob("*") if path.is_file()}


# Addresses -----------------------------------------------------------------------------------------------


def test_an_address_has_256_bits_that_nothing_gives_away(tmp_path: Path) -> None:
    report = publish_to(tmp_path, squad())
    folders = [address.folder for address in report.addresses.values()]
    assert all(re.fullmatch("[a-z2-7]{52}", folder) for folder in folders)
    assert len(set(folders)) == 2
    text = json.dumps((tmp_path / "block/state/sent.json").read_text())
    for name in ("index.html", "robots.txt"):
        text += (tmp_path / "site" / name).read_text()
    assert not [folder for folder in folders if folder in text]


def test_addresses_come_again_from_the_block_alone(tmp_path: Path) -> None:
    first = publish_to(tmp_path, squad())
    shutil.rmtree(tmp_path / "site")
    again = publish_to(tmp_path, squad()[::-1], now=LATER)
    assert {key: first.addresses[key].feed_url for key in first.addresses} == {
        key: again.addresses[key].feed_url for key in again.addresses
    }


def test_two_blocks_have_different_addresses(tmp_path: Path) -> None:
    one, two = publish_to(tmp_path / "1", squad()), publish_to(tmp_path / "2", squad())
    assert one.addresses["ines-a"].folder != two.addresses["ines-a"].folder


def test_the_secret_is_the_owner_s_alone(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    secret = tmp_path / "block/state/secret"
    assert stat.S_IMODE(secret.stat().st_mode) == 0o600
    assert re.fullmatch(r"[0-9a-f]{64}\n", secret.read_text())


def test_a_broken_secret_is_a_problem_and_never_silently_replaced(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    (tmp_path / "block/state/secret").write_text("lost")
    with pytest.raises(InputProblems, match="the secret must be 64 hexadecimal digits"):
        publish_to(tmp_path, squad())
    assert (tmp_path / "block/state/secret").read_text() == "lost"


def test_links_are_https_to_paste_and_webcal_to_tap(tmp_path: Path) -> None:
    address = publish_to(tmp_path, squad(), base_url=f"{BASE}/club/").addresses["ines-a"]
    assert address.feed_url == f"{BASE}/club/{address.folder}/plan.ics"
    assert address.webcal_url == f"webcal://plans.club.example/club/{address.folder}/plan.ics"


@pytest.mark.parametrize(
    "text", ["plans.club.example", "ftp://x.example", "https://", "https://x.example/?a=1"]
)
def test_a_base_url_that_is_none_is_one_sentence(tmp_path: Path, text: str) -> None:
    with pytest.raises(InputProblems, match=r"--base-url: the address of the site must be one such as https"):
        publish_to(tmp_path, squad(), base_url=text)


def test_an_address_without_encryption_is_warned_about(tmp_path: Path) -> None:
    assert "encryption" in publish_to(tmp_path, squad(), base_url="http://x.example").warnings[0]
    assert publish_to(tmp_path, squad(), base_url="http://127.0.0.1:8000").warnings == ()


# What is shown -------------------------------------------------------------------------------------------


def test_only_what_may_be_shown_is_shown(tmp_path: Path) -> None:
    shared = SharedPages(board={"index.html": b"board"}, coach={"coach.html": b"coach"})
    report = publish_to(tmp_path, squad(), shared=shared)
    names = sorted(path.rpartition("/")[2] for path in _shown(tmp_path))
    runner = ["course.html", "plan.html", "plan.ics", "race-card.html"]
    assert names == sorted([*runner, *runner, "index.html", "coach.html", "index.html", "robots.txt"])
    folders = {path.partition("/")[0] for path in _shown(tmp_path) if "/" in path}
    assert len(folders) == 4, "board and coach have addresses of their own"
    assert report.board_url.startswith(BASE)
    assert report.coach_url.endswith("/coach.html")
    assert report.board_url.split("/")[3] not in report.coach_url


@pytest.mark.parametrize("name", ["plan.json", "plan.csv", "coach.html"])
def test_what_must_not_be_shown_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(ValueError, match=f"not {re.escape(name)}"):
        publish_to(tmp_path, squad(), pages=lambda _plan, _address: {name: b"x"})
    assert not (tmp_path / "site").exists()


def test_nothing_in_the_site_lists_the_addresses_and_importers_are_not_stopped(tmp_path: Path) -> None:
    report = publish_to(tmp_path, squad())
    front = (tmp_path / "site/index.html").read_text()
    assert "href" not in front
    assert (tmp_path / "site/robots.txt").read_text() == "User-agent: *\nDisallow:\n"
    other = report.addresses["ines-a"].folder
    for path in (tmp_path / "site" / report.addresses["sam-3-co"].folder).iterdir():
        assert other.encode() not in path.read_bytes()


def test_the_page_s_address_stands_in_the_feed_only_where_asked(tmp_path: Path) -> None:
    plans = squad()
    plans[1] = replace(plans[1], runner=replace(plans[1].runner, page_link=True))
    report = publish_to(tmp_path, plans)
    unfolded = {key: feed_of(tmp_path, report, key).replace(b"\r\n ", b"") for key in report.addresses}
    assert report.addresses["ines-a"].page_url.encode() in unfolded["ines-a"]
    assert b"https://" not in unfolded["sam-3-co"]


# Identity and revision -----------------------------------------------------------------------------------


def test_an_unchanged_plan_writes_no_file(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    before = _times(tmp_path)
    report = publish_to(tmp_path, squad(), now=LATER)
    assert _times(tmp_path) == before
    assert (report.written, report.removed, report.changed, report.version) == ((), (), (), 1)


CHANGES: dict[str, dict[str, Any]] = {
    "moved": {"date": dt.date(2027, 3, 24)},
    "retimed": {"start_time": dt.time(6, 30)},
    "renamed": {"title": "Steady run"},
    "told another pace": {"steps": ()},
    "given another reason": {"why": "Because"},
    "called off": {"cancelled": True},
}


@pytest.mark.parametrize("name", CHANGES)
def test_an_event_s_edition_moves_when_its_meaning_does_and_no_other_s(tmp_path: Path, name: str) -> None:
    old = events_of(feed_of(tmp_path, publish_to(tmp_path, squad())))
    plans = squad()
    plans[0] = change(plans[0], "w01-easy", **CHANGES[name])
    report = publish_to(tmp_path, plans, now=LATER)
    new = events_of(feed_of(tmp_path, report))
    assert list(report.changed) == ["sam-3-co"]
    assert stamps(new["w01-easy"]) == (1, LATER)
    assert set(new) == set(old)
    for session, event in old.items():
        if session != "w01-easy":
            assert new[session].to_ical() == event.to_ical(), session


def test_what_no_runner_can_see_moves_nothing(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    before = _times(tmp_path / "site")
    plans = squad()
    plans[0] = change(plans[0], "w01-easy", private_note="calf", reasons=())
    publish_to(tmp_path, plans, now=LATER)
    assert _times(tmp_path / "site") == before


def test_a_changed_zone_moves_every_event_with_an_hour(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    moved = events_of(
        feed_of(tmp_path, publish_to(tmp_path, [sample_plan(timezone="Europe/Madrid")], now=LATER))
    )
    timed = {name for name, event in moved.items() if isinstance(event["DTSTART"].dt, dt.datetime)}
    assert {name for name, event in moved.items() if stamps(event) == (1, LATER)} == timed
    assert len(timed) >= 6


def test_two_publishes_in_one_second_still_increase(tmp_path: Path) -> None:
    seen = []
    last = b""
    for number in range(4):
        plans = squad()
        plans[0] = change(plans[0], "w01-easy", title=f"Run {number}")
        feed = feed_of(tmp_path, publish_to(tmp_path, plans))
        assert feed != last
        seen.append(stamps(events_of(feed)["w01-easy"]))
        last = feed
    assert seen == sorted(set(seen))
    assert [sequence for sequence, _ in seen] == [0, 1, 2, 3]


def test_a_clock_that_goes_back_gives_no_older_stamp(tmp_path: Path) -> None:
    first = stamps(events_of(feed_of(tmp_path, publish_to(tmp_path, squad(), now=LATER)))["w01-easy"])
    plans = squad()
    plans[0] = change(plans[0], "w01-easy", title="Other")
    second = stamps(events_of(feed_of(tmp_path, publish_to(tmp_path, plans, now=BEFORE)))["w01-easy"])
    assert second > first
    assert second[1] > first[1]


def test_a_dropped_session_is_gone_and_counts_on_when_it_returns(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    plans = squad()
    plans[0] = drop(plans[0], "w02-easy")
    gone = events_of(feed_of(tmp_path, publish_to(tmp_path, plans, now=LATER)))
    assert "w02-easy" not in gone
    back = events_of(feed_of(tmp_path, publish_to(tmp_path, squad(), now=LATER)))
    assert stamps(back["w02-easy"])[0] == 2


def test_an_added_session_begins_at_zero_and_the_rest_stays(tmp_path: Path) -> None:
    old = events_of(feed_of(tmp_path, publish_to(tmp_path, squad())))
    plans = squad()
    plans[0] = add(plans[0], "w02-easy", "w02-easy-9", date=dt.date(2027, 3, 24))
    new = events_of(feed_of(tmp_path, publish_to(tmp_path, plans, now=LATER)))
    (added,) = set(new) - set(old)
    assert stamps(new[added]) == (0, LATER)


def test_a_session_called_off_near_its_day_stays_a_week_as_cancelled(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    plans = squad()
    plans[0] = change(plans[0], "w01-easy", cancelled=True)  # Thursday 18 March
    off = events_of(feed_of(tmp_path, publish_to(tmp_path, plans, now=LATER)))["w01-easy"]
    assert off["STATUS"] == "CANCELLED"
    assert str(off["SUMMARY"]).startswith("Cancelled: ")
    kept = publish_to(tmp_path, plans, now=dt.datetime(2027, 3, 25, 12, tzinfo=dt.UTC))
    assert "w01-easy" in events_of(feed_of(tmp_path, kept))
    after = publish_to(tmp_path, plans, now=dt.datetime(2027, 3, 26, 12, tzinfo=dt.UTC))
    assert "w01-easy" not in events_of(feed_of(tmp_path, after))
    assert after.changed == ("sam-3-co",)


def test_a_session_called_off_long_before_its_day_is_simply_gone(tmp_path: Path) -> None:
    """The sample's club night of 6 April is called off before the block begins; so is another run here."""
    first = events_of(feed_of(tmp_path, publish_to(tmp_path, squad())))
    assert "w04-club" not in first
    plans = squad()
    plans[0] = change(plans[0], "w04-easy", cancelled=True)
    assert "w04-easy" not in events_of(feed_of(tmp_path, publish_to(tmp_path, plans, now=LATER)))
    near = dt.datetime(2027, 4, 5, 12, tzinfo=dt.UTC)
    assert "w04-easy" not in events_of(feed_of(tmp_path, publish_to(tmp_path, plans, now=near)))
    back = events_of(feed_of(tmp_path, publish_to(tmp_path, squad(), now=near)))
    assert back["w04-easy"]["STATUS"] == "CONFIRMED"
    assert stamps(back["w04-easy"])[0] == 2


def test_every_feed_that_stands_in_the_site_passes_the_check(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    publish_to(tmp_path, squad()[:1], now=LATER, renew=['Sam <3 & "Co"'])
    feeds = list((tmp_path / "site").rglob("plan.ics"))
    assert len(feeds) == 3
    assert [check_feed(path.read_bytes()) for path in feeds] == [[], [], []]


# Renewal -------------------------------------------------------------------------------------------------


def test_a_renewed_address_moves_and_the_old_one_says_so_for_30_days(tmp_path: Path) -> None:
    old = publish_to(tmp_path, squad()).addresses["ines-a"]
    report = publish_to(tmp_path, squad(), renew=["ines a"], now=LATER)
    new = report.addresses["ines-a"]
    assert new.folder != old.folder
    assert _in(tmp_path, old.folder) == {"plan.ics"}
    (notice,) = events_of((tmp_path / "site" / old.folder / "plan.ics").read_bytes(), "ines-a").values()
    assert notice["SUMMARY"] == "Plan link turned off"
    assert notice["DTSTART"].dt == LATER.date()
    kept = publish_to(tmp_path, squad(), now=LATER + dt.timedelta(days=29))
    assert kept.addresses["ines-a"].folder == new.folder
    assert (_in(tmp_path, old.folder), kept.written) == ({"plan.ics"}, ())
    publish_to(tmp_path, squad(), now=LATER + dt.timedelta(days=30))
    assert not (tmp_path / "site" / old.folder).exists()


def test_a_renewed_address_changes_no_event(tmp_path: Path) -> None:
    first = publish_to(tmp_path, squad())
    before = feed_of(tmp_path, first, "ines-a")
    second = publish_to(tmp_path, squad(), renew=["Ines"], now=LATER)
    assert feed_of(tmp_path, second, "ines-a") == before


def test_the_board_and_the_coach_s_page_can_move_too(tmp_path: Path) -> None:
    shared = SharedPages(board={"index.html": b"board"}, coach={"coach.html": b"coach"})
    old = publish_to(tmp_path, squad(), shared=shared)
    new = publish_to(tmp_path, squad(), shared=shared, renew=["coach"])
    assert new.coach_url != old.coach_url
    assert new.board_url == old.board_url
    assert not (tmp_path / "site" / old.coach_url.split("/")[3]).exists()


def test_a_name_that_is_not_there_is_one_sentence_with_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(InputProblems, match=r"not 'Inez A'.*Did you mean \"Ines A\""):
        publish_to(tmp_path, squad(), renew=["Inez A"])


def test_a_runner_who_leaves_has_a_notice_and_the_old_address_on_return(tmp_path: Path) -> None:
    first = publish_to(tmp_path, squad())
    folder = first.addresses["ines-a"].folder
    before = feed_of(tmp_path, first, "ines-a")
    publish_to(tmp_path, squad()[:1], now=LATER)
    assert _in(tmp_path, folder) == {"plan.ics"}
    assert b"Plan link turned off" in (tmp_path / "site" / folder / "plan.ics").read_bytes()
    back = publish_to(tmp_path, squad(), now=LATER + dt.timedelta(days=1))
    assert back.addresses["ines-a"].folder == folder
    assert feed_of(tmp_path, back, "ines-a") == before


def _in(folder: Path, name: str) -> set[str]:
    return {path.name for path in (folder / "site" / name).iterdir()}


# Files and state -----------------------------------------------------------------------------------------


def test_a_damaged_or_lost_file_comes_back_with_the_same_bytes(tmp_path: Path) -> None:
    report = publish_to(tmp_path, squad())
    before = feed_of(tmp_path, report)
    path = tmp_path / "site" / report.addresses["sam-3-co"].folder / "plan.ics"
    for damage in (b"", b"<html>", before[:2000]):
        path.write_bytes(damage)
        publish_to(tmp_path, squad(), now=LATER)
        assert path.read_bytes() == before
    path.unlink()
    assert feed_of(tmp_path, publish_to(tmp_path, squad(), now=LATER)) == before


def test_feeds_are_written_after_the_pages_they_lead_to(tmp_path: Path) -> None:
    written = publish_to(tmp_path, squad()).written
    kinds = [path.endswith(".ics") for path in written]
    assert kinds == sorted(kinds)


def test_a_page_that_fails_to_render_leaves_everything_as_it_was(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    before = _times(tmp_path)

    def failing(plan: Any, address: Any) -> Any:
        if plan.runner.key == "ines-a":
            raise RuntimeError("no ink")
        return pages(plan, address)

    plans = [change(plan, "w01-easy", title="Other") for plan in squad()]
    with pytest.raises(RuntimeError, match="no ink"):
        publish_to(tmp_path, plans, pages=failing, now=LATER)
    assert _times(tmp_path) == before


def test_a_site_that_cannot_be_written_is_one_sentence_and_no_number_is_lost(tmp_path: Path) -> None:
    report = publish_to(tmp_path, squad())
    path = tmp_path / "site" / report.addresses["sam-3-co"].folder / "plan.ics"
    path.unlink()
    (path / "in the way").mkdir(parents=True)
    plans = [change(plan, "w01-easy", title="Other") for plan in squad()]
    with pytest.raises(CannotWrite, match=r"plan\.ics: could not be written"):
        publish_to(tmp_path, plans, now=LATER)
    shutil.rmtree(path)
    feed = feed_of(tmp_path, publish_to(tmp_path, plans, now=LATER + dt.timedelta(hours=1)))
    assert stamps(events_of(feed)["w01-easy"]) == (1, LATER)


@pytest.mark.parametrize("text", ["", "{", "[]", '{"format": 99}', '{"format": 1}'])
def test_a_broken_record_is_one_sentence_and_is_not_replaced(tmp_path: Path, text: str) -> None:
    publish_to(tmp_path, squad())
    record = tmp_path / "block/state/sent.json"
    record.write_text(text)
    with pytest.raises(InputProblems, match=r"sent\.json: the record of what was sent must be"):
        publish_to(tmp_path, squad())
    assert record.read_text() == text


def _publish_with_title(folder: Path, number: int) -> None:
    plans = [change(plan, "w01-easy", title=f"Run {number}") for plan in squad()]
    publish_to(folder, plans)


def test_publishers_that_run_at_once_take_turns(tmp_path: Path) -> None:
    publish_to(tmp_path, squad())
    context = multiprocessing.get_context("spawn")
    crowd = [context.Process(target=_publish_with_title, args=(tmp_path, number)) for number in range(3)]
    for one in crowd:
        one.start()
    for one in crowd:
        one.join(60)
    assert [one.exitcode for one in crowd] == [0, 0, 0]
    feed = feed_of(tmp_path, publish_to(tmp_path, squad()))
    assert check_feed(feed) == []
    assert stamps(events_of(feed)["w01-easy"])[0] == 4


def _peak_bytes(folder: Path, runners: int) -> int:
    """The most memory that is held while a squad is published again, each runner with something new."""

    class Plans(list[Plan]):
        title = "Easy run"

        def __iter__(self) -> Iterator[Plan]:
            for at in range(runners):
                gc.collect()  # what is only waiting to be collected is not held
                plan = sample_plan(name=f"Runner {at}", key=f"runner-{at}")
                yield change(plan, "w01-easy", title=self.title)

    plans = Plans()
    publish_to(folder, plans)
    plans.title = "Other"
    again = partial(publish_to, folder, plans, now=LATER, base_url="https://other.example")
    peak = peak_bytes(again)
    assert again().version == 2
    return peak


def test_a_squad_of_any_size_is_published_in_little_memory(tmp_path: Path) -> None:
    """5,000 runners are to be published within 200 MB: 6 kB for each are 30 MB of them."""
    few, many = _peak_bytes(tmp_path / "few", 10), _peak_bytes(tmp_path / "many", 60)
    assert (many - few) / 50 < 6000


def test_a_record_in_one_line_is_still_read(tmp_path: Path) -> None:
    """As the record was written before it had a line for each feed."""
    publish_to(tmp_path, squad())
    record = tmp_path / "block/state/sent.json"
    whole = record.read_bytes()
    record.write_text(
        json.dumps(json.loads(whole), ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    )
    before = _times(tmp_path / "site")
    publish_to(tmp_path, squad(), now=LATER)
    assert _times(tmp_path / "site") == before
    assert record.read_bytes() == whole


@pytest.mark.parametrize("cut", [1, 4, 60])
def test_a_record_that_was_cut_off_is_told(tmp_path: Path, cut: int) -> None:
    publish_to(tmp_path, squad())
    record = tmp_path / "block/state/sent.json"
    record.write_bytes(record.read_bytes()[:-cut])
    with pytest.raises(InputProblems, match=r"sent\.json: the record of what was sent must be"):
        publish_to(tmp_path, squad())
