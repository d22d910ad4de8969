"""Figures of the money: the tables they show, what is written in them, and the words for those who cannot see them."""

from __future__ import annotations

import math
from functools import partial

import pandas as pd

from wearlab.core.errors import WearlabError
from wearlab.decide.cost_curve import cost_curve
from wearlab.decide.decision import Decision
from wearlab.report.analysis import Analysis
from wearlab.report.card.sentences import cost_text, per_what
from wearlab.report.figures.money import draw_change_costs, draw_costs, draw_speed_costs
from wearlab.report.figures.style import Look, both_svgs, looks
from wearlab.report.record import FigureBlock
from wearlab.report.sections.common import finite_or_nan, shown_in
from wearlab.words.counting import sentence
from wearlab.words.criteria import clock_words
from wearlab.words.groups import group_name
from wearlab.words.labels import label
from wearlab.words.rounding import quantity, significant, trimmed
from wearlab.words.units import clock_kind, unit_of

MOST_PANELS = 6
"""Panels of a figure; of more practices the tables tell."""
LAW_TEXTS = {"lognormal": "lognormal", "weibull": "Weibull"}


def money_figures(analysis: Analysis) -> tuple[FigureBlock, ...]:
    """Cost of each practice, cost against speed, cost against the change interval: those that can be drawn."""
    found = analysis.decision
    if isinstance(found, WearlabError):
        return ()
    made = (costs_figure(analysis, found), speeds_figure(analysis, found), changes_figure(analysis, found))
    return tuple(one for one in made if one is not None)


def _looks(found: Decision) -> dict[str, Look]:
    return looks([one.group for one in found.practices])


def _named(analysis: Analysis, table: pd.DataFrame, column: str = "group") -> pd.DataFrame:
    return table.assign(**{column: [group_name(analysis.by, str(group), analysis.units) for group in table[column]]})


def _money(found: Decision) -> str:
    return found.shop.currency or "money"


def _per(found: Decision) -> str:
    return per_what(all(one.parts_known for one in found.practices))


def costs_figure(analysis: Analysis, found: Decision) -> FigureBlock | None:
    """A bar for each practice that could be priced; None where none could."""
    table = pd.DataFrame(
        [
            {
                "group": one.group,
                "time": one.cost.time_money,
                "cutters": one.cost.cutter_money,
                "cost": one.cost.per_part,
                "low": one.interval.low,
                "high": one.interval.high,
                "text": cost_text(one, ""),
            }
            for one in found.practices
            if one.cost is not None
        ]
    )
    if table.empty:
        return None
    drawn, inks = _named(analysis, table), _renamed(analysis, _looks(found))
    x_label = f"{_money(found)} {_per(found)}"
    title = "What a part costs" if "part" in _per(found) else "What a cm³ costs"
    legend = (
        "Plain: machine time and changes. Hatched: edges, and what their failures lose. The dot is the mean, the line "
        "across it the plausible range."
    )
    said = "; ".join(f"{row.group} {row.text}" for row in drawn.itertuples())
    description = sentence(f"bars of cost for each practice, {x_label}: {said}")
    how = sentence(
        f"means and ranges at {trimmed(100 * found.level, 2)} % over {found.draws} plausible lives, each practice "
        "changed at its own interval"
    )
    svg, phone = both_svgs(partial(draw_costs, drawn, inks, x_label=x_label), "money-costs", title, description)
    return FigureBlock("money-costs", table.drop(columns="text"), svg, title, description, legend, how, phone=phone)


