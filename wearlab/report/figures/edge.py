"""Wear along the edge: the mean land of each zone, drawn at its height above the end of the cutter."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from wearlab.core.tables import each_row
from wearlab.report.figures.style import SOFT, Look, darker, fitted, new_figure, shortened, styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def draw_edge(
    table: pd.DataFrame, looks: dict[str, Look], *, x_label: str, y_label: str, narrow: bool = False
) -> Figure:
    """Draw the profile of each group.

    Parameters
    ----------
    table : pandas.DataFrame
        In the units to be shown: `kind` (mean or cutter), `zone`, `group`, `start`, `stop` (ends of the zone above the
        end face), `land`.
    looks : dict of str to Look
        By group.
    x_label, y_label : str
        An empty `y_label` says that the zones have no heights and are drawn one above the other.
    narrow : bool
        For a phone.
    """
    with styled():
        figure = new_figure(280.0, narrow=narrow)
        axes = figure.subplots()
        groups = list(dict.fromkeys(table["group"]))
        for at, group in enumerate(groups):
            _group(axes, table[table["group"] == group], looks[group], at, len(groups), narrow)
        zones = table.drop_duplicates("zone")
        for zone in each_row(zones):
            axes.axhline(float(zone.start), color=SOFT, linewidth=0.7, linestyle=(0, (2, 3)), zorder=1)
            axes.text(
                1.0,
                (float(zone.start) + float(zone.stop)) / 2,
                f"{shortened(str(zone.zone), narrow)} ",
                transform=axes.get_yaxis_transform(),
                ha="right",
                va="center",
                color=SOFT,
                fontsize=9,
            )
        axes.set_ylim(float(zones["start"].min()), float(zones["stop"].max()) * 1.02)
        axes.set_xlim(0, float(table["land"].max()) * 1.25)
        axes.grid(visible=False, axis="y")
        if not y_label:
            axes.set_yticks([])
        axes.set(xlabel=fitted(x_label, narrow), ylabel=fitted(y_label, narrow, 26))
    return figure


def _group(axes: Axes, own: pd.DataFrame, look: Look, at: int, groups: int, narrow: bool) -> None:
    means = own[own["kind"] == "mean"].sort_values("start", kind="stable")
    style = (0, look.dash) if look.dash else "-"
    heights = [height for row in each_row(means) for height in (float(row.start), float(row.stop))]
    lands = [float(land) for land in means["land"] for _ in range(2)]
    axes.plot(lands, heights, color=look.ink, linewidth=2.0, linestyle=style, label=means["group"].iloc[0], zorder=3)
    cutters = own[own["kind"] == "cutter"]
    # Each group's dots keep a height of their own inside the zone, so that they never hide one another.
    place = cutters["start"] + (cutters["stop"] - cutters["start"]) * (at + 1) / (groups + 1)
    axes.plot(
        cutters["land"],
        place,
        linestyle="none",
        marker=look.mark,
        markersize=4.5,
        markeredgecolor=look.ink,
        markerfacecolor=look.ink if look.filled else "white",
        alpha=0.75,
        zorder=4,
    )
    # The name stands where the step is largest, beside its upper end.
    size = means["land"] * (means["stop"] - means["start"])
    largest = means.iloc[int(size.to_numpy().argmax())]
    axes.annotate(
        shortened(str(largest["group"]), narrow),
        xy=(float(largest["land"]), float(largest["stop"])),
        xytext=(6, -7),
        textcoords="offset points",
        va="center",
        color=darker(look.ink),
        fontweight="bold",
        fontsize=9,
    )
