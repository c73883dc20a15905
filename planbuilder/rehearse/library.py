"""The folder of local routes as one set of arrays, indexed once and read again in a moment.

The index holds names, digests, lengths and heights above each route's start on a grid of about 20 m. It holds
no coordinates, no times and no absolute heights; keep it private all the same, since a profile alone can give
a neighbourhood away (Meteriz-Yildiran et al., arXiv:2210.15529).
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import tempfile
import zipfile
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from planbuilder.course import read_course_file
from planbuilder.course.file_bytes import files_in, folder_problem, raise_it
from planbuilder.course.types import Course
from planbuilder.physiology.gradient import STEEPEST_GRADE, energy_cost_j_per_kg_m
from planbuilder.settings.cached import cache_folder
from planbuilder.settings.limits import Limits
from planbuilder.settings.problems import CannotWrite, InputProblems, Problem, pass_over

CELL_M: Final = 20.0
NOT_SEARCHED: Final = "Until then no session is placed there."  # what becomes of a route that is passed over
_ENDINGS: Final = (".gpx", ".csv")
INDEX_VERSION: Final = 1  # higher whenever heights would come out differently from the same file
_POSITION_LIKE: Final = re.compile(r"[-+]?\d{1,3}[.,]\d{3,}\s*°?\s*[NSEWnsew]?|https?://\S+|\S+@\S+")
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Route:
    """One local route on its grid; ``height_m[0]`` is 0."""

    key: str  # path of its file inside the folder
    digest: str
    name: str
    length_m: float
    height_m: Array  # shape (cells + 1,)
    climbed_m: Array  # shape (cells + 1,), metres climbed from the start, rises of 3 m and more
    problem: Problem | None = None  # why it cannot be used; then it has no cells


class RouteLibrary:
    """All routes one after the other. Cell ``i`` lies between the points ``i`` and ``i + 1``; a window of
    ``n`` cells may begin at point ``i`` where ``cells_left[i] >= n``."""

    def __init__(self, routes: Iterable[Route]) -> None:
        self.entries: tuple[Route, ...] = tuple(routes)
        self.routes: tuple[Route, ...] = tuple(route for route in self.entries if route.problem is None)
        sizes = [len(route.height_m) for route in self.routes]
        self.first_point: NDArray[np.int64] = np.concatenate([[0], np.cumsum(sizes, dtype=np.int64)])
        self.height_m: Array = _joined(route.height_m for route in self.routes)
        self.climbed_m: Array = _joined(route.climbed_m for route in self.routes)

    def __len__(self) -> int:
        return len(self.routes)

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Files that could not be used, one sentence each."""
        return tuple(route.problem for route in self.entries if route.problem is not None)

    @property
    def longest_m(self) -> float:
        """Length of the longest route, metres; 0 without routes."""
        return max((route.length_m for route in self.routes), default=0.0)

    @cached_property
    def step_m(self) -> Array:
        """Length of the cells of each route, shape (routes,), metres."""
        return np.array([route.length_m / (len(route.height_m) - 1) for route in self.routes])

    @cached_property
    def cells_left(self) -> NDArray[np.int32]:
        """Cells from each point to the end of its route, shape (points,)."""
        sizes = np.diff(self.first_point)
        left = np.repeat(self.first_point[1:] - 1, sizes) - np.arange(self.first_point[-1])
        return left.astype(np.int32)

    @cached_property
    def grade(self) -> Array:
        """Grade of each cell as recorded, a fraction, shape (points,); 0 at the last point of a route."""
        rise = np.diff(self.height_m, append=self.height_m[-1:])
        rise[self.first_point[1:] - 1] = 0.0
        return rise / np.repeat(self.step_m, np.diff(self.first_point))

    @cached_property
    def descended_m(self) -> Array:
        """Metres descended from each route's start, shape (points,)."""
        return self.climbed_m - self.height_m

    @cached_property
    def cost_forward(self) -> Array:
        """Extra cost of each cell run as recorded, see ``extra_cost``; shape (points,)."""
        return extra_cost(self.grade)

    @cached_property
    def cost_backward(self) -> Array:
        """Extra cost of each cell run the other way; shape (points,)."""
        return extra_cost(-self.grade)

    def place(self, point: int) -> tuple[Route, float]:
        """The route of a point, and where on it the point lies, metres."""
        number = int(np.searchsorted(self.first_point, point, side="right")) - 1
        return self.routes[number], float((point - self.first_point[number]) * self.step_m[number])


def extra_cost(grade: Array) -> Array:
    """Energy cost of running per metre over the cost on level ground, minus 1; grades are held at the edge
    of the published range. Minetti et al. 2002 by way of ``planbuilder.physiology.gradient``."""
    held = np.clip(grade, -STEEPEST_GRADE, STEEPEST_GRADE)
    return energy_cost_j_per_kg_m(held) / energy_cost_j_per_kg_m(0.0) - 1.0


