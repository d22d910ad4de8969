"""A cutter swept over a grid workpiece: brute force that knows none of the closed forms under test.

The workpiece is a stack of horizontal levels. On each, a grid holds the signed distance from every node to
the nearest surface (positive in metal). The cutter is a disc; each small step of its path takes the minimum
with the distance to the disc on every level above its end face. Before a step removes anything, points on the
cutter's circle (the flute) and on circles below its end face (the end edge) are looked up in the grid: metal
or air. Nothing else is known: no engagement angle, no chip formula, no volume formula. Angles add up as angle
x travel, chips as volume removed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import numpy as np
import pytest


class Block:
    """Workpiece and what the cutter has gone through in it.

    Attributes after a sweep: `arc` (rad mm, by level of height above the end face), `flute_mm3` (volume cut
    by height), `end_angle` (rad mm by radius), `end_mm3` (volume cut by the end face by radius),
    `removed_mm3`.
    """

    def __init__(
        self,
        x: tuple[float, float],
        y: tuple[float, float],
        depth: float,
        *,
        cell: float,
        levels: int = 1,
        radius: float,
        faces: tuple[float, float] = (-math.inf, math.inf),
        solid: Callable | None = None,
    ) -> None:
        self.cell, self.radius, self.levels, self.dz = cell, radius, levels, depth / levels
        self.x = np.arange(x[0], x[1] + cell / 2, cell)
        self.y = np.arange(y[0], y[1] + cell / 2, cell)
        gx, gy = np.meshgrid(self.x, self.y, indexing="ij")
        field = (
            np.minimum(gx - faces[0], faces[1] - gx) if np.isfinite(faces).any() else np.full(gx.shape, 1e3)
        )
        if solid is not None:
            field = np.minimum(field, solid(gx, gy))
        self.field = np.repeat(field[None], levels, axis=0)
        self.angles = (np.arange(1440) + 0.5) * (2 * math.pi / 1440)
        self.radii = (np.arange(20) + 0.5) * radius / 20
        self.arc = np.zeros(levels)
        self.flute_mm3 = np.zeros(levels)
        self.end_angle = np.zeros(20)
        self.end_mm3 = np.zeros(20)
        self.removed_mm3 = 0.0
        self.corner_angle = 0.0

    @property
    def heights(self) -> np.ndarray:
        """Middle of each level above the end face of a cutter that stands at the bottom of a level."""
        return (np.arange(self.levels) + 0.5) * self.dz

    def drill(self, centres: Iterable[float], radius: float) -> None:
        """Round holes through all levels, made by another tool."""
        for centre in centres:
            gap = np.hypot(self.x[:, None] - centre, self.y[None, :]) - radius
            self.field = np.minimum(self.field, gap[None])

    def sweep(self, path: np.ndarray) -> None:
        """Follow points (x, y, depth of the end face below the top), starting out of the metal or where the
        last ended.
        """
        before = path[0]
        for point in path:
            self._step(before, point)
            before = point

    def _step(self, before: np.ndarray, point: np.ndarray) -> None:
        # Level k lies between depths k dz and (k + 1) dz; the cutter is in it when it reaches its middle.
        reach = min(math.floor(point[2] / self.dz + 0.5 + 1e-9), self.levels)
        had = min(math.floor(before[2] / self.dz + 0.5 + 1e-9), self.levels)
        travel = math.hypot(point[0] - before[0], point[1] - before[1])
        for level in range(reach):
            sinks = level >= had
            height = reach - 1 - level
            if sinks:
                self._feel_end(level, point)
            elif travel > 0:
                self.arc[height] += (
                    travel * self._in_metal(level, point, self.radius).sum() * (2 * math.pi / 1440)
                )
            self._cut(level, point, sinks, height)

    def _feel_end(self, level: int, point: np.ndarray) -> None:
        width = 2 * math.pi / 1440
        for at, radius in enumerate(self.radii):
            self.end_angle[at] += self.dz * self._in_metal(level, point, radius).sum() * width
        self.corner_angle += self.dz * self._in_metal(level, point, self.radius).sum() * width

    def _in_metal(self, level: int, point: np.ndarray, radius: float) -> np.ndarray:
        px = (point[0] + radius * np.cos(self.angles) - self.x[0]) / self.cell
        py = (point[1] + radius * np.sin(self.angles) - self.y[0]) / self.cell
        i = np.clip(px.astype(int), 0, len(self.x) - 2)
        j = np.clip(py.astype(int), 0, len(self.y) - 2)
        u, v = px - i, py - j
        f = self.field[level]
        low = f[i, j] * (1 - v) + f[i, j + 1] * v
        high = f[i + 1, j] * (1 - v) + f[i + 1, j + 1] * v
        outside = (px < 0) | (px > len(self.x) - 1) | (py < 0) | (py > len(self.y) - 1)
        return (low * (1 - u) + high * u > 0) & ~outside

    def _cut(self, level: int, point: np.ndarray, sinks: bool, height: int) -> None:
        reach = self.radius + 2 * self.cell
        i = slice(*np.searchsorted(self.x, [point[0] - reach, point[0] + reach]))
        j = slice(*np.searchsorted(self.y, [point[1] - reach, point[1] + reach]))
        old = self.field[level, i, j]
        away = np.hypot(self.x[i, None] - point[0], self.y[None, j] - point[1])
        new = np.minimum(old, away - self.radius)
        # A cell that the surface crosses counts by the share that lies on the metal's side.
        gone = (self._share(old) - self._share(new)) * self.cell**2 * self.dz
        self.field[level, i, j] = new
        total = float(gone.sum())
        self.removed_mm3 += total
        if sinks:
            at = np.minimum((away / self.radius * 20).astype(int), 19)
            self.end_mm3 += np.bincount(at.ravel(), weights=gone.ravel(), minlength=20)
        else:
            self.flute_mm3[height] += total

    def _share(self, field: np.ndarray) -> np.ndarray:
        return np.clip(0.5 + field / self.cell, 0, 1)


def line(start: tuple[float, float, float], end: tuple[float, float, float], step: float) -> np.ndarray:
    """Points along a straight line, the start included."""
    a, b = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    count = max(math.ceil(float(np.linalg.norm(b - a)) / step), 1)
    return a + (b - a) * np.linspace(0, 1, count + 1)[:, None]


@pytest.fixture
def block() -> type[Block]:
    """The workpiece class."""
    return Block


@pytest.fixture
def straight() -> Callable:
    """Points along a straight line."""
    return line
