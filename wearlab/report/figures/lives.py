"""Tool lives: one row a cutter, a dot where its life is known and an arrow where only "at least" is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from wearlab.core.tables import each_row
from wearlab.report.figures.style import Look, darker, fitted, new_figure, shortened, styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_NAMED = 45
"""Cutters beyond which rows are packed and no longer named."""
ROW_PT = 15.0


def draw_lives(table: pd.DataFrame, looks: dict[str, Look], *, x_label: str, narrow: bool = False) -> Figure:
    """Draw the lives.

    Parameters
    ----------
    table : pandas.DataFrame
        One row a cutter, in the units to be shown and in the order of rows from the top: `cutter`, `group`, `name`
        (what stands at the row), `status`, `low`, `high`, `bracket_low`, `bracket_high`.
    looks : dict of str to Look
        By group.
    x_label : str
    narrow : bool
        For a phone.
    """
    groups = list(dict.fromkeys(table["group"]))
    named = len(table) <= MOST_NAMED
    place, heads = _places(table, groups)
    table = table.assign(row=place)
    height = (float(table["row"].max()) + 1.2) * ROW_PT + 40 if named else 110.0 * len(groups) + 50
    with styled():
        figure = new_figure(height, narrow=narrow)
        axes = figure.subplots()
        axes.set_xlim(0, _furthest(table) * 1.12)
        for group in groups:
            _group(axes, table[table["group"] == group], looks[group], named)
        for group, row in heads.items():
            axes.annotate(
                shortened(group, narrow, 40).split("\n")[0],
                xy=(0.0, row),
                xytext=(5, 0 if named else 7),
                textcoords="offset points",
                va="center",
                ha="left",
                color=darker(looks[group].ink),
                fontweight="bold",
            )
        axes.set_ylim(float(table["row"].max()) + 0.8, -0.8)
        axes.set_yticks(
            table["row"] if named else [], [_row_name(str(name), narrow) for name in table["name"]] if named else []
        )
        axes.grid(visible=False, axis="y")
        axes.tick_params(axis="y", length=0)
        axes.set(xlabel=fitted(x_label, narrow), ylabel="" if named else "cutters, shortest life at the top")
    return figure


def _row_name(name: str, narrow: bool) -> str:
    """What stands at a row; on a phone cut to what leaves room for the life."""
    return f"{name[:17]}…" if narrow and len(name) > 18 else name


def _places(table: pd.DataFrame, groups: list[str]) -> tuple[list[float], dict[str, float]]:
    """Row of each cutter, with a free row above each group for its name."""
    place: dict[int, float] = {}
    heads: dict[str, float] = {}
    row = 0.0
    for group in groups:
        heads[group] = row
        for index in table.index[table["group"] == group]:
            row += 1.0
            place[index] = row
        row += 1.4
    return [place[index] for index in table.index], heads


def _furthest(table: pd.DataFrame) -> float:
    """The largest figure that is drawn."""
    ends = table[["low", "high", "bracket_high"]].replace(float("inf"), float("nan"))
    return float(ends.max().max())


def _group(axes: Axes, own: pd.DataFrame, look: Look, named: bool) -> None:
    import seaborn as sns

    face: dict[str, Any] = {"facecolor": look.ink if look.filled else "white", "edgecolor": look.ink, "linewidth": 1.2}
    if named:
        between = own.dropna(subset=["bracket_low", "bracket_high"])
        ends = (between["bracket_low"], between["bracket_high"])
        axes.hlines(between["row"], *ends, color=look.ink, linewidth=3.2, alpha=0.3)
    dots = own[own["status"] == "exact"]
    sns.scatterplot(
        data=dots,
        x="low",
        y="row",
        marker=look.mark,
        s=34 if named else 10,
        ax=axes,
        legend=False,
        zorder=4,
        label="life",
        **face,
    )
    running = own[own["status"] == "right"]
    if named:
        for row in each_row(running):
            _arrow(axes, float(row.low), float(row.row), look)
    else:
        axes.plot(
            running["low"], running["row"], linestyle="none", marker=">", markersize=3, color=look.ink, label="at least"
        )
    for row in each_row(own[own["status"] == "left"]):
        axes.annotate(
            "",
            xy=(0.0, float(row.row)),
            xytext=(float(row.high), float(row.row)),
            arrowprops={"arrowstyle": "->", "color": look.ink},
        )
    between = own[own["status"] == "interval"]
    axes.hlines(between["row"], between["low"], between["high"], color=look.ink, linewidth=3.2)


def _arrow(axes: Axes, start: float, row: float, look: Look) -> None:
    """A life that was still running: a bar at the last look and an arrow onwards."""
    axes.plot([start], [row], marker="|", markersize=9, markeredgewidth=1.6, color=look.ink, label="at least")
    axes.annotate(
        "",
        xy=(start + 0.06 * axes.get_xlim()[1], row),
        xytext=(start, row),
        arrowprops={"arrowstyle": "->", "color": look.ink, "linewidth": 1.4, "shrinkA": 0, "shrinkB": 0},
        annotation_clip=False,
    )