def climb_so_far(height_m: Array, reversal_m: float) -> Array:
    """Metres climbed from the start up to each point, counting only what a reversal of ``reversal_m`` ends.

    Between two turning points the ground counts as one rise or one fall, so that metres climbed minus metres
    descended is always the height. Shape as ``height_m``.

    >>> climb_so_far(np.array([0.0, 5.0, 4.0, 9.0, 2.0]), 3.0).tolist()
    [0.0, 5.0, 4.0, 9.0, 9.0]
    """
    rises = np.zeros(len(height_m))
    for low, high, upward in _legs(height_m.tolist(), reversal_m):
        if upward:
            rises[low + 1 : high + 1] = np.diff(height_m[low : high + 1])
    return np.cumsum(rises)


def _legs(height_m: list[float], reversal_m: float) -> list[tuple[int, int, bool]]:
    """Rises and falls between turning points: (first point, last point, upward). The same from either end."""
    turns = [0]
    high = low = 0
    upward: bool | None = None
    for point, height in enumerate(height_m):
        high = point if height > height_m[high] else high
        low = point if height < height_m[low] else low
        if upward is not False and height_m[high] - height >= reversal_m:
            turns.append(high)
            upward, low = False, point
        elif upward is not True and height - height_m[low] >= reversal_m:
            turns.append(low)
            upward, high = True, point
    if upward is not None:
        turns.append(high if upward else low)
    turns.append(len(height_m) - 1)
    return [(a, b, height_m[b] > height_m[a]) for a, b in pairwise(turns) if b > a]


def on_grid(height_m: Array, length_m: float, cells: int) -> Array:
    """Heights at ``cells + 1`` even places of a profile that has even steps itself; the first one is 0."""
    given = np.linspace(0.0, length_m, len(height_m))
    wanted = np.interp(np.linspace(0.0, length_m, cells + 1), given, height_m)
    return np.asarray(wanted - wanted[0], dtype=np.float64)


def cells_of(length_m: float) -> int:
    """How many cells of about 20 m a length is cut into, at least one."""
    return max(1, round(length_m / CELL_M))


def route_of(course: Course, *, key: str, digest: str, name: str, reversal_m: float) -> Route:
    """A course as a route of the library."""
    height = on_grid(course.height_m, course.distance_m, cells_of(course.distance_m))
    return Route(key, digest, name, course.distance_m, height, climb_so_far(height, reversal_m))


def _pass_over_folder(error: OSError) -> None:
    pass_over(folder_problem(error), NOT_SEARCHED)


def route_files(folder: Path) -> tuple[Path, ...]:
    """The GPX and CSV files of a folder and the folders in it, by path; hidden files and links that lead out
    are left alone. Nothing where there is no such folder."""
    return tuple(
        path
        for path in files_in(folder, _ENDINGS, home=folder, deep=True, on_error=_pass_over_folder)
        if not any(part.startswith(".") for part in path.relative_to(folder).parts)
    )


def routes_in(folder: Path, *, own: str, others: Collection[str], limits: Limits) -> RouteLibrary | None:
    """The routes of a folder that a runner may use: those for all, and those in the runner's own folder.

    ``own`` is the runner's key, ``others`` the keys of the rest, whose folders are left alone. The index is
    kept among the user's cached files, where they can be written. None where there are no routes.
    """
    files = [path for path in route_files(folder) if path.relative_to(folder).parts[0] not in others]
    if not files:
        return None
    try:
        library = index_routes(files, folder=folder, limits=limits, cache=_cache_of(folder, own))
    except CannotWrite:
        library = index_routes(files, folder=folder, limits=limits, cache=None)
    for problem in library.problems:
        pass_over(replace(problem, file=str(folder / problem.file)), NOT_SEARCHED)
    return library


def forget_routes(folder: Path, own: str) -> int:
    """Delete the routes in a runner's own folder and what is kept of them; how many there were.

    Raises OSError where one cannot be deleted.
    """
    files = files_in(folder / own, _ENDINGS, home=folder, deep=True, on_error=raise_it)
    for path in files:
        path.unlink()
    cache = _cache_of(folder, own)
    if files and cache is not None:
        cache.unlink(missing_ok=True)
    return len(files)


def _cache_of(folder: Path, own: str) -> Path | None:
    home = cache_folder()
    name = hashlib.blake2b(f"{folder.resolve()}\n{own}".encode(), digest_size=16).hexdigest()
    return None if home is None else home / f"routes-{name}.npz"


