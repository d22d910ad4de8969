"""Ratios with their plausible ranges, and the zone in which a difference is too small to act on."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pandas as pd

from wearlab.core.tables import each_row
from wearlab.report.figures.style import BAND, INK, LOOKS, SOFT, fitted, new_figure, plain_log_axis, shortened, styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ROW_PT = 42.0
PHONE_ROW_PT = 70.0
MOST_NAME = 64
"""Letters of a row's name on a wide figure; the table holds all of them."""
_TICKS = (0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50)
_CLOSE = (0.1, 0.15, 0.2, 0.25, 0.33, 0.5, 0.67, 0.8, 1, 1.25, 1.5, 2, 3, 4, 5, 7, 10)
_NEAR = (0.7, 0.8, 0.9, 1, 1.1, 1.25, 1.4)


def draw_ratios(
    table: pd.DataFrame,
    *,
    margin: float,
    x_label: str,
    worse: str = "",
    better: str = "",
    small: bool = False,
    narrow: bool = False,
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
        For the first screen, where it stands beside the answer.
    narrow : bool
        For a phone: words of a row on two lines.
    """
    table = table.reset_index(drop=True)
    with styled():
        named = narrow and bool((table["name"] != "").any())
        row, below = (PHONE_ROW_PT if named else ROW_PT), (82 if worse or better else 60) + (26 if narrow else 0)
        figure = new_figure(row * len(table) + below, 360.0 if small else 460.0, narrow=narrow)
        axes = figure.subplots()
        axes.set_xscale("log")
        low, high = _span(table, margin)
        axes.set_xlim(low, high)
        plain_log_axis(axes.xaxis, _ticks(low, high))
        axes.set_ylim(len(table) - 0.5, -0.8 if named else -0.72)
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
            _row(axes, row, margin, low, high, narrow)
        label = fitted(x_label, narrow)
        axes.set_xlabel(label)
        _sides(axes, worse, better, narrow, 38 + 12 * label.count("\n"))
    return figure


def _sides(axes: Axes, worse: str, better: str, narrow: bool, below: float) -> None:
    """What the two directions of the axis mean, under its ends."""
    for at, text, side in ((0.0, f"← {_side(worse, narrow)}", "left"), (1.0, f"{_side(better, narrow)} →", "right")):
        if worse or better:
            axes.annotate(
                text,
                xy=(at, 0.0),
                xycoords="axes fraction",
                xytext=(0, -below - (12 if narrow and side == "right" else 0)),
                textcoords="offset points",
                ha=side,
                va="top",
                color=SOFT,
                fontsize=9,
                annotation_clip=False,
            )


def _row_name(name: str, narrow: bool) -> str:
    return shortened(name, True, 44) if narrow else name if len(name) <= MOST_NAME else f"{name[: MOST_NAME - 1]}…"


def _side(text: str, narrow: bool) -> str:
    return shortened(text, narrow, 36).split("\n")[0]


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


def _row(axes: Axes, row: Any, margin: float, low: float, high: float, narrow: bool = False) -> None:
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
    _words(axes, row, at, estimate, narrow)
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


def _words(axes: Axes, row: Any, at: float, estimate: float, narrow: bool) -> None:
    """Name and figures: above the row from the left; without a name, above the estimate itself."""
    if row.name or not math.isfinite(estimate):
        name = f"{_row_name(str(row.name), narrow)}:{chr(10) if narrow else ' '}" if row.name else ""
        axes.text(
            0.0,
            at - (0.5 if narrow else 0.42),
            f"{name}{row.shown}",
            transform=axes.get_yaxis_transform(),
            ha="left",
            va="center",
            fontsize=9.2,
        )
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
