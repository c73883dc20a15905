"""The windows of the library that come closest to a wanted stretch, in the time of two correlations.

The distance of a window ``w`` from the wanted costs ``q`` is ``sum (w - q)^2``, that is
``sum w^2 - 2 sum w q + sum q^2``: running totals give the first term for all windows at once, one correlation
the second. A *reading* says how the ground of a window is run: straight through, out and back from a turn, or
the same hill several times.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from planbuilder.plan.local import Manner
from planbuilder.rehearse.library import Array, RouteLibrary, cells_of, climb_so_far, extra_cost, on_grid

# Distances that differ by less than this are equal, so that rounding never decides between two places.
EQUAL_RMS: Final = 1e-6
_SPECTRUM_CELLS: Final = 2048
_CORRELATION_ERROR: Final = 1e-6  # of the mean square, for costs of ordinary ground
_MOST_EXACT: Final = 500
_ROUGH_M: Final = 0.1  # more than single precision can be wrong by on one route
Points = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Piece:
    """Cells of the window in the order in which they are run. ``window_from`` is the lowest cell."""

    wanted_from: int
    cells: int
    window_from: int
    backward: bool


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """A way to run a window of ``cells`` local cells so that it stands in for the wanted stretch."""

    manner: Manner
    laps: int
    cells: int
    pieces: tuple[Piece, ...]
    wanted_height_m: Array  # shape (sum of the pieces' cells + 1,)
    wanted_cost: Array  # shape (sum of the pieces' cells,)

    @property
    def backward(self) -> bool:
        """Whether the first piece runs the route the other way."""
        return self.pieces[0].backward


def straight(height_m: Array, length_m: float, *, backward: bool) -> Reading:
    """The window run once from end to end."""
    cells = cells_of(length_m)
    return _reading("straight", 1, cells, (Piece(0, cells, 0, backward),), height_m, length_m)


def out_and_back(height_m: Array, length_m: float, *, out_cells: int, backward: bool) -> Reading:
    """The window run to its far end and back again, ``out_cells`` out and the rest back."""
    cells = cells_of(length_m)
    back_cells = cells - out_cells
    window = max(out_cells, back_cells)
    out_from, back_from = (0, 0) if backward else (window - out_cells, window - back_cells)
    pieces = (Piece(0, out_cells, out_from, backward), Piece(out_cells, back_cells, back_from, not backward))
    return _reading("out and back", 1, window, pieces, height_m, length_m)


def laps(height_m: Array, length_m: float, *, times: int, backward: bool) -> Reading:
    """The window run ``times`` times over in the same direction; the way back between them does not count."""
    cells = cells_of(length_m / times)
    pieces = tuple(Piece(lap * cells, cells, 0, backward) for lap in range(times))
    return _reading("laps", times, cells, pieces, height_m, length_m)


def _reading(
    manner: Manner, times: int, cells: int, pieces: tuple[Piece, ...], height_m: Array, length_m: float
) -> Reading:
    total = sum(piece.cells for piece in pieces)
    height, step = on_grid(height_m, length_m, total), length_m / total
    return Reading(manner, times, cells, pieces, height, extra_cost(np.diff(height) / step))


def readings(
    height_m: Array, length_m: float, *, climbs: bool, most_laps: int, shortest_hill_m: float
) -> Iterator[Reading]:
    """All ways worth trying: straight; out and back with the turn at the middle, at the top and at the lowest
    point; laps where the work is going up."""
    for backward in (False, True):
        yield straight(height_m, length_m, backward=backward)
    cells = cells_of(length_m)
    on_cells = on_grid(height_m, length_m, cells)
    turns = sorted({cells // 2, int(np.argmax(on_cells)), int(np.argmin(on_cells))})
    for out_cells in turns:
        if 0 < out_cells < cells:
            for backward in (False, True):
                yield out_and_back(height_m, length_m, out_cells=out_cells, backward=backward)
    if climbs:
        for times in range(2, most_laps + 1):
            if length_m / times < shortest_hill_m:
                break
            for backward in (False, True):
                yield laps(height_m, length_m, times=times, backward=backward)


class Searcher:
    """Distances of windows of a library; the spectra of its costs are kept between searches."""

    def __init__(self, library: RouteLibrary) -> None:
        self.library = library
        self._squares = {way: np.append(0.0, np.cumsum(self._cost(way) ** 2)) for way in (False, True)}
        self._rough = {
            False: library.climbed_m.astype(np.float32),
            True: library.descended_m.astype(np.float32),
        }
        self._cells_left = library.cells_left
        self._spectra: dict[tuple[bool, int], NDArray[np.complexfloating[Any, Any]]] = {}

    def inside(self, reading: Reading) -> Points:
        """The points at which the window stays on its route, in order."""
        return np.flatnonzero(self.library.cells_left >= reading.cells)

    def alike(self, reading: Reading, *, least_m: float, share: float, reversal_m: float) -> Points:
        """Those of them at which ascent and descent of the window are each within ``least_m`` or ``share`` of
        the wanted ones, whichever is more."""
        up_m = float(climb_so_far(reading.wanted_height_m, reversal_m)[-1])
        down_m = up_m - float(reading.wanted_height_m[-1])
        up_within, down_within = max(least_m, share * up_m), max(least_m, share * down_m)
        # First roughly and for all windows, in single precision; then exactly for those that are left.
        windows = max(len(self._cells_left) - reading.cells, 0)
        keep = self._cells_left[:windows] >= reading.cells
        for down, wanted_m, within_m in ((False, up_m, up_within), (True, down_m, down_within)):
            apart = self._rough_climb(reading, windows, down=down) - np.float32(wanted_m)
            keep &= np.abs(apart, out=apart) <= within_m + _ROUGH_M
        points = np.flatnonzero(keep)
        points = points[np.abs(self._climbed(reading, points, down=True) - down_m) <= down_within]
        return points[np.abs(self._climbed(reading, points, down=False) - up_m) <= up_within]

    def distances(self, reading: Reading, points: Points) -> Array:
        """Root mean square cost difference of the windows at these points, shape as ``points``."""
        if not len(points):
            return np.zeros(0)
        total = np.full(len(points), float(reading.wanted_cost @ reading.wanted_cost))
        for backward in {piece.backward for piece in reading.pieces}:
            pieces = [piece for piece in reading.pieces if piece.backward is backward]
            total -= self._correlation(backward, 2 * _folded(reading, pieces))[points]
            squares = self._squares[backward]
            for (first, cells), times in Counter(
                (piece.window_from, piece.cells) for piece in pieces
            ).items():
                total += times * (squares[points + (first + cells)] - squares[points + first])
        found = np.sqrt(np.maximum(total, 0.0) / len(reading.wanted_cost))
        # The correlation is in single precision: what is within its error of the closest is summed exactly.
        near = np.flatnonzero(total <= total.min() + _CORRELATION_ERROR * len(reading.wanted_cost))
        for place in near[:_MOST_EXACT]:
            found[place] = self.exact(reading, int(points[place]))
        return np.asarray(found)

    def exact(self, reading: Reading, point: int) -> float:
        """The distance of one window, summed term by term."""
        return float(np.sqrt(np.mean((self._run(reading, point) - reading.wanted_cost) ** 2)))

    def heights(self, reading: Reading, point: int) -> Array:
        """Heights met by the runner in the window at a point, from 0, laps one after the other without the
        way back; shape as ``reading.wanted_height_m``."""
        rises = [np.zeros(1)]
        for piece in reading.pieces:
            first = point + piece.window_from
            there = self.library.height_m[first : first + piece.cells + 1]
            rises.append(np.diff(there[::-1] if piece.backward else there))
        return np.cumsum(np.concatenate(rises))

    def _run(self, reading: Reading, point: int) -> Array:
        parts = []
        for piece in reading.pieces:
            first = point + piece.window_from
            there = self._cost(piece.backward)[first : first + piece.cells]
            parts.append(there[::-1] if piece.backward else there)
        return np.concatenate(parts)

    def _climbed(self, reading: Reading, points: Points, *, down: bool) -> Array:
        """Ascent (or descent) met by the runner in the windows at these points."""
        total = np.zeros(len(points))
        for piece in reading.pieces:
            totals = self.library.descended_m if piece.backward is not down else self.library.climbed_m
            first = points + piece.window_from
            total += totals[first + piece.cells] - totals[first]
        return total

    def _rough_climb(self, reading: Reading, windows: int, *, down: bool) -> NDArray[np.float32]:
        """The same for the windows at points 0, 1, ..., also where they leave their route."""
        total = np.zeros(windows, dtype=np.float32)
        for piece in reading.pieces:
            totals, first = self._rough[piece.backward is not down], piece.window_from
            total += totals[first + piece.cells : first + piece.cells + windows]
            total -= totals[first : first + windows]
        return total

    def _cost(self, backward: bool) -> Array:
        return self.library.cost_backward if backward else self.library.cost_forward

    def _correlation(self, backward: bool, wanted: Array) -> NDArray[np.floating[Any]]:
        """``np.correlate(cost, wanted, "valid")`` in single precision, by blocks in the frequency domain."""
        block = max(_SPECTRUM_CELLS, 1 << (4 * len(wanted) - 1).bit_length())
        hop = block - block // 4
        spectrum = self._spectra.get((backward, block))
        if spectrum is None:
            cost = self._cost(backward)
            blocks = -(-len(cost) // hop)
            padded = np.zeros(blocks * hop + block - hop, dtype=np.float32)
            padded[: len(cost)] = cost
            overlapping = np.lib.stride_tricks.sliding_window_view(padded, block)[::hop]
            spectrum = np.fft.rfft(overlapping, axis=1)
            self._spectra[backward, block] = spectrum
        product = spectrum * np.conj(np.fft.rfft(wanted.astype(np.float32), block))
        return np.fft.irfft(product, block, axis=1)[:, :hop].ravel()


def _folded(reading: Reading, pieces: list[Piece]) -> Array:
    """The wanted costs laid onto the window's cells, added up where a cell is run more than once."""
    folded = np.zeros(reading.cells)
    for piece in pieces:
        wanted = reading.wanted_cost[piece.wanted_from : piece.wanted_from + piece.cells]
        folded[piece.window_from : piece.window_from + piece.cells] += wanted[:: -1 if piece.backward else 1]
    return folded


def closest(points: Points, distances: Array, *, cells: int, how_many: int) -> list[tuple[int, float]]:
    """The closest windows that share no cell, closest first: (point, distance). ``points`` in order."""
    left = np.round(distances / EQUAL_RMS) * EQUAL_RMS
    found: list[tuple[int, float]] = []
    while len(found) < how_many and len(left):
        at = int(np.argmin(left))
        if not np.isfinite(left[at]):
            break
        found.append((int(points[at]), float(distances[at])))
        near = np.searchsorted(points, (points[at] - cells + 1, points[at] + cells))
        left[near[0] : near[1]] = np.inf
    return found
