"""Wear land against use: one panel a zone, one line a cutter; or median and band where there are too many."""

from __future__ import annotations

import math
from itertools import product
from typing import TYPE_CHECKING, Any

import pandas as pd

from wearlab.core.tables import each_row
from wearlab.report.figures.style import LIMIT, Look, fitted, label_ends, new_figure, shortened, styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PANEL_PT = 165.0
END_MARKS = {"short of the limit": ">", "chipped or broken": "X"}
"""Marks of the last point of a cutter that ended short of the limit."""


def draw_wear_curves(
    table: pd.DataFrame,
    looks: dict[str, Look],
    *,
    limit: float,
    limit_text: str,
    limit_zones: tuple[str, ...],
    x_label: str,
    y_label: str,
    narrow: bool = False,
) -> Figure:
    """Draw the curves.

    Parameters
    ----------
    table : pandas.DataFrame
        One row a point, in the units to be shown: `zone`, `group`, `age`, `land`, and `cutter` with `end` (empty, or
        a word of `END_MARKS` at a cutter's last point) and `aside` (True for a cutter that is drawn faintly); or `low`
        and `high` in place of these for a summary.
    looks : dict of str to Look
        By group.
    limit : float
        Land at which a life ends; NaN draws none.
    limit_text : str
        What stands at the limit's line.
    limit_zones : tuple of str
        Panels that the limit belongs to.
    x_label, y_label : str
    narrow : bool
        For a phone: one panel below the other.
    """
    zones = list(dict.fromkeys(table["zone"]))
    columns = 1 if narrow or len(zones) == 1 else 2
    rows = math.ceil(len(zones) / columns)
    with styled():
        figure = new_figure(PANEL_PT * 1.5 if len(zones) == 1 else PANEL_PT * rows + 20, narrow=narrow)
        panels = figure.subplots(rows, columns, sharex=True, sharey=True, squeeze=False).ravel()
        for panel, zone in zip(panels, zones, strict=False):
            own = table[table["zone"] == zone]
            (_summary if "low" in table else _lines)(panel, own, looks)
            panel.set_title(shortened(str(zone), narrow, 36))
            panel.set(xlabel="", ylabel="")
            if math.isfinite(limit) and zone in limit_zones:
                _limit(panel, limit, limit_text)
        for panel in panels[len(zones) :]:
            panel.set_visible(False)
        panels[0].set_xlim(0, float(table["age"].max()) * 1.28)
        panels[0].set_ylim(0, max(float(table["land"].max()), limit if math.isfinite(limit) else 0.0) * 1.12)
        for panel, zone in zip(panels, zones, strict=False):
            label_ends(panel, _ends(table[table["zone"] == zone]), looks, least_gap=0.09, narrow=narrow)
        figure.supxlabel(fitted(x_label, narrow), fontsize=9.5)
        figure.supylabel(y_label, fontsize=9.5)
    return figure


def _style(look: Look) -> dict[str, Any]:
    return {"color": look.ink, "linestyle": (0, look.dash) if look.dash else "-"}


def _lines(panel: Axes, own: pd.DataFrame, looks: dict[str, Look]) -> None:
    import seaborn as sns

    for (group, look), aside in product(looks.items(), (True, False)):
        part = own[(own["group"] == group) & (own["aside"] == aside)]
        if part.empty:
            continue
        sns.lineplot(
            data=part,
            x="age",
            y="land",
            units="cutter",
            estimator=None,
            ax=panel,
            legend=False,
            marker="" if aside else look.mark,
            alpha=0.4 if aside else 1.0,
            markersize=3.4,
            markerfacecolor=look.ink if look.filled else "white",
            markeredgecolor=look.ink,
            markeredgewidth=0.8,
            linewidth=0.8 if aside else 1.2,
            **_style(look),
        )
    for word, mark in END_MARKS.items():
        ended = own[(own["end"] == word) & ~own["aside"].astype(bool)]
        for name, rows in ended.groupby("group", sort=False):
            panel.plot(
                rows["age"],
                rows["land"],
                linestyle="none",
                marker=mark,
                markersize=7.5,
                markerfacecolor="white",
                markeredgecolor=looks[str(name)].ink,
                markeredgewidth=1.4,
                label=word,
                zorder=5,
            )


def _summary(panel: Axes, own: pd.DataFrame, looks: dict[str, Look]) -> None:
    for group, look in looks.items():
        part = own[own["group"] == group]
        if part.empty:
            continue
        panel.fill_between(part["age"], part["low"], part["high"], color=look.ink, alpha=0.16, linewidth=0)
        panel.plot(part["age"], part["land"], linewidth=1.8, **_style(look))


def _limit(panel: Axes, limit: float, text: str) -> None:
    panel.axhline(limit, color=LIMIT, linewidth=1.2, zorder=1.5)
    panel.annotate(
        text,
        xy=(1.0, limit),
        xycoords=("axes fraction", "data"),
        xytext=(0, 3),
        textcoords="offset points",
        ha="right",
        va="bottom",
        color=LIMIT,
        fontsize=8.5,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5, "alpha": 0.85},
        zorder=6,
    )


def _ends(own: pd.DataFrame) -> dict[str, tuple[float, float]]:
    """Where each group's name goes: at the end of its longest line."""
    kept = own[~own["aside"].astype(bool)] if "aside" in own and not own["aside"].all() else own
    last = kept.sort_values("age", kind="stable").groupby("group", sort=False).tail(1)
    return {str(row.group): (float(row.age), float(row.land)) for row in each_row(last)}
