"""Share of cutters still good against age: a step curve a group, a mark where a cutter left still good."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from wearlab.report.figures.style import Look, fitted, label_ends, new_figure, styled

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def draw_survival(
    steps: pd.DataFrame, marks: pd.DataFrame, looks: dict[str, Look], *, x_label: str, narrow: bool = False
) -> Figure:
    """Draw the steps.

    Parameters
    ----------
    steps : pandas.DataFrame
        `group`, `age`, `still_good`.
    marks : pandas.DataFrame
        `group`, `age`, `still_good` of cutters that left still good.
    looks : dict of str to Look
        By group.
    x_label : str
    narrow : bool
        For a phone.
    """
    ends: dict[str, tuple[float, float]] = {}
    with styled():
        figure = new_figure(230.0, narrow=narrow)
        axes = figure.subplots()
        for group, own in steps.groupby("group", sort=False):
            look = looks[str(group)]
            left = marks[marks["group"] == group]
            last = max(float(own["age"].max()), float(left["age"].max()) if len(left) else 0.0)
            ages, shares = [*own["age"], last], [*own["still_good"], float(own["still_good"].iloc[-1])]
            axes.plot(ages, shares, drawstyle="steps-post", color=look.ink, dashes=look.dash or (None, None))
            axes.plot(left["age"], left["still_good"], linestyle="none", marker="|", markersize=10, color=look.ink)
            ends[str(group)] = (last, shares[-1])
        axes.set_ylim(-0.03, 1.05)
        axes.set_xlim(0, max(x for x, _ in ends.values()) * 1.02)
        axes.set(xlabel=fitted(x_label, narrow), ylabel="share still good")
        label_ends(axes, ends, looks, 0.08, narrow)
    return figure
