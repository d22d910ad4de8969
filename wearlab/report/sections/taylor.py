"""Evidence: how life answers to speed and to other settings."""

from __future__ import annotations

import math
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.errors import WearlabError
from wearlab.fit.factors import SPEED
from wearlab.fit.parameters import Parameter, parameter_frame
from wearlab.fit.predict import predict_life
from wearlab.fit.tool_life import ToolLifeFit
from wearlab.report.analysis import Analysis
from wearlab.report.figures.style import both_svgs, looks
from wearlab.report.figures.taylor import draw_taylor
from wearlab.report.record import Block, FigureBlock, Paragraph, Section, Sentence, TableBlock
from wearlab.report.sections.common import finite_or_nan, shown_in
from wearlab.report.sections.lives import MOST_DRAWN, too_many
from wearlab.report.thinned import evenly_ranked
from wearlab.words.counting import counted, sentence
from wearlab.words.criteria import clock_words
from wearlab.words.fits import (
    added_sentence,
    basis_sentence,
    envelope_sentence,
    exponent_sentence,
    group_sentence,
    n_sentence,
    refusal_sentence,
    speed_range,
    speed_sentence,
)
from wearlab.words.labels import Label, label
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import quantity, significant, trimmed
from wearlab.words.units import clock_kind, unit_of

TITLE = "How life answers to speed"
STEPS = 17
"""Speeds at which line and band are drawn, slowest to fastest."""
PLAIN_NAMES = {
    "n": "exponent n of V·Tⁿ = C",
    "C": "constant C",
    "v60": "speed for 60 minutes",
    "intercept": "ln life where every ln is 0",
    "sigma": "scatter of ln life about the equation",
}


def taylor_section(analysis: Analysis) -> Section:
    """The equation, or why there is none."""
    at = analysis.main
    if isinstance(at.fit, WearlabError):
        text = refusal_sentence("no equation", at.fit, analysis.units)
        if "--" in at.fit.hint:
            text += " These are options of the command wearlab fit."
        return Section("taylor", TITLE, "engineer", (Sentence(text),))
    fit = at.fit
    blocks: list[Block] = [Paragraph(tuple(text for text in _sentences(analysis, fit) if text))]
    figure = taylor_figure(analysis, fit)
    blocks += [figure] if figure is not None else []
    blocks.append(_table(analysis, fit))
    return Section("taylor", TITLE, "engineer", tuple(blocks))


def _sentences(analysis: Analysis, fit: ToolLifeFit) -> list[str]:
    made = {one.name: one for one in analysis.main.parameters}
    tested = speed_range(fit)
    texts = []
    if "n" in made and tested is not None:
        texts.append(n_sentence(made["n"], tested))
        if "v60" in made:
            texts.append(speed_sentence(made["v60"], tested, analysis.units))
    texts += [_factor(analysis, fit, one) for one in analysis.main.parameters]
    return [*texts, basis_sentence(fit), added_sentence(fit), envelope_sentence(fit, analysis.units)]


def _factor(analysis: Analysis, fit: ToolLifeFit, parameter: Parameter) -> str:
    """A sentence for a group or a number other than speed."""
    if parameter.name.startswith("ratio_"):
        column, _, group = parameter.name.removeprefix("ratio_").rstrip("]").partition("[")
        first = next(str(factor.levels[0]) for factor in fit.factors if factor.column == column)
        return group_sentence(parameter, column, group, first, analysis.units)
    column = parameter.name.removeprefix("exponent_")
    if column != parameter.name and column != SPEED:
        return exponent_sentence(parameter, column)
    return ""


def taylor_figure(analysis: Analysis, fit: ToolLifeFit) -> FigureBlock | None:
    """Lives and line against speed; None where speed is no factor or something else than groups varies beside it."""
    numbers = [factor.column for factor in fit.factors if factor.numeric]
    if numbers != [SPEED]:
        return None
    units, clock = analysis.units, analysis.clock
    table = taylor_table(fit, analysis.level)
    kinds = {"speed": "speed"} | dict.fromkeys(("life", "low", "high"), clock_kind(clock))
    groups = list(dict.fromkeys(table["group"]))
    unit = unit_of(clock_kind(clock), units).name
    y_label = f"life, {unit}" if unit != "parts" else "life, parts"
    cutters = table[table["kind"] == "cutter"]
    drawn = pd.concat(
        [evenly_ranked(cutters, ["group", "speed"], "low", MOST_DRAWN), table[table["kind"] == "line"]],
        ignore_index=True,
    )
    draw = partial(
        draw_taylor, shown_in(drawn, kinds, units), looks(groups), x_label=label(SPEED).heading(units), y_label=y_label
    )
    title = "Life against cutting speed"
    slow, fast = (quantity(float(end), "speed", units) for end in (cutters["speed"].min(), cutters["speed"].max()))
    band = "" if fit.why_no_interval else " and the band the plausible range of the middle life"
    legend = sentence(
        f"the line is the equation{band}, drawn only between the slowest and the fastest speed of each group"
    )
    if (cutters["status"] == "right").any():
        legend += " An arrow means “at least”."
    if len(drawn) < len(table):
        legend += " " + too_many(int((drawn["kind"] == "cutter").sum()), len(cutters))
    description = sentence(
        f"lives of {counted(len(cutters), 'cutter')} against cutting speed from {slow} to {fast}, both axes logarithmic"
    )
    description = f"{description} {legend}"
    how = sentence(f"{fit.method}; band at {trimmed(100 * analysis.level, 2)} %")
    svg, phone = both_svgs(draw, "taylor-figure", title, description)
    return FigureBlock(
        "taylor-figure",
        table.replace(math.inf, math.nan),
        svg,
        title,
        description,
        legend,
        how,
        phone=phone,
    )