def speeds_figure(analysis: Analysis, found: Decision) -> FigureBlock | None:
    """Cost against speed for each practice; None where the log does not tell life from speed."""
    choices = {
        group: one for group, one in list(found.speeds.items())[:MOST_PANELS] if math.isfinite(one.least_cost_money)
    }
    if not choices:
        return None
    units = analysis.units
    curves, marks = [], []
    for group, one in choices.items():
        frame = one.to_frame()
        frame = pd.DataFrame({"group": group, "speed": frame["speed_m_min"], "life": frame["life_min"],
                              "cost": frame["cost_per_part"], "tested": frame["tested"]})  # fmt: skip
        curves.append(frame.assign(flat=frame["speed"].between(one.flat_low, one.flat_high)))
        ends, (slow, fast) = one.interval(found.level), one.tested
        more = trimmed(100 * one.within, 2)
        marks.append(
            {
                "group": group, "slow": slow, "fast": fast, "flat_low": one.flat_low, "flat_high": one.flat_high,
                "best": one.least_cost.speed_m_min, "best_low": finite_or_nan(ends.low),
                "best_high": finite_or_nan(ends.high),
                "flat_text": f"at most {more} % more from {_bare(one.flat_low, units)} to "
                f"{quantity(one.flat_high, 'speed', units)}",
                "tested_text": "tested" if fast > slow else f" tested: {quantity(slow, 'speed', units)} only",
            }
        )  # fmt: skip
    table, places = pd.concat(curves, ignore_index=True), pd.DataFrame(marks)
    shown = shown_in(_named(analysis, table), {"speed": "speed"}, units)
    kinds = dict.fromkeys(("slow", "fast", "flat_low", "flat_high", "best", "best_low", "best_high"), "speed")
    at = shown_in(_named(analysis, places), kinds, units)
    title = "Cost against cutting speed"
    legend = (
        "Thick: the flat stretch, where the cost hardly moves. Grey ground: the speeds that were tested; outside them "
        "the curve is dotted and not tested. The line under the lowest point is the plausible range of the cheapest "
        "speed."
    )
    said = "; ".join(
        f"{row.group}: cheapest at {significant(row.best, 3)}, {row.flat_text}" for row in at.itertuples()
    )
    description = sentence(f"curves of cost against cutting speed, feed per tooth and depths held. {said}")
    how = sentence(
        "metal time and cutters that are changed when worn out, by the fitted equation; approach, idle time and "
        "failures before the change are left out"
    )
    draw = partial(
        draw_speed_costs, shown, at, _renamed(analysis, _looks(found)),
        x_label=label("cutting_speed_m_min").heading(units),
        y_label=f"{_money(found)} {_per(found)}",
    )  # fmt: skip
    svg, phone = both_svgs(draw, "money-speeds", title, description)
    return FigureBlock("money-speeds", table, svg, title, description, legend, how, phone=phone)


def changes_figure(analysis: Analysis, found: Decision) -> FigureBlock | None:
    """Cost of cutters against the change interval under both laws; None where no practice could be priced."""
    curves, marks = [], []
    several = [(one, role, change) for one in found.practices for role, change in one.changes][:MOST_PANELS]
    parts = all(change.per_part > 0 for _, _, change in several)
    for one, role, change in several:
        name = group_name(analysis.by, one.group, analysis.units)
        panel = f"{name}, {role}" if role else name
        curve = cost_curve(change, found.level)
        scale = change.per_part if parts else 1.0
        curve[["cost", "low", "high"]] *= scale
        curves.append(curve.assign(panel=panel, law_text=curve["law"].map(LAW_TEXTS)))
        text = "" if change.parts is None else f"change after {change.parts} parts"
        text = text or f"change at {quantity(change.interval, clock_kind(found.clock), analysis.units)}"
        marks.append({"panel": panel, "change": finite_or_nan(change.interval), "text": text})
    if not marks:
        return None
    table, places = pd.concat(curves, ignore_index=True), pd.DataFrame(marks)
    kind = clock_kind(found.clock)
    unit = unit_of(kind, analysis.units)
    drawn = shown_in(table, {"age": kind}, analysis.units)
    at = shown_in(places, {"change": kind}, analysis.units)
    title = "What cutters cost against the change interval"
    legend = (
        "Solid: lognormal law of life; dashed: Weibull law. The ground about each curve is its plausible range. The "
        "upright line is the change that is recommended: with few cutters the shorter of the two laws, in whole parts."
    )
    no_end = [row.panel for row in places.itertuples() if math.isnan(row.change)]
    if no_end:
        legend += " " + sentence(f"no line: no planned change pays ({', '.join(no_end)})")
    said = "; ".join(f"{row.panel}: {row.text}" for row in places.itertuples())
    description = sentence(f"curves of money for cutters, changes and failures against the age at change. {said}")
    how = sentence(
        f"age replacement averaged over plausible laws, range at {trimmed(100 * found.level, 2)} %; machine time while "
        "cutting does not depend on the interval and is left out"
    )
    per = _per(found) if parts else f"a {unit.name}"
    clock = sentence(f"{clock_words(found.clock)} at change, {unit.name}").rstrip(".")
    draw = partial(
        draw_change_costs, drawn, at, x_label=clock,
        y_label=f"cutters, changes and failures, {_money(found)} {per}",
    )  # fmt: skip
    svg, phone = both_svgs(draw, "money-changes", title, description)
    kept = table.drop(columns="law_text").replace({math.inf: math.nan})
    return FigureBlock("money-changes", kept, svg, title, description, legend, how, phone=phone)


def _renamed(analysis: Analysis, inks: dict[str, Look]) -> dict[str, Look]:
    return {group_name(analysis.by, group, analysis.units): look for group, look in inks.items()}


def _bare(speed: float, units: str) -> str:
    return quantity(speed, "speed", units).split(" ")[0]
