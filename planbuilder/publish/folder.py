"""Publishing into a folder that any web host or object store can show."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from urllib.parse import urlsplit

from planbuilder.outputs.safe_write import one_writer, write_whole
from planbuilder.plan.types import Plan
from planbuilder.publish.addresses import FEED_FILE, Address, Addresses, check_base_url, read_secret
from planbuilder.publish.sent import read_sent, write_sent
from planbuilder.publish.site import LastBytes, RunnerPages, SharedPages, Site, make_site
from planbuilder.settings.problems import CannotWrite, InputProblems, Problem, did_you_mean

STATE_FOLDER: Final = "state"
_LOOPBACK: Final = ("localhost", "127.0.0.1", "::1")


@dataclass(frozen=True, slots=True)
class PublishReport:
    """What a publish did, and where everything stands now."""

    version: int
    addresses: Mapping[str, Address]  # by runner key
    board_url: str  # "" where there is none
    coach_url: str
    changed: tuple[str, ...]  # keys of the runners whose feed says something new
    written: tuple[str, ...]  # paths inside the site
    removed: tuple[str, ...]
    warnings: tuple[str, ...]


def publish(
    plans: Iterable[Plan],
    *,
    block_folder: Path,
    site: Path,
    base_url: str,
    pages: RunnerPages,
    shared: SharedPages | None = None,
    now: dt.datetime,
    renew: Iterable[str] = (),
) -> PublishReport:
    """Write the site of these plans into the folder ``site`` and remember what was sent.

    ``pages`` renders the pages of one runner, given the plan and where it will stand: plan.html,
    race-card.html, course.html; ``shared`` holds the board's and the coach's. ``renew`` names runners (or
    "board", "coach") that get a new address. ``now`` is aware. Files that do not change are not touched; one
    that does is swapped whole: pages first, then the record of what is sent, so that no number is ever given
    twice, feeds last. Raises InputProblems or CannotWrite.
    """
    plans = tuple(plans)
    state = block_folder / STATE_FOLDER
    with one_writer(state):
        made = _make(
            plans,
            state=state,
            base_url=base_url,
            pages=pages,
            shared=shared,
            last_bytes=lambda path: read_if_there(site / path),
            now=now,
            renew=renew,
        )
        feeds = [path for path in made.files if path.endswith(f"/{FEED_FILE}")]
        written = _write(site, made, [path for path in made.files if not path.endswith(f"/{FEED_FILE}")])
        write_sent(state, made.sent)
        written += _write(site, made, feeds)
        removed = tuple(path for path in made.removed if _remove(site / path))
    return PublishReport(
        version=made.sent.version,
        addresses=made.addresses,
        board_url=made.board_url,
        coach_url=made.coach_url,
        changed=made.changed,
        written=written,
        removed=removed,
        warnings=tuple(_warnings(base_url)),
    )


def site_in_memory(
    plans: Iterable[Plan],
    *,
    block_folder: Path,
    base_url: str,
    pages: RunnerPages,
    shared: SharedPages | None = None,
    last_files: Mapping[str, bytes] | None = None,
    now: dt.datetime,
) -> Site:
    """The same site for a server, which keeps it in memory; ``last_files`` is what it serves now."""
    state = block_folder / STATE_FOLDER
    with one_writer(state):
        made = _make(
            tuple(plans),
            state=state,
            base_url=base_url,
            pages=pages,
            shared=shared,
            last_bytes=(last_files or {}).get,
            now=now,
            renew=(),
        )
        write_sent(state, made.sent)
    return made


def _write(site: Path, made: Site, paths: Iterable[str]) -> tuple[str, ...]:
    return tuple(path for path in paths if write_whole(site / path, made.files[path]))


def _make(
    plans: tuple[Plan, ...],
    *,
    state: Path,
    base_url: str,
    pages: RunnerPages,
    shared: SharedPages | None,
    last_bytes: LastBytes,
    now: dt.datetime,
    renew: Iterable[str],
) -> Site:
    base = check_base_url(base_url)
    keys = [_key_of(name, plans) for name in renew]
    addresses = Addresses(read_secret(state), base)
    return make_site(
        plans,
        read_sent(state),
        addresses,
        pages=pages,
        shared=shared,
        last_bytes=last_bytes,
        now=now,
        renew=keys,
    )


def _key_of(name: str, plans: tuple[Plan, ...]) -> str:
    """The key behind a name that a person typed."""
    for plan in plans:
        if name.casefold() in (plan.runner.name.casefold(), plan.runner.key.casefold()):
            return plan.runner.key
    if name in ("board", "coach"):
        return name
    names = [plan.runner.name for plan in plans]
    raise InputProblems(
        [
            Problem(
                "--renew",
                None,
                "it must name a runner of the block, the board or the coach",
                f"not {name!r}",
                did_you_mean(name, [*names, "board", "coach"]),
            )
        ]
    )


def read_if_there(path: Path) -> bytes | None:
    """The bytes of a file, or None."""
    try:
        return path.read_bytes()
    except OSError:
        return None


def _remove(path: Path) -> bool:
    """Take a file away, and its folder when nothing is left in it; True if it was there."""
    try:
        path.unlink()
    except FileNotFoundError:
        return False
    except OSError as problem:
        raise CannotWrite(f"{path}: could not be removed ({problem.strerror or problem}).") from problem
    if not any(path.parent.iterdir()):
        path.parent.rmdir()
    return True


def _warnings(base_url: str) -> Iterable[str]:
    parts = urlsplit(base_url)
    if parts.scheme == "http" and parts.hostname not in _LOOPBACK:
        yield "The site is shown without encryption: whoever is on the way can read the addresses. Use https."
