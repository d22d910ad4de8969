"""Life against cutting speed on logarithmic axes, with the line and its band only where speeds were tried."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import pandas as pd

from wearlab.core.tables import each_row
from wearlab.report.figures.style import (
    Look,
    label_ends,
    new_figure,
    nice_ticks,
    plain_log_axis,
    styled,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def draw_taylor(
    table: pd.DataFrame, looks: dict[str, Look], *, x_label: str, y_label: str, narrow: bool = False
) -> Figure:
    """Draw lives and line.

    Parameters
    ----------
    table : pandas.DataFrame
        In the units to be shown: `kind` (cutter or line), `group`, `speed`, `life` (NaN for a cutter whose life is
        not known), `low`, `high` (what is known of a cutter's life; the band of the line), `status`.
    looks : dict of str to Look
        By group.
    x_label, y_label : str
    narrow : bool
        For a phone.
    """
    with styled():
        figure = new_figure(290.0, narrow=narrow)
        axes = figure.subplots()
        axes.set(xscale="log", yscale="log", xlabel=x_label, ylabel=y_label)
        _limits(axes, table)
        ends = {}
        for group, look in looks.items():
            own = table[table["group"] == group]
            if own.empty:
                continue
            _line(axes, own[own["kind"] == "line"], look)
            _cutters(axes, own[own["kind"] == "cutter"], look)
            right = own.sort_values(["speed", "kind"], kind="stable").iloc[-1]
            ends[group] = (
                float(right["speed"]),
                float(right["life"] if right["life"] == right["life"] else right["low"]),
            )
        if len(ends) > 1:
            label_ends(
                axes, {group: (speed * 1.02, life) for group, (speed, life) in ends.items()}, looks, 0.06, narrow
            )
    return figure


def _limits(axes: Axes, table: pd.DataFrame) -> None:
    speeds = table["speed"]
    lives = pd.concat([table["life"], table["low"], table["high"]])
    lives = lives[(lives > 0) & (lives < float("inf"))]
    low, high = float(lives.min()) * 0.8, float(lives.max()) * 1.35
    left, right = float(speeds.min()) * 0.95, float(speeds.max()) * 1.16
    axes.set_xlim(left, right)
    axes.set_ylim(low, high)
    tried = sorted(table.loc[table["kind"] == "cutter", "speed"].round(6).unique())
    plain_log_axis(axes.xaxis, tried if _apart(tried, left, right) else nice_ticks(left, right))
    plain_log_axis(axes.yaxis, nice_ticks(low, high))


def _apart(ticks: list[float], left: float, right: float) -> bool:
    """Whether these few speeds can be written at the axis without touching one another."""
    import math

    if not 2 <= len(ticks) <= 8 or any(len(f"{tick:.3g}") > 4 for tick in ticks):
        return False
    width = math.log(right / left)
    return all(math.log(b / a) / width > 0.09 for a, b in pairwise(ticks))


def _line(axes: Axes, line: pd.DataFrame, look: Look) -> None:
    if line.empty:
        return
    if len(line) == 1:
        return
    if line["low"].notna().all() and (line["high"] < float("inf")).all():
        axes.fill_between(line["speed"], line["low"], line["high"], color=look.ink, alpha=0.16, linewidth=0, zorder=1.5)
    style = (0, look.dash) if look.dash else "-"
    axes.plot(line["speed"], line["life"], color=look.ink, linewidth=1.8, linestyle=style, label="line")


def _cutters(axes: Axes, cutters: pd.DataFrame, look: Look) -> None:
    import seaborn as sns

    sns.scatterplot(
        data=cutters.dropna(subset=["life"]),
        x="speed",
        y="life",
        ax=axes,
        marker=look.mark,
        s=34,
        legend=False,
        zorder=4,
        facecolor=look.ink if look.filled else "white",
        edgecolor=look.ink,
        linewidth=1.2,
        label="life",
    )
    for row in each_row(cutters[cutters["status"] == "right"]):
        speed, start = float(row.speed), float(row.low)
        axes.plot([speed], [start], marker="_", markersize=9, markeredgewidth=1.6, color=look.ink, label="at least")
        axes.annotate(
            "",
            xy=(speed, start * 1.28),
            xytext=(speed, start),
            arrowprops={"arrowstyle": "->", "color": look.ink, "linewidth": 1.3, "shrinkA": 0, "shrinkB": 0},
        )
    between = cutters[cutters["status"] == "interval"]
    axes.vlines(between["speed"], between["low"], between["high"], color=look.ink, linewidth=2.5)
