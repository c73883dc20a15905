"""Independent readers of a calendar file, each giving the same plain record of what it understood.

``icalendar`` and ``ical`` come from PyPI. libical (the reader inside many desktop calendars) is driven by a
few lines of C that are compiled on the spot, ical.js (the reader inside some mail programs) by a few lines
for node; both are used where they are installed, and must be where the environment variable CI is set.
"""

from __future__ import annotations

import datetime as dt
import functools
import json
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
Read = Callable[[bytes], "list[Seen]"]


class Seen:
    """One event as a reader understood it; moments in UTC."""

    def __init__(self, **values: Any) -> None:
        self.uid: str = values["uid"]
        self.start: dt.date | dt.datetime = values["start"]
        self.end: dt.date | dt.datetime = values["end"]
        self.sequence: int = values["sequence"]
        self.status: str = values["status"]
        self.summary: str = values["summary"]
        self.description: str = values["description"]
        self.location: str = values["location"]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Seen) and vars(self) == vars(other)

    def __repr__(self) -> str:
        return f"Seen({vars(self)})"


def missing(reason: str) -> None:
    """Skip where a tool is not installed; fail where everything must be."""
    if os.environ.get("CI"):
        pytest.fail(f"{reason}, and CI must have it")
    pytest.skip(reason)


def read_with_icalendar(data: bytes) -> list[Seen]:
    """The library that also writes the feed; lenient, so its list of errors must be empty."""
    from icalendar import Calendar

    calendar = Calendar.from_ical(data)
    assert isinstance(calendar, Calendar)
    assert [component.errors for component in calendar.walk() if component.errors] == []
    events: list[Any] = calendar.events
    return [
        Seen(
            uid=str(event["UID"]),
            start=_utc(event["DTSTART"].dt),
            end=_utc(event["DTEND"].dt),
            sequence=int(event["SEQUENCE"]),
            status=str(event["STATUS"]),
            summary=str(event.get("SUMMARY", "")),
            description=str(event.get("DESCRIPTION", "")),
            location=str(event.get("LOCATION", "")),
        )
        for event in events
    ]


def read_with_ical(data: bytes) -> list[Seen]:
    """The strictest reader on PyPI."""
    from ical.calendar_stream import IcsCalendarStream

    return [
        Seen(
            uid=event.uid,
            start=_utc(event.dtstart),
            end=_utc(event.dtend),
            sequence=event.sequence,
            status=event.status.value if event.status else "",
            summary=event.summary or "",
            description=event.description or "",
            location=event.location or "",
        )
        for event in IcsCalendarStream.calendar_from_ics(data.decode()).events
    ]


def _utc(value: Any) -> Any:
    return value.astimezone(dt.UTC) if isinstance(value, dt.datetime) else value


@functools.cache
def _libical_program() -> Path | None:
    """The C reader, compiled; None where there is no compiler or no libical."""
    compiler, config = shutil.which("gcc") or shutil.which("cc"), shutil.which("pkg-config")
    if not compiler or not config:
        return None
    flags = subprocess.run([config, "--cflags", "--libs", "libical"], capture_output=True, text=True)
    if flags.returncode:
        return None
    target = Path(tempfile.mkdtemp(prefix="libical-")) / "reader"
    source = str(HERE / "libical_reader.c")
    subprocess.run([compiler, source, "-o", str(target), *flags.stdout.split()], check=True, timeout=60)
    return target


def read_with_libical(data: bytes) -> list[Seen]:
    """libical, which must find no error and pass its own check of what may stand where."""
    errors, valid, events = libical_report(data)
    assert (errors, valid) == (0, True)
    return events


def libical_report(data: bytes) -> tuple[int, bool, list[Seen]]:
    """The number of errors, whether libical's restrictions hold, and the events."""
    program = _libical_program()
    if program is None:
        missing("libical and a C compiler are not installed (libical-dev, gcc, pkg-config)")
    assert program is not None
    with _in_a_file(data) as file:
        done = subprocess.run([program, file], capture_output=True, text=True, check=True, timeout=60)
    rows = [line.split("\t") for line in done.stdout.splitlines()]
    errors = int(next(row[1] for row in rows if row[0] == "ERRORS"))
    valid = next(row[1] for row in rows if row[0] == "VALID") == "1"
    return errors, valid, [_from_libical(row[1:]) for row in rows if row[0] == "EVENT"]


def _from_libical(row: list[str]) -> Seen:
    uid, start, end, sequence, status, *texts = row
    summary, description, location = (bytes.fromhex(text).decode() for text in texts)
    return Seen(
        uid=bytes.fromhex(uid).decode(),
        start=_moment(start),
        end=_moment(end),
        sequence=int(sequence),
        status=status,
        summary=summary,
        description=description,
        location=location,
    )


def _moment(text: str) -> dt.date | dt.datetime:
    kind, _, value = text.partition(" ")
    assert kind in ("D", "T"), f"a floating time: {text}"
    if kind == "D":
        return dt.datetime.strptime(value, "%Y%m%d").date()  # noqa: DTZ007 - a day has no zone
    return dt.datetime.fromtimestamp(int(value), dt.UTC)


def read_with_icaljs(data: bytes) -> list[Seen]:
    """ical.js on node."""
    node = shutil.which("node")
    modules = next(
        (folder for folder in _module_folders() if (folder / "node_modules/ical.js").is_dir()), None
    )
    if node is None or modules is None:
        missing("node or ical.js is not installed (npm install --no-save ical.js@2.2.1)")
    assert node is not None
    with _in_a_file(data) as file:
        done = subprocess.run(
            [node, str(HERE / "icaljs_reader.mjs"), str(modules), file],
            capture_output=True,
            text=True,
            check=True,
            timeout=60,
        )
    return [seen_from(json.loads(line)) for line in done.stdout.split("\n") if line]


def seen_from(record: dict[str, Any]) -> Seen:
    """An event of a reader that runs as a program of its own."""
    return Seen(**record | {"start": _moment(record["start"]), "end": _moment(record["end"])})


def _module_folders() -> Iterator[Path]:
    yield ROOT
    if folder := os.environ.get("PLANBUILDER_NODE_MODULES"):
        yield Path(folder).parent


class _in_a_file:  # noqa: N801 - reads as a phrase
    def __init__(self, data: bytes) -> None:
        self._data = data

    def __enter__(self) -> str:
        self._folder = tempfile.TemporaryDirectory()
        file = Path(self._folder.name) / "feed.ics"
        file.write_bytes(self._data)
        return str(file)

    def __exit__(self, *_: object) -> None:
        self._folder.cleanup()


READERS: dict[str, Read] = {
    "icalendar": read_with_icalendar,
    "ical": read_with_ical,
    "libical": read_with_libical,
    "ical.js": read_with_icaljs,
}
