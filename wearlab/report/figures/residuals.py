"""Residual of each cutter against its leverage."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from wearlab.core.tables import each_row
from wearlab.report.figures.style import INK, LOOKS, SOFT, new_figure, shortened, styled

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MOST_NAMED = 5
"""The cutters furthest off are named."""


def draw_residuals(table: pd.DataFrame, *, narrow: bool = False) -> Figure:
    """Draw a table with `cutter`, `residual` and `leverage`, one row a cutter."""
    import seaborn as sns

    look = LOOKS[0]
    with styled():
        figure = new_figure(210.0, narrow=narrow)
        axes = figure.subplots()
        axes.axhline(0.0, color=SOFT, linewidth=1.0)
        sns.scatterplot(data=table, x="leverage", y="residual", color=look.ink, marker=look.mark, ax=axes, zorder=3)
        order = table["residual"].abs().sort_values(ascending=False).index[:MOST_NAMED]
        middle = (table["leverage"].min() + table["leverage"].max()) / 2
        for row in each_row(table.loc[order]):
            left = float(row.leverage) > middle
            axes.annotate(
                shortened(str(row.cutter), narrow),
                (float(row.leverage), float(row.residual)),
                color=INK,
                fontsize=9,
                xytext=(-6 if left else 6, 0),
                textcoords="offset points",
                va="center",
                ha="right" if left else "left",
            )
        axes.margins(x=0.12, y=0.12)
        axes.set(xlabel="leverage, 0 to 1", ylabel="residual of ln life")
    return figure
