"""The index of local routes: read once, kept, and silent about where they lie."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

import planbuilder.rehearse.library as library_module
from planbuilder.course import read_course_file
from planbuilder.rehearse.library import RouteLibrary, climb_so_far, index_routes, plain_name, route_files
from planbuilder.settings.limits import Limits
from planbuilder.settings.problems import CannotWrite

Array = NDArray[np.float64]


def _rising(cells: int, grade: float) -> Array:
    return np.arange(cells + 1, dtype=np.float64) * 20.0 * grade


@pytest.fixture
def folder(tmp_path: Path, write_gpx: Callable[..., Path]) -> Path:
    write_gpx(tmp_path / "routes" / "mill_lane.gpx", _rising(100, 0.03))
    write_gpx(tmp_path / "routes" / "north" / "mill_lane.gpx", _rising(60, 0.01))
    write_gpx(tmp_path / "routes" / "canal path.gpx", np.zeros(150) + np.linspace(0, 1, 150))
    return tmp_path / "routes"


def _index(folder: Path, limits: Limits, cache: Path | None) -> RouteLibrary:
    return index_routes(sorted(folder.rglob("*.gpx")), folder=folder, limits=limits, cache=cache)


def test_an_index_holds_each_route_with_length_and_heights_above_its_start(
    folder: Path, limits: Limits
) -> None:
    found = {route.name: route for route in _index(folder, limits, None).routes}
    assert set(found) == {"canal path", "mill lane", "mill lane (2)"}
    assert found["mill lane"].length_m == pytest.approx(2000.0, rel=0.01)
    assert found["mill lane"].height_m[0] == 0.0
    assert found["mill lane"].height_m[-1] == pytest.approx(60.0, abs=0.5)


def test_a_kept_index_gives_the_same_library_bit_for_bit(
    folder: Path, limits: Limits, tmp_path: Path
) -> None:
    fresh = _index(folder, limits, tmp_path / "index.npz")
    again = _index(folder, limits, tmp_path / "index.npz")
    assert [route.name for route in fresh.routes] == [route.name for route in again.routes]
    assert np.array_equal(fresh.height_m, again.height_m)
    assert np.array_equal(fresh.climbed_m, again.climbed_m)
    assert np.array_equal(fresh.cost_backward, again.cost_backward)


def test_only_files_whose_bytes_changed_are_read_again(
    folder: Path,
    limits: Limits,
    tmp_path: Path,
    write_gpx: Callable[..., Path],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    read: list[str] = []

    def noted(path: Path, *, shown_as: str, limits: Limits) -> object:
        read.append(shown_as)
        return read_course_file(path, shown_as=shown_as, limits=limits)

    monkeypatch.setattr(library_module, "read_course_file", noted)
    cache = tmp_path / "index.npz"
    _index(folder, limits, cache)
    assert sorted(read) == ["canal path.gpx", "mill_lane.gpx", "north/mill_lane.gpx"]
    read.clear()
    (folder / "canal path.gpx").touch()
    _index(folder, limits, cache)
    assert read == []
    write_gpx(folder / "canal path.gpx", _rising(80, 0.02))
    (folder / "north" / "mill_lane.gpx").unlink()
    changed = _index(folder, limits, cache)
    assert read == ["canal path.gpx"]
    assert [route.name for route in changed.routes] == ["canal path", "mill lane"]


@pytest.mark.parametrize("broken", [b"", b"not an archive", b"PK\x03\x04 cut short"])
def test_a_broken_index_is_made_anew(folder: Path, limits: Limits, tmp_path: Path, broken: bytes) -> None:
    cache = tmp_path / "index.npz"
    cache.write_bytes(broken)
    assert len(_index(folder, limits, cache)) == 3
    assert len(_index(folder, limits, cache)) == 3


@pytest.mark.parametrize("text", ["no route, a shopping list", "<gpx><trk>", ""])
def test_a_file_that_is_no_route_is_left_out_and_named(
    folder: Path, limits: Limits, tmp_path: Path, text: str
) -> None:
    (folder / "broken.gpx").write_text(text, "utf-8")
    cache = tmp_path / "index.npz"
    for _ in range(2):
        found = _index(folder, limits, cache)
        assert len(found) == 3
        assert [problem.file for problem in found.problems] == ["broken.gpx"]


def test_an_index_that_cannot_be_written_says_so(folder: Path, limits: Limits, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", "utf-8")
    with pytest.raises(CannotWrite, match=r"index\.npz: the index of the routes could not be written"):
        _index(folder, limits, tmp_path / "file" / "index.npz")


def test_no_coordinate_and_no_absolute_height_is_in_the_index(
    folder: Path, limits: Limits, tmp_path: Path
) -> None:
    """The made-up routes lie at 47.1 S, 12.7 W, 61 m above the sea."""
    library = _index(folder, limits, tmp_path / "index.npz")
    with np.load(tmp_path / "index.npz") as stored:
        text = stored["lines"].tobytes().decode()
        numbers = np.concatenate([stored["height_m"], stored["climbed_m"]])
        assert set(stored.files) == {"lines", "height_m", "climbed_m"}
    assert not re.search(r"47\.1|12\.65|-?\d+\.\d{5,}(?=[,}])[NSEW]", text)
    assert all(route.height_m[0] == 0.0 for route in library.routes)
    assert np.all(np.abs(numbers - 61.0) > 1e-9) or numbers.max() < 61.0
    assert numbers.min() > -47.0


@pytest.mark.parametrize(
    ("key", "name"),
    [
        ("home 52.51231, 13.40512.gpx", "home"),
        ("a/b/river_loop.csv", "river loop"),
        ("52.512310_-13.405120.gpx", "unnamed route"),
        ("loop {at:5}.gpx", "loop at:5"),
        ("10 km.gpx", "10 km"),
        ("mail me@example.org.gpx", "mail"),
    ],
)
def test_a_route_is_called_by_its_file_without_anything_like_a_position(key: str, name: str) -> None:
    assert plain_name(key) == name


@settings(max_examples=60)
@given(st.lists(st.floats(-6, 6), min_size=1, max_size=60))
def test_climb_minus_descent_is_the_height_and_reversing_swaps_them(steps: list[float]) -> None:
    height = np.concatenate([[0.0], np.cumsum(steps)])
    up = climb_so_far(height, 3.0)
    back = climb_so_far(height[::-1] - height[-1], 3.0)
    assert up[-1] - back[-1] == pytest.approx(height[-1], abs=1e-9)
    assert up[-1] >= max(height.max(), 0.0) - 3.0 - 1e-9


def test_a_folder_gives_its_gpx_and_csv_files_and_nothing_from_outside(tmp_path: Path) -> None:
    outside = tmp_path / "elsewhere.gpx"
    home = tmp_path / "routes"
    for path in (
        home / "b.GPX",
        home / "a" / "c.csv",
        home / ".hidden" / "d.gpx",
        home / "notes.txt",
        outside,
    ):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("", "utf-8")
    (home / "link.gpx").symlink_to(outside)
    assert [path.relative_to(home).as_posix() for path in route_files(home)] == ["a/c.csv", "b.GPX"]
    assert route_files(tmp_path / "nowhere") == ()


def test_small_wiggles_add_no_climb() -> None:
    """Rises count from a reversal of 3 m on, as the course room counts them."""
    wiggles = np.tile([0.0, 1.0], 50) + np.linspace(0, 20, 100)
    assert climb_so_far(wiggles, 3.0)[-1] == pytest.approx(21.0, abs=1e-9)
