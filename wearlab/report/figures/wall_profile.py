"""Walls of slots: width by height with the pins standing in it, and both walls by themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from wearlab.core.tables import each_row
from wearlab.report.figures.style import BAND, INK, LIMIT, SOFT, Look, darker, fitted, new_figure, shortened, styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_PANELS = 4


def draw_slots(
    widths: pd.DataFrame,
    predicted: pd.DataFrame,
    pins: pd.DataFrame,
    looks: dict[str, Look],
    *,
    depth: float,
    nominal: float,
    x_label: str,
    y_label: str,
    narrow: bool = False,
) -> Figure:
    """Draw one slot a panel: measured width, predicted width, and each pin standing where it stopped.

    Parameters
    ----------
    widths : pandas.DataFrame
        In the units to be shown: `panel`, `group`, `height`, `width`.
    predicted : pandas.DataFrame
        `panel`, `height`, `width`: corners of the predicted profile.
    pins : pandas.DataFrame
        `panel`, `pin` (size), `measured`, `predicted` (heights; NaN where nothing was predicted), `pin_text`.
    looks : dict of str to Look
        By group.
    depth, nominal : float
        Height of the mouth, and nominal width (NaN where it is not known).
    x_label, y_label : str
    narrow : bool
        For a phone: one panel below the other.
    """
    with styled():
        panels = list(dict.fromkeys(widths["panel"]))[:MOST_PANELS]
        columns = 1 if narrow else min(len(panels), 2)
        rows = -(-len(panels) // columns)
        height = 220.0 * rows if narrow else 330.0 if rows == 1 else 560.0
        figure = new_figure(height, narrow=narrow)
        grid = figure.subplots(rows, columns, sharex=True, sharey=True, squeeze=False).ravel()
        for panel, name in zip(grid, panels, strict=False):
            own = widths[widths["panel"] == name]
            _slot(panel, own, predicted[predicted["panel"] == name], looks[str(own["group"].iloc[0])])
            _pins(panel, pins[pins["panel"] == name], depth)
            panel.set_title(shortened(str(name), narrow, 36))
            if nominal == nominal:
                panel.axvline(nominal, color=LIMIT, linewidth=1.0, zorder=1.5)
        for panel in grid[len(panels) :]:
            panel.set_visible(False)
        everything = pd.concat([widths["width"], predicted["width"], pins["pin"]]).dropna()
        low, high = float(everything.min()), max(float(everything.max()), nominal if nominal == nominal else 0.0)
        margin = 0.14 * (high - low) or 0.001 * high
        grid[0].set_xlim(low - margin, high + margin)
        grid[0].set_ylim(-0.04 * depth, 1.10 * depth)
        grid[0].xaxis.set_major_locator(_few_ticks())
        figure.supxlabel(fitted(x_label, narrow), fontsize=9.5, color=INK)
        figure.supylabel(y_label, fontsize=9.5, color=INK)
    return figure


def _few_ticks() -> object:
    from matplotlib.ticker import MaxNLocator

    return MaxNLocator(4)


def _slot(panel: Axes, own: pd.DataFrame, predicted: pd.DataFrame, look: Look) -> None:
    panel.plot(predicted["width"], predicted["height"], color=SOFT, linewidth=1.6, linestyle=(0, (4, 2)), zorder=2)
    panel.plot(
        own["width"],
        own["height"],
        color=look.ink,
        linewidth=1.3,
        marker=look.mark,
        markersize=5.5,
        markeredgecolor=look.ink,
        markerfacecolor=look.ink if look.filled else "white",
        zorder=3,
    )


def _pins(panel: Axes, pins: pd.DataFrame, depth: float) -> None:
    """Each pin stands on the height at which it stopped and reaches out of the mouth; a ring marks the prediction."""
    top = 1.05 * depth
    for row in each_row(pins):
        foot = float(row.measured)
        panel.plot([row.pin, row.pin], [foot, top], color=BAND, linewidth=7.0, solid_capstyle="butt", zorder=1)
        panel.plot([row.pin, row.pin], [foot, top], color=SOFT, linewidth=0.8, zorder=1.2)
        panel.plot([row.pin], [foot], marker="_", markersize=13, markeredgewidth=2.2, color=INK, zorder=4)
        if row.predicted == row.predicted:
            panel.plot(
                [row.pin],
                [row.predicted],
                marker="o",
                markersize=9,
                markerfacecolor="none",
                markeredgecolor=LIMIT,
                markeredgewidth=1.5,
                linestyle="none",
                zorder=5,
            )
        panel.annotate(
            str(row.pin_text),
            xy=(row.pin, top),
            xytext=(0, 2),
            textcoords="offset points",
            ha="center",
            va="bottom",
            color=SOFT,
            fontsize=8,
        )


def draw_walls(
    table: pd.DataFrame, looks: dict[str, Look], *, x_label: str, y_label: str, narrow: bool = False
) -> Figure:
    """Draw the deviation of the left and of the right wall by height, first slots thin and last slots thick.

    Parameters
    ----------
    table : pandas.DataFrame
        In the units to be shown: `side` (left, right), `group`, `age` (first, last), `height`, `deviation`.
    looks : dict of str to Look
        By group.
    x_label, y_label : str
    narrow : bool
        For a phone.
    """
    with styled():
        figure = new_figure(270.0, narrow=narrow)
        axes = figure.subplots(1, 2, sharey=True)
        most = float(table["deviation"].abs().max()) or 1.0
        for panel, side in zip(axes, ("left", "right"), strict=True):
            for group, look in looks.items():
                for age, width in (("first", 1.0), ("last", 2.2)):
                    own = table[(table["side"] == side) & (table["group"] == group) & (table["age"] == age)]
                    _wall(panel, own.sort_values("height"), look, width)
            panel.axvline(0.0, color=SOFT, linewidth=0.8, zorder=1)
            panel.set_title(f"{side} wall")
            panel.set_xlabel(fitted(x_label, narrow, 18))
            # Metal left stands towards the middle of the slot on both sides.
            panel.set_xlim((-0.35 * most, 1.3 * most) if side == "left" else (1.3 * most, -0.35 * most))
        axes[0].set_ylabel(y_label)
        _group_names(axes[0], table[table["side"] == "left"], looks, most, narrow)
    return figure


def _wall(panel: Axes, own: pd.DataFrame, look: Look, width: float) -> None:
    if own.empty:
        return
    panel.plot(
        own["deviation"],
        own["height"],
        color=look.ink,
        linewidth=width,
        linestyle=(0, look.dash) if look.dash else "-",
        marker=look.mark,
        markersize=4.5 if width > 2 else 3.0,
        markeredgecolor=look.ink,
        markerfacecolor=look.ink if look.filled else "white",
        zorder=3 if width > 2 else 2,
    )


def _group_names(panel: Axes, table: pd.DataFrame, looks: dict[str, Look], most: float, narrow: bool) -> None:
    """Each group's name beside its last slots, where they stand out most; the upper of two that would meet goes up."""
    taken: list[float] = []
    height = float(table["height"].max()) or 1.0
    for group, look in looks.items():
        own = table[(table["group"] == group) & (table["age"] == "last")]
        if own.empty:
            continue
        peak = own.iloc[int(own["deviation"].abs().to_numpy().argmax())]
        y = float(peak["height"]) + 0.06 * height
        while any(abs(y - other) < 0.08 * height for other in taken):
            y += 0.09 * height
        taken.append(y)
        panel.annotate(
            shortened(group, narrow, 12),
            xy=(min(float(peak["deviation"]), 0.95 * most), y),
            xytext=(7, 0),
            textcoords="offset points",
            ha="left",
            va="center",
            color=darker(look.ink),
            fontweight="bold",
            fontsize=9,
            zorder=5,
        )
