"""The guard before the GPX parser: one streaming pass that lets through nothing but numbers.

Receives: the bytes of a file that claims to be GPX.
Gives: a small clean GPX document that holds only points with checked numbers, with the line of every point;
or ``InputProblems`` with the line where the file goes wrong.

No tree is built here. Whatever the prefix, version, encoding or decoration of a file, the clean document is
the same. Names, links and extensions of a file are dropped; times and heart rates stand beside the document.
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
_NUMBERS: Final = re.compile(r"(?:-?[0-9]{1,9}(?:\.[0-9]{0,20})?\n)*")  # the usual case, checked at one go
_COMMA: Final = re.compile(r"[+-]?[0-9]{1,5},[0-9]{1,20}")
_TAGS_PER_POINT: Final = 60
_LONGEST_NUMBER: Final = 60
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
    track_times: list[str] = field(default_factory=list)  # of each point of a track, as the file writes it
    track_beats: list[str] = field(default_factory=list)  # its heart rate, likewise; empty where missing


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


@dataclass(slots=True)
class _Points:
    """The points of one kind as the file writes them, and where each line of them begins."""

    lat: list[str] = field(default_factory=list)
    lon: list[str] = field(default_factory=list)
    ele: list[str] = field(default_factory=list)  # empty where missing
    line: list[int] = field(default_factory=list)
    time: list[str] = field(default_factory=list)  # empty where missing
    beats: list[str] = field(default_factory=list)
    openings: list[tuple[int, str]] = field(default_factory=list)  # (index of the first point, local name)

    def checked(self, found: Guarded) -> list[str]:
        """Every point as a clean element, or empty where its place is unusable."""
        tag = "trkpt" if self.openings and self.openings[0][1] == "trk" else "rtept"
        whole = "\n".join((*self.lat, *self.lon, *(ele for ele in self.ele if ele))) + "\n"
        if not _NUMBERS.fullmatch(whole):
            self._mend(found)
        return [
            f'<{tag} lat="{lat}" lon="{lon}"><ele>{ele}</ele></{tag}>'
            if lat and ele
            else (f'<{tag} lat="{lat}" lon="{lon}"></{tag}>' if lat else "")
            for lat, lon, ele in zip(self.lat, self.lon, self.ele, strict=True)
        ]

    def _mend(self, found: Guarded) -> None:
        for at, line in enumerate(self.line):
            lat, lat_mended = _number(self.lat[at])
            lon, lon_mended = _number(self.lon[at])
            ele, ele_mended = _number(self.ele[at])
            found.decimal_commas += lat_mended + lon_mended + ele_mended
            if self.ele[at].strip() and ele is None:
                found.bad_heights.append(line)
            self.ele[at] = ele or ""
            usable = lat is not None and lon is not None
            self.lat[at], self.lon[at] = (lat or "", lon or "") if usable else ("", "")
            if not usable:
                found.bad_places.append(line)


class _Pass:
    """One pass over the file."""

    def __init__(self, shown_as: str, limits: Limits, *, encoding: str | None, line_offset: int) -> None:
        self._shown_as = shown_as
        self._line_offset = line_offset
        self._max_points = int(limits.number("course.most_points"))
        self._max_depth = int(limits.number("course.deepest_nesting"))
        self._waypoints = self._timed = 0
        self._back_in_time_line: int | None = None
        self._tracks, self._routes = _Points(), _Points()
        self._parser = expat.ParserCreate(encoding)
        self._parser.buffer_text = True
        self._parser.StartDoctypeDeclHandler = self._doctype
        self._listen()

    def _refuse(self, must: str, found: str, todo: str = "") -> NoReturn:
        at = self._parser.CurrentLineNumber + self._line_offset
        raise InputProblems([Problem(self._shown_as, at, must, found, todo)])

    def _doctype(self, name: str, *_: object) -> None:
        if name.lower() == "html":
            self._refuse(_WANTED, "not a web page", "Download the file itself, not the page that shows it.")
        self._refuse(
            "must be GPX without a DOCTYPE",
            "not a file that declares its own entities",
            "Export the course again as plain GPX.",
        )

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

    def _refuse_many(self) -> NoReturn:
        self._refuse(
            f"must have at most {self._max_points:,} points",
            "not more",
            "Thin it out: a point every 10 m is enough.",
        )

    def _listen(self) -> None:
        """Hang up the two handlers. They run once for every element, so they are closures over locals."""
        parser, offset, max_depth, max_points = (
            *(self._parser, self._line_offset),
            *(self._max_depth, self._max_points),
        )
        tracks, routes = self._tracks, self._routes
        path = [""] * (max_depth + 1)  # local names of the open elements, by depth from 1
        depth = point_depth = text_depth = count = 0
        point: _Points = tracks
        text: list[str] = []
        size = 0
        last_time = ""

        def characters(data: str) -> None:
            nonlocal size
            size += len(data)
            if size <= _LONGEST_NUMBER:
                text.append(data)

        def start(name: str, attributes: dict[str, str]) -> None:
            nonlocal depth, point_depth, text_depth, count, point, size
            if ":" in name:
                name = name[name.find(":") + 1 :]
            if depth >= max_depth:
                self._refuse(
                    f"must nest its elements at most {max_depth} deep",
                    "not deeper",
                    "Export the course again as plain GPX.",
                )
            depth += 1
            path[depth] = name
            if point_depth:
                own = depth == point_depth + 1 and (name == "ele" or name == "time")
                if not text_depth and (own or name == "hr"):
                    text_depth, size = depth, 0
                    text.clear()
                    parser.CharacterDataHandler = characters
                return
            if name == "trkpt":
                if depth != 4 or path[3] != "trkseg" or path[2] != "trk":
                    return
                point = tracks
            elif name == "rtept":
                if depth != 3 or path[2] != "rte":
                    return
                point = routes
            else:
                self._outside_points(name, depth, path[depth - 1])
                return
            point_depth = depth
            count += 1
            if count > max_points:
                self._refuse_many()
            point.lat.append(attributes.get("lat", ""))
            point.lon.append(attributes.get("lon", ""))
            point.ele.append("")
            point.time.append("")
            point.beats.append("")
            point.line.append(parser.CurrentLineNumber + offset)

        def end(_name: str) -> None:
            nonlocal depth, point_depth, text_depth, last_time
            depth -= 1
            if not point_depth:
                return
            if depth < point_depth:
                point_depth = 0
            elif text_depth and depth < text_depth:
                parser.CharacterDataHandler = None
                content = "".join(text).strip() if size <= _LONGEST_NUMBER else "too long"
                if path[text_depth] == "ele":
                    point.ele[-1] = content
                elif path[text_depth] == "hr":
                    point.beats[-1] = content
                elif content:
                    point.time[-1] = content
                    self._timed += 1
                    stamp = content[:19]
                    if stamp < last_time and len(stamp) == len(last_time) and not self._back_in_time_line:
                        self._back_in_time_line = point.line[-1]
                    last_time = stamp
                text_depth = 0

        parser.StartElementHandler = start
        parser.EndElementHandler = end

    def _outside_points(self, name: str, depth: int, parent: str) -> None:
        if depth == 1:
            self._check_root(name)
        elif name == "wpt":
            self._waypoints += 1
        elif (name == "trk" and depth == 2) or (name == "trkseg" and depth == 3 and parent == "trk"):
            self._tracks.openings.append((len(self._tracks.line), name))
        elif name == "rte" and depth == 2:
            self._routes.openings.append((len(self._routes.line), name))

    def run(self, data: bytes) -> Guarded:
        """The clean document; ExpatError where the XML is broken."""
        if data.count(b"<") > self._max_points * _TAGS_PER_POINT:
            raise InputProblems(
                [
                    Problem(
                        self._shown_as,
                        None,
                        "must be a course",
                        "not a file with millions of elements",
                        "Thin it out: a point every 10 m is enough.",
                    )
                ]
            )
        self._parser.Parse(data, True)
        found = Guarded(
            waypoints=self._waypoints,
            timed_points=self._timed,
            back_in_time_line=self._back_in_time_line,
        )
        parts = ['<gpx version="1.1" creator="">']
        for points, lines in ((self._tracks, found.track_lines), (self._routes, found.route_lines)):
            checked = points.checked(found)
            lines.extend(line for line, element in zip(points.line, checked, strict=True) if element)
            if points is self._tracks:
                kept = [at for at, element in enumerate(checked) if element]
                found.track_times = [points.time[at] for at in kept]
                found.track_beats = [points.beats[at] for at in kept]
            parts.append(_as_document(checked, points.openings))
        found.clean = "".join((*parts, "</gpx>"))
        return found


def _as_document(elements: list[str], openings: list[tuple[int, str]]) -> str:
    """The points inside the tags of their tracks and segments, or routes."""
    parts: list[str] = []
    closing = ""
    for number, (start, name) in enumerate(openings):
        end = openings[number + 1][0] if number + 1 < len(openings) else len(elements)
        if name == "trkseg":
            parts.append(f"<trkseg>{''.join(elements[start:end])}</trkseg>")
            continue
        parts.append(f"{closing}<{name}>")
        if name == "rte":
            parts.extend(elements[start:end])
        closing = f"</{name}>"
    return "".join((*parts, closing))


def guard(data: bytes, shown_as: str, limits: Limits) -> Guarded:
    """Read the bytes of a GPX file once and let through points with checked numbers.

    data: the file's bytes; shown_as: its name in messages.
    Raises InputProblems with the line for anything that is not GPX, is nested too deep, declares entities,
    holds too many points, or breaks off.
    """
    body, encoding, line_offset = _as_expat_reads_it(data)
    tries = [encoding] if encoding or not _not_as_declared(body) else [None, "iso-8859-1"]
    problem = Problem(shown_as, 1, "must be GPX", "not a file that cannot be read")
    for encoding in tries:
        try:
            return _Pass(shown_as, limits, encoding=encoding, line_offset=line_offset).run(body)
        except expat.ExpatError as error:
            problem = _broken(error, shown_as, line_offset)
        except (LookupError, ValueError):
            problem = Problem(
                shown_as,
                1,
                "must be GPX in a known encoding",
                "not in the one its first line declares",
                "Save it as UTF-8.",
            )
    raise InputProblems([problem])


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
    return expat.errors.messages.get(error.code, "unreadable")
