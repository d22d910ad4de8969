"""Ratios with their plausible ranges, and the zone in which a difference is too small to act on."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pandas as pd

from wearlab.core.tables import each_row
from wearlab.report.figures.style import BAND, INK, LOOKS, SOFT, new_figure, plain_log_axis, styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ROW_PT = 42.0
_TICKS = (0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50)
_CLOSE = (0.1, 0.15, 0.2, 0.25, 0.33, 0.5, 0.67, 0.8, 1, 1.25, 1.5, 2, 3, 4, 5, 7, 10)
_NEAR = (0.7, 0.8, 0.9, 1, 1.1, 1.25, 1.4)


def draw_ratios(
    table: pd.DataFrame, *, margin: float, x_label: str, worse: str = "", better: str = "", small: bool = False
) -> Figure:
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
        figure = new_figure(ROW_PT * len(table) + (82 if worse or better else 60), 360.0 if small else 460.0)
        axes = figure.subplots()
        axes.set_xscale("log")
        low, high = _span(table, margin)
        axes.set_xlim(low, high)
        plain_log_axis(axes.xaxis, _ticks(low, high))
        axes.set_ylim(len(table) - 0.5, -0.72)
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.grid(visible=False, axis="y")
        axes.annotate(
            "too small to act on",
            xy=(1.0, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(0, 2),
            textcoords="offset points",
            ha="center",
            va="bottom",
            color=SOFT,
            fontsize=8.5,
        )
        for row in each_row(table):
            _row(axes, row, margin, low, high)
        axes.set_xlabel(x_label)
        _sides(axes, worse, better)
    return figure


def _sides(axes: Axes, worse: str, better: str) -> None:
    """What the two directions of the axis mean, under its ends."""
    for at, text, side in ((0.0, f"← {worse}", "left"), (1.0, f"{better} →", "right")):
        if worse or better:
            axes.annotate(
                text,
                xy=(at, 0.0),
                xycoords="axes fraction",
                xytext=(0, -38),
                textcoords="offset points",
                ha=side,
                va="top",
                color=SOFT,
                fontsize=9,
                annotation_clip=False,
            )


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


def _row(axes: Axes, row: Any, margin: float, low: float, high: float) -> None:
    at, look = float(row.Index), LOOKS[0]
    start, end, estimate = float(row.low), float(row.high), float(row.estimate)
    # Band and line of 1 leave the height of the words free.
    tall = (at - 0.22, at + 0.44)
    axes.fill_between(
        [1.0 / margin, margin],
        *tall,
        color=BAND,
        linewidth=0,
        zorder=0.5,
        label="too small to act on",
    )
    axes.vlines([1.0], *tall, color=INK, linewidth=1.1, zorder=1.2)
    _words(axes, row, at, estimate)
    if not math.isfinite(estimate):
        return
    predicted = [float(getattr(row, name, math.nan)) for name in ("predicted_low", "predicted_high")]
    if all(math.isfinite(x) for x in predicted):
        axes.plot(predicted, [at + 0.28] * 2, color=SOFT, linewidth=5, solid_capstyle="butt", label="expected")
        axes.annotate(
            "expected from the cut",
            xy=(predicted[1], at + 0.28),
            xytext=(4, 0),
            textcoords="offset points",
            va="center",
            ha="left",
            fontsize=8,
            color=SOFT,
            annotation_clip=False,
        )
    bounded = (max(start, low) if start > 0 else low, end if end < high else high)
    axes.plot(bounded, [at, at], color=look.ink, linewidth=3.2, solid_capstyle="butt", label="plausible")
    for edge, limit, mark in ((start, low, "<"), (end, high, ">")):
        if not low < edge < high:
            axes.plot([limit], [at], marker=mark, color=look.ink, markersize=7, clip_on=False, label="open")
    axes.plot([estimate], [at], marker="o", markersize=8, color=look.ink, zorder=4, label="estimate")


def _words(axes: Axes, row: Any, at: float, estimate: float) -> None:
    """Name and figures: above the row from the left; without a name, above the estimate itself."""
    if row.name or not math.isfinite(estimate):
        text = f"{row.name}: {row.shown}" if row.name else str(row.shown)
        axes.text(0.0, at - 0.42, text, transform=axes.get_yaxis_transform(), ha="left", va="center", fontsize=9.2)
        return
    axes.annotate(
        str(row.shown),
        xy=(estimate, at),
        xytext=(0, 8),
        textcoords="offset points",
        ha="center",
        va="bottom",
        fontsize=10.5,
        fontweight="bold",
        annotation_clip=False,
    )
