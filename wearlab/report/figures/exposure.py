"""Exposure along the edge, and wear by zone as predicted and as measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from wearlab.core.tables import each_row
from wearlab.report.figures.style import BAND, INK, SOFT, Look, darker, fitted, new_figure, shortened, styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def draw_exposure(
    table: pd.DataFrame,
    zones: pd.DataFrame,
    looks: dict[str, Look],
    *,
    panels: dict[str, str],
    y_label: str,
    narrow: bool = False,
) -> Figure:
    """Draw each exposure over the height of the edge, one panel an exposure.

    Parameters
    ----------
    table : pandas.DataFrame
        In the units to be shown: `practice`, `height`, and a column for each panel.
    zones : pandas.DataFrame
        `zone`, `start`, `stop`, and for each panel the greatest mean over the zone of any practice (`practice` and the
        panels' columns), so that work of the end edge at the corner is seen.
    looks : dict of str to Look
        By practice.
    panels : dict of str to str
        Column -> label under its axis.
    y_label : str
    narrow : bool
        For a phone: one panel below the other.
    """
    with styled():
        figure = new_figure(210.0 * len(panels) if narrow else 270.0, narrow=narrow)
        grid = (len(panels), 1) if narrow else (1, len(panels))
        axes = figure.subplots(*grid, sharey=True, squeeze=False).ravel()
        top = float(table["height"].max())
        for at, (panel, (name, label)) in enumerate(zip(axes, panels.items(), strict=True)):
            greatest = max(float(table[name].max()), float(zones[name].max()))
            for practice, look in looks.items():
                own = table[table["practice"] == practice]
                style = (0, look.dash) if look.dash else "-"
                panel.plot(own[name], own["height"], color=look.ink, linewidth=2.0, linestyle=style, zorder=3)
                _corner(panel, zones[zones["practice"] == practice], own, name, look)
            _zones(panel, zones, named=narrow or at == len(panels) - 1, narrow=narrow)
            panel.set_xlim(-0.02 * greatest, 1.25 * greatest or 1.0)
            panel.set_ylim(0, top * 1.02)
            panel.grid(visible=False, axis="y")
            panel.set_xlabel(fitted(label, narrow))
            if at == 0 or narrow:
                panel.set_ylabel(fitted(y_label, narrow, 26))
                _names(panel, table, name, looks, 1.25 * greatest or 1.0, narrow)
    return figure


def _corner(panel: Axes, own: pd.DataFrame, profile: pd.DataFrame, name: str, look: Look) -> None:
    """A mark where a zone's mean is more than its flute: there the end edge adds its own."""
    for row in each_row(own[own["zone"] == "corner"]):
        inside = profile[(profile["height"] >= row.start) & (profile["height"] <= row.stop)]
        mean = float(getattr(row, name))
        if mean > 1.01 * float(inside[name].mean()):
            panel.plot(
                [mean],
                [(float(row.start) + float(row.stop)) / 2],
                marker=look.mark,
                markersize=6,
                markeredgecolor=look.ink,
                markerfacecolor=look.ink if look.filled else "white",
                linestyle="none",
                zorder=4,
            )


def _zones(panel: Axes, zones: pd.DataFrame, *, named: bool, narrow: bool) -> None:
    for zone in each_row(zones.drop_duplicates("zone")):
        panel.axhline(float(zone.start), color=SOFT, linewidth=0.7, linestyle=(0, (2, 3)), zorder=1)
        if named:
            panel.text(
                1.0,
                (float(zone.start) + float(zone.stop)) / 2,
                f"{shortened(str(zone.zone), narrow)} ",
                transform=panel.get_yaxis_transform(),
                ha="right",
                va="center",
                color=SOFT,
                fontsize=9,
            )


def _names(panel: Axes, table: pd.DataFrame, name: str, looks: dict[str, Look], right: float, narrow: bool) -> None:
    """Each practice's name beside the upper end of its line; names at one place step down."""
    taken: list[tuple[float, float]] = []
    top = float(table["height"].max())
    for practice, look in looks.items():
        own = table[(table["practice"] == practice) & (table[name] > 0)]
        x = float(own[name].iloc[-1]) if len(own) else 0.0
        y = (float(own["height"].max()) if len(own) else 0.06 * top) - 0.05 * top
        while any(abs(x - a) < 0.35 * right and abs(y - b) < 0.07 * top for a, b in taken):
            y -= 0.075 * top
        taken.append((x, y))
        panel.annotate(
            shortened(practice, narrow),
            xy=(x, y),
            xytext=(5 if x < 0.6 * right else -5, 0),
            textcoords="offset points",
            ha="left" if x < 0.6 * right else "right",
            va="center",
            color=darker(look.ink),
            fontweight="bold",
            fontsize=9,
            zorder=5,
        )


def draw_zone_wear(table: pd.DataFrame, looks: dict[str, Look], *, x_label: str, narrow: bool = False) -> Figure:
    """Draw the measured rate of every zone over what exposure predicts.

    Parameters
    ----------
    table : pandas.DataFrame
        In the units to be shown, in the order from the top of the figure: `group`, `zone`, `rate`, `low`, `high` (NaN
        where there is no interval), `predicted_low`, `predicted_high`, `reference` (taken as measured).
    looks : dict of str to Look
        By group.
    x_label : str
    narrow : bool
        For a phone: each row's name stands above it.
    """
    with styled():
        rows = len(table)
        figure = new_figure(70.0 + (34.0 if narrow else 24.0) * rows, narrow=narrow)
        axes = figure.subplots()
        zones = list(dict.fromkeys(table["zone"]))
        for at, row in enumerate(each_row(table)):
            _zone_row(
                axes, row, rows - 1 - at - (0.1 if narrow else 0.0), looks[str(row.group)], 0.42 if narrow else 0.62
            )
        edges = [rows - 0.5 - int((table["zone"].isin(zones[: at + 1])).sum()) for at in range(len(zones) - 1)]
        for edge in edges:
            axes.axhline(edge, color=SOFT, linewidth=0.7, linestyle=(0, (2, 3)))
        names = [f"{row.zone}, {row.group}" for row in each_row(table)][::-1]
        axes.set_yticks([] if narrow else range(rows), [] if narrow else names)
        for at, name in enumerate(names if narrow else []):
            axes.text(
                0.01,
                at + 0.42,
                shortened(name, narrow, 40).split("\n")[0],
                transform=axes.get_yaxis_transform(),
                va="center",
                fontsize=9,
                zorder=6,
            )
        axes.tick_params(axis="y", length=0)
        axes.set_ylim(-0.6, rows - (0.3 if narrow else 0.4))
        most = table[["rate", "high", "predicted_high"]].max().max()
        axes.set_xlim(-0.02 * most, 1.08 * most)
        axes.grid(visible=False, axis="y")
        axes.set_xlabel(fitted(x_label, narrow))
    return figure


def _zone_row(axes: Axes, row: object, at: float, look: Look, tall: float) -> None:
    low, high = float(row.predicted_low), float(row.predicted_high)  # type: ignore[attr-defined]
    if high > low:
        axes.barh(at, high - low, left=low, height=tall, color=BAND, edgecolor=SOFT, linewidth=0.6, zorder=1)
    else:
        axes.plot([low, low], [at - tall / 2, at + tall / 2], color=SOFT, linewidth=2.2, zorder=1)
    left, right = float(row.low), float(row.high)  # type: ignore[attr-defined]
    if left == left and right == right:
        axes.plot([left, right], [at, at], color=look.ink, linewidth=1.6, zorder=3)
    axes.plot(
        [float(row.rate)],  # type: ignore[attr-defined]
        [at],
        marker=look.mark,
        markersize=7,
        markeredgecolor=look.ink,
        markerfacecolor=look.ink if look.filled else "white",
        linestyle="none",
        zorder=4,
    )
    if row.reference:  # type: ignore[attr-defined]
        axes.annotate(
            "taken as measured",
            xy=(max(right if right == right else low, low), at),
            xytext=(6, 0),
            textcoords="offset points",
            va="center",
            color=INK,
            fontsize=8.5,
        )
