"""The guard before the GPX parser: one streaming pass that lets through nothing but numbers.

Receives: the bytes of a file that claims to be GPX.
Gives: a small clean GPX document that holds only points with checked numbers, with the line of every point;
or ``InputProblems`` with the line where the file goes wrong.

No tree is built here. Whatever the prefix, version, encoding or decoration of a file, the clean document is
the same. Names, times, links and extensions of a file are dropped.
"""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass, field
from typing import Final, NoReturn
from xml.parsers import expat

from planbuilder.settings.limits import Limits
from planbuilder.settings.problems import InputProblems, Problem

_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]{1,9}(?:\.[0-9]{0,20})?|\.[0-9]{1,20})(?:[eE][+-]?[0-9]{1,2})?")
_COMMA: Final = re.compile(r"[+-]?[0-9]{1,5},[0-9]{1,20}")
_ELEMENTS_PER_POINT: Final = 30
_LONGEST_NUMBER: Final = 60
_POINT_HOME: Final = {"trkpt": ("gpx", "trk", "trkseg"), "rtept": ("gpx", "rte")}
_OTHER_XML: Final = {
    "kml": "a KML file",
    "trainingcenterdatabase": "a TCX file",
    "html": "a web page",
    "svg": "a drawing (SVG)",
    "osm": "a map extract (OSM)",
    "rss": "a news feed (RSS)",
    "loc": "a list of places (LOC)",
}
_MAGIC: Final = (
    (b"\x1f\x8b", "a gzip archive", "Unpack it first."),
    (b"PK\x03\x04", "a zip archive", "Unpack it first."),
    (b"BZh", "a bzip2 archive", "Unpack it first."),
    (b"\xfd7zXZ", "an xz archive", "Unpack it first."),
    (b"7z\xbc\xaf", "a 7z archive", "Unpack it first."),
    (b"%PDF", "a PDF", "Export the course as GPX, or type its points into block.toml."),
    (b"\x89PNG", "a picture (PNG)", "Export the course as GPX, or type its points into block.toml."),
    (b"\xff\xd8\xff", "a picture (JPEG)", "Export the course as GPX, or type its points into block.toml."),
    (b"SQLite format 3", "a database", "Export the course as GPX."),
)
_WANTED: Final = "must be a course file, GPX or CSV"


@dataclass(slots=True)
class Guarded:
    """What the guard let through."""

    clean: str = ""
    track_lines: list[int] = field(default_factory=list)  # line of each point, tracks in file order
    route_lines: list[int] = field(default_factory=list)
    waypoints: int = 0
    timed_points: int = 0
    bad_places: list[int] = field(default_factory=list)  # lines of points without a usable place
    bad_heights: list[int] = field(default_factory=list)  # lines of heights that are no numbers
    decimal_commas: int = 0
    back_in_time_line: int | None = None


def refuse_other_formats(data: bytes, shown_as: str) -> None:
    """InputProblems that name the format, where the bytes are plainly something else than text."""
    for magic, what, todo in _MAGIC:
        if data.startswith(magic):
            raise InputProblems([Problem(shown_as, None, _WANTED, f"not {what}", todo)])
    if data[8:12] == b".FIT":
        raise InputProblems([Problem(shown_as, None, _WANTED, "not a FIT file", "Export the course as GPX.")])
    if not data.strip():
        raise InputProblems([Problem(shown_as, None, _WANTED, "not an empty file")])


def looks_like_xml(data: bytes) -> bool:
    """Whether the first sign in the file opens a tag, in any encoding."""
    return data[:4096].translate(None, b"\x00\xff\xfe\xef\xbb\xbf \t\r\n")[:1] == b"<"


