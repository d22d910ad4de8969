"""Money drawn: cost of each practice, cost against speed, and what cutters cost against the change interval."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pandas as pd

from wearlab.core.tables import each_row
from wearlab.report.figures.style import (
    BAND,
    INK,
    LOOKS,
    SOFT,
    Look,
    darker,
    fitted,
    label_ends,
    new_figure,
    shortened,
    styled,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LAW_LOOKS = {"lognormal": LOOKS[0], "weibull": Look(LOOKS[2].ink, (5.0, 2.0), LOOKS[2].mark, True)}
"""How the laws of life look."""
GROUND = {"facecolor": "white", "edgecolor": "none", "pad": 1.5}
"""Ground of a text that stands on a line."""
HEADROOM = 2.2
"""A cost axis ends at this times the least cost: what lies far from it decides nothing."""


def draw_costs(table: pd.DataFrame, looks: dict[str, Look], *, x_label: str, narrow: bool = False) -> Figure:
    """Draw a bar a practice: time plain, cutters hatched, the plausible range as a line across its end.

    Parameters
    ----------
    table : pandas.DataFrame
        `group`, `time`, `cutters`, `cost`, `low`, `high`, `text` (written at the end).
    looks : dict of str to Look
        By group.
    x_label : str
    narrow : bool
        For a phone.
    """
    with styled():
        figure = new_figure(46.0 * len(table) + 52.0, narrow=narrow)
        axes = figure.subplots()
        height = 0.46
        for at, row in enumerate(each_row(table)):
            ink = looks[str(row.group)].ink
            time, cutters = float(row.time), float(row.cutters)
            axes.barh(at, time, height, color=ink, alpha=0.32, edgecolor=ink, linewidth=1.0, label="time")
            axes.barh(at, cutters, height, left=time, color="white", edgecolor=ink, hatch="////", linewidth=1.0,
                      label="cutters")  # fmt: skip
            axes.plot([float(row.low), float(row.high)], [at, at], color=INK, linewidth=1.8, label="range", zorder=4)
            axes.plot(float(row.cost), at, marker="o", color=INK, markersize=5.5, linestyle="none", label="mean",
                      zorder=5)  # fmt: skip
            axes.annotate(str(row.text), (0.0, at - 0.34), xytext=(2, 0), textcoords="offset points", va="bottom",
                          ha="left", fontsize=9, color=darker(ink), fontweight="bold")  # fmt: skip
        axes.set_yticks(range(len(table)), [shortened(str(group), narrow, 12) for group in table["group"]])
        axes.set_ylim(len(table) - 0.5, -0.75)
        axes.set_xlim(0.0, float(table["high"].max()) * 1.06)
        axes.grid(visible=False, axis="y")
        axes.set_xlabel(fitted(x_label, narrow))
    return figure


def draw_speed_costs(
    curves: pd.DataFrame, marks: pd.DataFrame, looks: dict[str, Look], *, x_label: str, y_label: str,
    narrow: bool = False,
) -> Figure:  # fmt: skip
    """Draw one panel a practice: the cost curve, the tested speeds as a grey ground, the flat stretch thick.

    Parameters
    ----------
    curves : pandas.DataFrame
        `group`, `speed`, `cost`, `tested`, `flat`.
    marks : pandas.DataFrame
        One row a group: `slow`, `fast` (tested), `flat_low`, `flat_high`, `best`, `best_low`, `best_high` (NaN where no
        range is known), `flat_text`, `tested_text`.
    looks : dict of str to Look
        By group.
    x_label, y_label : str
    narrow : bool
        For a phone.
    """
    with styled():
        figure = new_figure(150.0 * len(marks) + 40.0, narrow=narrow)
        panels = figure.subplots(len(marks), 1, sharex=True, sharey=True, squeeze=False)[:, 0]
        top = max(float(own["cost"].min()) for _, own in curves.groupby("group")) * HEADROOM
        low = float(curves["cost"].min()) * (0.3 if narrow else 0.6)
        for axes, mark in zip(panels, each_row(marks), strict=True):
            own = curves[curves["group"] == mark.group]
            _speed_panel(axes, own, mark, looks[str(mark.group)], narrow)
            axes.set_ylim(low, top)
        panels[-1].set_xlabel(x_label)
        figure.supylabel(fitted(y_label, narrow, 30), fontsize=9.5)
    return figure


def _speed_panel(axes: Axes, curve: pd.DataFrame, mark: Any, look: Look, narrow: bool) -> None:
    axes.set_title(shortened(str(mark.group), narrow, 30), fontsize=9.5, color=darker(look.ink))
    slow, fast = float(mark.slow), float(mark.fast)
    if fast > slow:
        axes.axvspan(slow, fast, color=BAND, alpha=0.75, linewidth=0, zorder=0, label="tested")
    else:
        axes.axvline(slow, color=SOFT, linewidth=1.2, zorder=0, label="tested")
    axes.text((slow + fast) / 2, 0.96, mark.tested_text, transform=axes.get_xaxis_transform(), ha="center", va="top",
              fontsize=8.5, color=INK, bbox=None if fast > slow else GROUND)  # fmt: skip
    axes.plot(curve["speed"], curve["cost"], color=look.ink, linewidth=1.1, linestyle=(0, (1.5, 1.5)), label="curve")
    inside = curve[curve["tested"]]
    axes.plot(inside["speed"], inside["cost"], color=look.ink, linewidth=1.8, label="curve, tested")
    flat = curve[curve["flat"]]
    axes.plot(flat["speed"], flat["cost"], color=look.ink, linewidth=5.0, alpha=0.45, solid_capstyle="butt",
              label="flat")  # fmt: skip
    least = float(curve["cost"].min())
    axes.plot(float(mark.best), least, marker=look.mark, markersize=6.5, color=look.ink, linestyle="none",
              markerfacecolor=look.ink if look.filled else "white", label="least")  # fmt: skip
    if math.isfinite(float(mark.best_low)):
        under = [least * 0.93, least * 0.93]
        axes.plot([mark.best_low, mark.best_high], under, color=INK, linewidth=1.4, label="range")
    axes.text(0.5, 0.04, fitted(str(mark.flat_text), narrow, 30), transform=axes.transAxes, ha="center", va="bottom",
              fontsize=8.5)  # fmt: skip


def draw_change_costs(
    curves: pd.DataFrame, marks: pd.DataFrame, *, x_label: str, y_label: str, narrow: bool = False
) -> Figure:
    """Draw one panel a cutter of a practice: money against the change interval under each law, with its range.

    Parameters
    ----------
    curves : pandas.DataFrame
        `panel`, `law`, `law_text`, `age`, `cost`, `low`, `high`.
    marks : pandas.DataFrame
        One row a panel: `panel`, `change` (NaN where no planned change pays), `text`, `longest`.
    x_label, y_label : str
    narrow : bool
        For a phone.
    """
    with styled():
        figure = new_figure(165.0 * len(marks) + 40.0, narrow=narrow)
        panels = figure.subplots(len(marks), 1, squeeze=False)[:, 0]
        for axes, mark in zip(panels, each_row(marks), strict=True):
            _change_panel(axes, curves[curves["panel"] == mark.panel], mark, narrow)
        panels[-1].set_xlabel(x_label)
        figure.supylabel(fitted(y_label, narrow, 30), fontsize=9.5)
    return figure


def _change_panel(axes: Axes, curves: pd.DataFrame, mark: Any, narrow: bool) -> None:
    axes.set_title(shortened(str(mark.panel), narrow, 30), fontsize=9.5)
    least, last = float(curves["cost"].min()), float(curves["cost"][curves["age"] == curves["age"].max()].max())
    # The curves end inside the drawing, unless a failure costs so much that their low part would lie flat.
    top = min(max(least * HEADROOM, last * 1.25), 2.0 * least * HEADROOM)
    for law, own in curves.groupby("law", sort=False):
        look = LAW_LOOKS[str(law)]
        ink, dash = look.ink, (0, look.dash) if look.dash else "-"
        axes.fill_between(own["age"], own["low"], own["high"], color=ink, alpha=0.10, linewidth=0, label=f"{law} range")
        for end in ("low", "high"):
            axes.plot(own["age"], own[end], color=ink, linewidth=0.6, linestyle=dash, label=f"{law} {end}")
        axes.plot(own["age"], own["cost"], color=ink, linewidth=1.9, linestyle=dash, label=str(law))
    axes.set_ylim(0.0, top)
    axes.set_xlim(float(curves["age"].min()), float(curves["age"].max()))
    ends = {}
    for _, own in curves[curves["cost"] <= top].groupby("law", sort=False):
        ends[str(own["law_text"].iloc[0])] = (float(own["age"].iloc[-1]), float(own["cost"].iloc[-1]))
    label_ends(axes, ends, {str(own["law_text"].iloc[0]): LAW_LOOKS[str(law)] for law, own in curves.groupby("law")},
               0.13, narrow)  # fmt: skip
    if math.isfinite(float(mark.change)):
        axes.axvline(float(mark.change), color=INK, linewidth=1.1, label="change")
        left = float(mark.change) > float(curves["age"].mean())
        axes.annotate(fitted(str(mark.text), narrow, 18), (float(mark.change), 0.0), xytext=(-5 if left else 5, 6),
                      textcoords="offset points", ha="right" if left else "left", va="bottom", fontsize=9,
                      fontweight="bold")  # fmt: skip
