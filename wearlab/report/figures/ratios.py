"""Ratios with their plausible ranges, and the zone in which a difference is too small to act on."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pandas as pd

from wearlab.report.figures.style import BAND, INK, LOOKS, SOFT, new_figure, plain_log_axis, styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ROW_PT = 42.0
_TICKS = (0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50)
_CLOSE = (0.25, 0.33, 0.5, 0.67, 0.8, 1, 1.25, 1.5, 2, 3, 4)
_NEAR = (0.7, 0.8, 0.9, 1, 1.1, 1.25, 1.4)


def draw_ratios(table: pd.DataFrame, *, margin: float, x_label: str, worse: str = "", better: str = "", small: bool = False) -> Figure:
    """Draw one row a contrast.

    Parameters
    ----------
    table : pandas.DataFrame
        `name`, `shown` (the figure in words), `estimate`, `low`, `high`, and `predicted_low`, `predicted_high` (NaN
        where nothing was predicted); above 1 speaks for the first group.
    margin : float
        Largest ratio that is too small to act on.
    x_label : str
    worse, better : str
        What the left and the right side of the axis mean.
    small : bool
        For the first screen: narrower, so that its text is larger on a phone.
    """
    table = table.reset_index(drop=True)
    with styled():
        figure = new_figure(ROW_PT * len(table) + (74 if worse or better else 56), 360.0 if small else 460.0)
        axes = figure.subplots()
        axes.set_xscale("log")
        low, high = _span(table, margin)
        axes.set_xlim(low, high)
        plain_log_axis(axes.xaxis, _ticks(low, high))
        axes.set_ylim(len(table) - 0.35, -0.95)
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.grid(visible=False, axis="y")
        axes.axvspan(1.0 / margin, margin, color=BAND, linewidth=0, zorder=0.5, label="too small to act on")
        axes.axvline(1.0, color=INK, linewidth=1.1, zorder=1.2)
        axes.text(1.0, -0.9, "too small to act on", ha="center", va="top", color=SOFT, fontsize=8.5, zorder=3,
                  bbox={"facecolor": BAND, "edgecolor": "none", "pad": 1.0})  # fmt: skip
        for row in table.itertuples():
            _row(axes, row, low, high)
        axes.set_xlabel(_sides(x_label, worse, better))
    return figure


def _sides(x_label: str, worse: str, better: str) -> str:
    if not worse and not better:
        return x_label
    return f"{x_label}\n←  {worse}          {better}  →"


def _span(table: pd.DataFrame, margin: float) -> tuple[float, float]:
    """Limits of the axis: every end that is bounded, with 1 and the zone that does not matter well inside."""
    columns = [name for name in ("estimate", "low", "high", "predicted_low", "predicted_high") if name in table]
    ends = [float(x) for name in columns for x in table[name] if 0 < x < math.inf]
    low, high = min([1.0 / margin, *ends]), max([margin, *ends])
    room = (high / low) ** 0.09
    return max(low / room, 1e-3), min(high * room, 1e3)


def _ticks(low: float, high: float) -> list[float]:
    for choice in (_NEAR, _CLOSE, _TICKS):
        if choice[0] <= low * 1.4 and high / 1.4 <= choice[-1]:
            inside = [tick for tick in choice if low <= tick <= high]
            width = math.log(high / low)
            kept: list[float] = []
            for tick in sorted(inside, key=lambda tick: abs(math.log(tick))):
                if all(abs(math.log(tick / other)) / width > 0.075 for other in kept):
                    kept.append(tick)
            return sorted(kept)
    return [1.0]


def _row(axes: Axes, row: object, low: float, high: float) -> None:
    at = float(row.Index)  # type: ignore[attr-defined]
    look = LOOKS[0]
    start, end, estimate = float(row.low), float(row.high), float(row.estimate)  # type: ignore[attr-defined]
    text = f"{row.name}:  {row.shown}" if row.name else str(row.shown)  # type: ignore[attr-defined]
    axes.text(0.0, at - 0.30, text, transform=axes.get_yaxis_transform(), ha="left", va="center", fontsize=9.2, zorder=5,
              bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8, "alpha": 0.85})  # fmt: skip
    if not math.isfinite(estimate):
        return
    predicted = getattr(row, "predicted_low", math.nan), getattr(row, "predicted_high", math.nan)
    if all(math.isfinite(x) for x in predicted):
        axes.plot(predicted, [at + 0.33] * 2, color=SOFT, linewidth=5, solid_capstyle="butt", label="expected")
        axes.annotate("expected from the cut", xy=(predicted[1], at + 0.33), xytext=(4, 0), textcoords="offset points",
                      va="center", ha="left", fontsize=8, color=SOFT, annotation_clip=False)  # fmt: skip
    axes.plot([max(start, low), min(end, high)], [at, at], color=look.ink, linewidth=3, solid_capstyle="butt", label="plausible")
    for edge, limit, mark in ((start, low, "<"), (end, high, ">")):
        if not low < edge < high:
            axes.plot([limit], [at], marker=mark, color=look.ink, markersize=7, clip_on=False)
    axes.plot([estimate], [at], marker="o", markersize=8, color=look.ink, zorder=4, label="estimate")