def taylor_table(fit: ToolLifeFit, level: float) -> pd.DataFrame:
    """Points and line: `kind`, `group`, `cutter`, `speed`, `life`, `low`, `high`, `status`.

    The line of a group runs between its own slowest and fastest speed and no further.
    """
    texts = [factor.column for factor in fit.factors if not factor.numeric]
    used = fit.used.assign(
        group=[" · ".join(str(row[name]) for name in texts) or "all cutters" for _, row in fit.used.iterrows()]
    )
    points = pd.DataFrame(
        {
            "kind": "cutter",
            "group": used["group"],
            "cutter": used["cutter"],
            "speed": used[SPEED].astype(float),
            "life": used["low"].where(used["status"] == "exact"),
            "low": used["low"],
            "high": used["high"],
            "status": used["status"],
        }
    )
    lines = [row for _, own in used.groupby("group", sort=True) for row in _line(fit, own, texts, level)]
    return pd.concat([points, pd.DataFrame(lines, columns=points.columns)], ignore_index=True)


def _line(fit: ToolLifeFit, own: pd.DataFrame, texts: list[str], level: float) -> list[dict[str, Any]]:
    slow, fast = float(own[SPEED].min()), float(own[SPEED].max())
    rows = []
    for speed in np.geomspace(slow, fast, STEPS if fast > slow else 1):
        settings: dict[str, Any] = {SPEED: min(max(float(speed), slow), fast)} | {
            name: own[name].iloc[0] for name in texts
        }
        found = predict_life(fit, settings, level, beyond=True)
        rows.append(
            {
                "kind": "line",
                "group": str(own["group"].iloc[0]),
                "cutter": "",
                "speed": settings[SPEED],
                "life": found.life,
                "low": finite_or_nan(found.interval.low),
                "high": finite_or_nan(found.interval.high),
                "status": "",
            }
        )
    return rows


def _table(analysis: Analysis, fit: ToolLifeFit) -> TableBlock:
    made = analysis.main.parameters
    units = analysis.units
    speed = unit_of("speed", units)
    frame = parameter_frame(made)
    factors = [speed.factor if one.name in ("C", "v60") else 1.0 for one in made]
    texts = {
        "name_shown": [_parameter_name(one, units) for one in made],
        "estimate_shown": [significant(one.estimate * by, 4) for one, by in zip(made, factors, strict=True)],
        "low_shown": [_open(one.interval.low * by, one) for one, by in zip(made, factors, strict=True)],
        "high_shown": [_open(one.interval.high * by, one) for one, by in zip(made, factors, strict=True)],
        "remark": [_remark(analysis, fit, one) for one in made],
    }
    labels = {
        "name_shown": Label("constant"),
        "estimate_shown": Label("estimate"),
        "low_shown": Label("from"),
        "high_shown": Label("to"),
        "remark": Label("remark"),
    }
    how = sentence(
        f"{fit.method}; equation {fit.law.formula} ({fit.law.source}); ranges at {trimmed(100 * analysis.level, 2)} %"
    )
    note = sentence(
        f"life in {clock_words(analysis.clock)}; where a setting doubles, life is multiplied by 2 to the power of "
        "its exponent"
        if any(one.name.startswith("exponent_") for one in made)
        else f"life in {clock_words(analysis.clock)}"
    )
    return TableBlock(
        "equation",
        frame.replace({math.inf: math.nan, -math.inf: math.nan}),
        "Constants of the equation",
        labels,
        texts,
        note=note,
        how=how,
    )


def _parameter_name(parameter: Parameter, units: str) -> str:
    name = parameter.name
    if name in PLAIN_NAMES:
        unit = f", {unit_of('speed', units).name}" if name in ("C", "v60") else ""
        return PLAIN_NAMES[name] + unit
    if name.startswith("exponent_"):
        return f"exponent of {label(name.removeprefix('exponent_')).text}"
    prefix, _, group = name.rstrip("]").partition("[")
    if prefix.startswith("ln_ratio_"):
        return f"ln of the ratio of life, {group}"
    return f"ratio of life, {group}"


def _open(end: float, parameter: Parameter) -> str:
    if parameter.interval.unbounded == "both":
        return ""
    return "open" if math.isinf(end) else significant(end, 4)


def _remark(analysis: Analysis, fit: ToolLifeFit, parameter: Parameter) -> str:
    """Why a range is missing; that C is no speed to run; that a speed lies outside those tried."""
    if parameter.why_missing:
        return in_plain_words(parameter.why_missing, analysis.units)
    tested = speed_range(fit)
    if parameter.name == "C":
        return "a constant of the line, not a speed to run"
    if parameter.name == "v60" and tested is not None and not tested[0] <= parameter.estimate <= tested[1]:
        return "outside the speeds tried: a guess"
    if parameter.name == "sigma" and parameter.interval.unbounded:
        return "no range where some lives are known only as a limit"
    return ""