def index_routes(files: Sequence[Path], *, folder: Path, limits: Limits, cache: Path | None) -> RouteLibrary:
    """The routes of ``files`` (GPX or CSV) as a library.

    ``cache`` keeps the index between runs: only files whose bytes changed are read again. A file that cannot
    be used is left out and stands in ``RouteLibrary.problems``. Raises CannotWrite where the cache cannot be
    written.
    """
    known = _load(cache) if cache is not None else {}
    entries = []
    for key, file in sorted({_key(file, folder): file for file in files}.items()):
        try:
            digest = hashlib.blake2b(file.read_bytes(), digest_size=16).hexdigest()
        except OSError as error:
            found = (error.strerror or str(error)).lower()
            digest, problem = "", Problem(key, None, "a route must be a file that can be read", found)
            entries.append(_unusable(key, digest, problem))
            continue
        old = known.get(key)
        entries.append(old if old is not None and old.digest == digest else _read(file, key, digest, limits))
    changed = len(entries) != len(known) or any(known.get(entry.key) is not entry for entry in entries)
    if cache is not None and changed:
        _save(cache, entries)
    return RouteLibrary(_with_own_names(entries))


def _key(file: Path, folder: Path) -> str:
    resolved, home = file.resolve(), folder.resolve()
    return resolved.relative_to(home).as_posix() if resolved.is_relative_to(home) else file.as_posix()


def _read(file: Path, key: str, digest: str, limits: Limits) -> Route:
    try:
        course = read_course_file(file, shown_as=key, limits=limits)
    except InputProblems as error:
        return _unusable(key, digest, error.problems[0])
    if not course.known:
        return _unusable(key, digest, Problem(key, None, "a route must hold heights", "it has none"))
    if course.distance_m < limits.number("rehearse.shortest_hill"):
        return _unusable(key, digest, Problem(key, None, "a route must be longer than a short hill"))
    return route_of(
        course, key=key, digest=digest, name=plain_name(key), reversal_m=limits.number("rehearse.reversal")
    )


def _unusable(key: str, digest: str, problem: Problem) -> Route:
    return Route(key, digest, plain_name(key), 0.0, np.zeros(0), np.zeros(0), problem)


def plain_name(key: str) -> str:
    """What people call a route: its file name without the ending, and without anything like a position.

    >>> plain_name("winter/canal_path.gpx"), plain_name("home 52.51231, 13.40512.gpx")
    ('canal path', 'home')
    """
    stem = _POSITION_LIKE.sub(" ", Path(key).stem).replace("_", " ")
    return " ".join(stem.replace("{", " ").replace("}", " ").split()).strip(" ,;-") or "unnamed route"


def _with_own_names(entries: Sequence[Route]) -> list[Route]:
    """Equal names get a number, in the order of their paths."""
    seen: dict[str, int] = {}
    named = []
    for entry in entries:
        count = seen[entry.name] = seen.get(entry.name, 0) + 1
        named.append(entry if count == 1 else replace(entry, name=f"{entry.name} ({count})"))
    return named


# The index file ------------------------------------------------------------------------------------------


def _load(cache: Path) -> dict[str, Route]:
    """Routes of an index by key; nothing where there is none, or it is of another version or broken."""
    try:
        with cache.open("rb") as file, np.load(file, allow_pickle=False) as stored:
            lines = json.loads(stored["lines"].tobytes())
            if lines["version"] != INDEX_VERSION:
                return {}
            heights, climbed = stored["height_m"], stored["climbed_m"]
        return {line["key"]: _route_from(line, heights, climbed) for line in lines["routes"]}
    except (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile):
        return {}


def _route_from(line: dict[str, Any], heights: Array, climbed: Array) -> Route:
    span = slice(line["first"], line["first"] + line["points"])
    problem = Problem(**line["problem"]) if line["problem"] else None
    fields = (line["key"], line["digest"], line["name"], line["length_m"])
    return Route(*fields, heights[span], climbed[span], problem)


def _save(cache: Path, entries: Sequence[Route]) -> None:
    lines = []
    first = 0
    for entry in entries:
        problem = entry.problem and {
            field: getattr(entry.problem, field) for field in ("file", "line", "must", "found", "todo")
        }
        lines.append(
            {
                **{"key": entry.key, "digest": entry.digest, "name": entry.name, "length_m": entry.length_m},
                **{"first": first, "points": len(entry.height_m), "problem": problem},
            }
        )
        first += len(entry.height_m)
    text = json.dumps({"version": INDEX_VERSION, "routes": lines}).encode()
    packed = np.frombuffer(text, dtype=np.uint8)
    heights = _joined(entry.height_m for entry in entries)
    climbed = _joined(entry.climbed_m for entry in entries)
    try:
        cache.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=cache.parent, prefix=cache.name, suffix=".part")
        with os.fdopen(handle, "wb") as file:
            np.savez(file, lines=packed, height_m=heights, climbed_m=climbed)
        Path(name).replace(cache)
    except OSError as error:
        raise CannotWrite(f"{cache.name}: the index of the routes could not be written: {error}") from error


def _joined(parts: Iterable[Array]) -> Array:
    return np.concatenate([np.zeros(0), *parts])