def _as_expat_reads_it(data: bytes) -> tuple[bytes, str | None, int]:
    """Bytes without blanks at the head, the encoding to impose (None: as declared), lines cut off."""
    for mark, name in (
        (codecs.BOM_UTF32_LE, "utf-32"),
        (codecs.BOM_UTF32_BE, "utf-32"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
        (b"<\x00", "utf-16-le"),
        (b"\x00<", "utf-16-be"),
    ):
        if data.startswith(mark):
            text = data.decode(name, errors="replace").lstrip("\ufeff")
            kept = text.lstrip()
            return kept.encode(), "utf-8", text[: len(text) - len(kept)].count("\n")
    bare = data.removeprefix(codecs.BOM_UTF8)
    kept_bytes = bare.lstrip()
    return kept_bytes, None, bare[: len(bare) - len(kept_bytes)].count(b"\n")


def _number(text: str) -> tuple[str | None, bool]:
    """The number as plain text or None, and whether a decimal comma was mended."""
    text = text.strip()
    if _NUMBER.fullmatch(text):
        return text.removeprefix("+"), False
    if _COMMA.fullmatch(text):
        return text.removeprefix("+").replace(",", "."), True
    return None, False


class _Pass:
    """One pass over the file."""

    def __init__(self, shown_as: str, limits: Limits, *, encoding: str | None, line_offset: int) -> None:
        self.found = Guarded()
        self._shown_as = shown_as
        self._line_offset = line_offset
        self._max_points = int(limits.number("course.most_points"))
        self._max_depth = int(limits.number("course.deepest_nesting"))
        self._open: list[str] = []
        self._elements = 0
        self._out: list[str] = ['<gpx version="1.1" creator="">']
        self._point: tuple[str, str] | None = None
        self._point_line = 0
        self._ele: str | None = None
        self._text: list[str] | None = None
        self._text_size = 0
        self._last_time = ""
        self._parser = expat.ParserCreate(encoding)
        self._parser.buffer_text = True
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.StartDoctypeDeclHandler = self._doctype

    def _refuse(self, must: str, found: str, todo: str = "", *, line: int | None = None) -> NoReturn:
        at = self._parser.CurrentLineNumber + self._line_offset if line is None else line
        raise InputProblems([Problem(self._shown_as, at, must, found, todo)])

    def _doctype(self, name: str, *_: object) -> None:
        if name.lower() == "html":
            self._refuse(_WANTED, "not a web page", "Download the file itself, not the page that shows it.")
        self._refuse(
            "must be GPX without a DOCTYPE",
            "not a file that declares its own entities",
            "Export the course again as plain GPX.",
        )

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        local = name[name.find(":") + 1 :] if ":" in name else name
        opened = self._open
        if not opened:
            self._check_root(local)
        elif len(opened) >= self._max_depth:
            self._refuse(
                f"must nest its elements at most {self._max_depth} deep",
                "not deeper",
                "Export the course again as plain GPX.",
            )
        self._elements += 1
        if self._elements > self._max_points * _ELEMENTS_PER_POINT:
            self._refuse("must be a course", "not a file with millions of elements", "Thin it out first.")
        if local == "ele" or local == "time":
            if self._point is not None and opened[-1] in _POINT_HOME and self._text is None:
                self._text, self._text_size = [], 0
                self._parser.CharacterDataHandler = self._characters
        elif local in _POINT_HOME:
            if tuple(opened) == _POINT_HOME[local]:
                self._open_point(local, attributes)
        elif local == "wpt":
            self.found.waypoints += 1
        elif local == "trk" or local == "rte" or local == "trkseg":
            self._copy(f"<{local}>", local)
        opened.append(local)

    def _copy(self, tag: str, local: str) -> None:
        home = ["gpx", "trk"] if local == "trkseg" else ["gpx"]
        if self._open == home:
            self._out.append(tag)

    def _check_root(self, local: str) -> None:
        if local == "gpx":
            return
        what = _OTHER_XML.get(local.lower(), "another kind of XML")
        todo = (
            "Download the file itself, not the page that shows it."
            if local.lower() == "html"
            else "Export the course as GPX."
        )
        self._refuse(_WANTED, f"not {what}", todo)

    def _open_point(self, local: str, attributes: dict[str, str]) -> None:
        found = self.found
        self._point_line = self._parser.CurrentLineNumber + self._line_offset
        if len(found.track_lines) + len(found.route_lines) + len(found.bad_places) >= self._max_points:
            self._refuse(
                f"must have at most {self._max_points:,} points",
                "not more",
                "Thin it out: a point every 10 m is enough.",
                line=self._point_line,
            )
        lat, lat_mended = _number(attributes.get("lat", ""))
        lon, lon_mended = _number(attributes.get("lon", ""))
        found.decimal_commas += lat_mended + lon_mended
        self._ele = None
        self._point = ("", "")
        if lat is None or lon is None:
            found.bad_places.append(self._point_line)
            return
        self._point = (lat, lon)
        (found.track_lines if local == "trkpt" else found.route_lines).append(self._point_line)

    def _characters(self, text: str) -> None:
        self._text_size += len(text)
        if self._text is not None and self._text_size <= _LONGEST_NUMBER:
            self._text.append(text)

    def _end(self, _name: str) -> None:
        local = self._open.pop()
        if self._text is not None and (local == "ele" or local == "time"):
            if self._open[-1] in _POINT_HOME:
                self._parser.CharacterDataHandler = None
                text = "".join(self._text) if self._text_size <= _LONGEST_NUMBER else "too long"
                self._text = None
                self._take_text(local, text)
        elif local in _POINT_HOME:
            if self._point is not None and tuple(self._open) == _POINT_HOME[local]:
                lat, lon = self._point
                if lat:
                    ele = "" if self._ele is None else f"<ele>{self._ele}</ele>"
                    self._out.append(f'<{local} lat="{lat}" lon="{lon}">{ele}</{local}>')
                self._point = None
        elif local == "trk" or local == "rte" or local == "trkseg":
            self._copy(f"</{local}>", local)

    def _take_text(self, local: str, text: str) -> None:
        found = self.found
        if local == "ele":
            if not text.strip():
                return
            self._ele, mended = _number(text)
            found.decimal_commas += mended
            if self._ele is None:
                found.bad_heights.append(self._point_line)
            return
        found.timed_points += 1
        stamp = text.strip()[:19]
        if found.back_in_time_line is None and len(stamp) == len(self._last_time) and stamp < self._last_time:
            found.back_in_time_line = self._point_line
        self._last_time = stamp

    def run(self, data: bytes) -> Guarded:
        """The clean document; ExpatError where the XML is broken."""
        self._parser.Parse(data, True)
        self._out.append("</gpx>")
        self.found.clean = "".join(self._out)
        return self.found


def guard(data: bytes, shown_as: str, limits: Limits) -> Guarded:
    """Read the bytes of a GPX file once and let through points with checked numbers.

    data: the file's bytes; shown_as: its name in messages.
    Raises InputProblems with the line for anything that is not GPX, is nested too deep, declares entities,
    holds too many points, or breaks off.
    """
    body, encoding, line_offset = _as_expat_reads_it(data)
    try:
        return _Pass(shown_as, limits, encoding=encoding, line_offset=line_offset).run(body)
    except expat.ExpatError:
        if encoding is None and _not_as_declared(body):
            try:
                return _Pass(shown_as, limits, encoding="iso-8859-1", line_offset=line_offset).run(body)
            except expat.ExpatError as second:
                error = second
        raise InputProblems([_broken(error, shown_as, line_offset)]) from None
    except (LookupError, ValueError):
        raise InputProblems(
            [
                Problem(
                    shown_as,
                    1,
                    "must be GPX in a known encoding",
                    "not in the one its first line declares",
                    "Save it as UTF-8.",
                )
            ]
        ) from None


def _not_as_declared(body: bytes) -> bool:
    try:
        body.decode("utf-8")
    except UnicodeDecodeError:
        return True
    return False


def _broken(error: expat.ExpatError, shown_as: str, line_offset: int) -> Problem:
    cut_off = error.code in (
        expat.errors.codes[expat.errors.XML_ERROR_NO_ELEMENTS],
        expat.errors.codes[expat.errors.XML_ERROR_UNCLOSED_TOKEN],
        expat.errors.codes[expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION],
    )
    found = "not one that breaks off here" if cut_off else f"not one that breaks here ({_reason(error)})"
    return Problem(
        shown_as,
        error.lineno + line_offset,
        "must be a whole GPX file",
        found,
        "Download or export it again.",
    )


def _reason(error: expat.ExpatError) -> str:
    return expat.errors.messages.get(error.code, "unreadable") if error.code else "unreadable"
