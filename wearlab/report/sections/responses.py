"""Evidence: readings beyond wear and walls that the trial file declares, such as spindle load, roughness or burr."""

from __future__ import annotations

import math
from functools import partial

import pandas as pd

from wearlab.compare.response_trends import ResponseContrast, compare_responses
from wearlab.logbook.columns import CLOCKS
from wearlab.report.analysis import Analysis
from wearlab.report.figures.style import MOST_POINTS, both_svgs
from wearlab.report.figures.wear_curves import draw_wear_curves
from wearlab.report.record import Block, FigureBlock, Paragraph, Section, TableBlock
from wearlab.report.sections.common import group_looks, group_titles, shown_in, with_groups
from wearlab.wear.responses import ResponseTrends, response_trends
from wearlab.words.counting import counted, listed, sentence
from wearlab.words.criteria import clock_words, zone_name
from wearlab.words.labels import Label, label
from wearlab.words.responses import contrast_sentence, name_with_unit, per_clock, response_name
from wearlab.words.rounding import trimmed
from wearlab.words.units import clock_kind, unit_of


def responses_section(analysis: Analysis) -> Section | None:
    """Curves, trends and what sets the practices apart; None where the log holds no declared response."""
    if analysis.trial.responses.empty or analysis.trial.responses["value_mm"].isna().all():
        return None
    clock = analysis.clock if analysis.clock in CLOCKS else ""
    trends = response_trends(analysis.trial, clock)
    groups = {name: [one for one, own in analysis.groups.items() if own == name] for name in analysis.group_names}
    contrasts = compare_responses(trends, groups, analysis.standard, analysis.seed, analysis.level)
    blocks: list[Block] = []
    if contrasts:
        titles = group_titles(analysis)
        texts = tuple(contrast_sentence(one, titles, analysis.level, analysis.units) for one in contrasts)
        blocks.append(Paragraph(texts))
    for measure in dict.fromkeys(trends.points["measure"]):
        blocks += _figure(analysis, trends, str(measure))
    blocks.append(_trends(analysis, trends))
    if contrasts:
        blocks.append(_contrasts(analysis, contrasts))
    return Section("responses", "What else was read", "engineer", tuple(blocks))


def _figure(analysis: Analysis, trends: ResponseTrends, measure: str) -> list[Block]:
    """One figure a response: one panel a zone, one line a cutter; none where there are too many points."""
    points = trends.points[trends.points["measure"] == measure]
    points = with_groups(analysis, points[points[trends.clock].notna()].reset_index(drop=True))
    if points.empty or len(points) > MOST_POINTS or (points["value"] < 0).any():
        return []
    titles, clock = group_titles(analysis), trends.clock
    drawn = points.rename(columns={clock: "age", "value": "land"}).assign(end="", aside=False)
    panel = [zone_name(zone) if zone else response_name(measure) for zone in drawn["zone"]]
    drawn = drawn.assign(zone=panel, group=drawn["group"].map(titles))
    name = unit_of(clock_kind(clock), analysis.units).name
    behind = "" if clock in ("cutting_time_min", "parts") else f", {name}"
    unit = analysis.trial.settings.responses[measure].unit
    draw = partial(
        draw_wear_curves, shown_in(drawn, {"age": clock_kind(clock)}, analysis.units), group_looks(analysis),
        limit=math.nan, limit_text="", limit_zones=(), x_label=f"{clock_words(clock)}{behind}",
        y_label=name_with_unit(measure, unit),
    )  # fmt: skip
    title = sentence(f"{response_name(measure)} of every cutter").removesuffix(".")
    shown = listed([f"“{text}”" for text in titles.values()])
    text = (
        f"{title.removesuffix(' of every cutter')} against use. One line for each of "
        f"{counted(points['cutter'].nunique(), 'cutter')}, told apart by ink, dash and mark for {shown}."
    )
    key = f"response-{measure.replace('_', '-').lower()}"
    svg, phone = both_svgs(draw, key, title, text)
    how = sentence("each point is the mean of the readings of one look; nothing is filled in")
    return [FigureBlock(key, points, svg, title, text, how=how, phone=phone)]


def _trends(analysis: Analysis, trends: ResponseTrends) -> TableBlock:
    frame = with_groups(analysis, trends.to_frame(analysis.level))
    per = per_clock(trends.clock, analysis.units)
    factor = unit_of(clock_kind(trends.clock), analysis.units).factor
    shown = {name: [_plain(value / factor) for value in frame[name]] for name in ("trend", "low", "high")}
    texts = {
        "reading": [name_with_unit(*pair) for pair in zip(frame["measure"], frame["unit"], strict=True)],
        "zone_shown": [zone_name(zone) if zone else "" for zone in frame["zone"]],
        "first_shown": [_plain(value) for value in frame["first"]],
        "last_shown": [_plain(value) for value in frame["last"]],
        "trend_shown": shown["trend"],
        "limits_shown": [f"{a} to {b}" if a and b else "" for a, b in zip(shown["low"], shown["high"], strict=True)],
        "remark": list(frame["why_missing"]),
    }
    labels = {"cutter": label("cutter"), "group": label("group"), "reading": Label("reading")}
    labels |= {"zone_shown": label("zone")} if frame["zone"].ne("").any() else {}
    labels |= {
        "first_shown": Label("first"),
        "last_shown": Label("last"),
        "trend_shown": Label(f"trend {per}"),
        "limits_shown": Label(f"{trimmed(100 * analysis.level, 2)} % range"),
        "readings": label("readings"),
    }
    labels |= {"remark": label("remark")} if frame["why_missing"].ne("").any() else {}
    how = sentence(
        f"least-squares slope on the clock from {trimmed(100 * trends.break_in, 1)} % of the age at the last look on, "
        "without the reading of the new edge, three readings at least; the range is a t interval about the cutter's "
        "own line"
    )
    return TableBlock("response-trends", frame, "Trend of each cutter", labels, texts, how=how)


def _plain(value: float) -> str:
    return f"{value:.4g}" if math.isfinite(value) else ""


def _contrasts(analysis: Analysis, contrasts: tuple[ResponseContrast, ...]) -> TableBlock:
    frame = pd.DataFrame([one.to_dict(analysis.level) for one in contrasts])
    titles = group_titles(analysis)
    factor = unit_of(clock_kind(contrasts[0].clock), analysis.units).factor
    number = {name: [_plain(float(value if value is not None else math.nan) / factor) for value in frame[name]]
              for name in ("trend_a", "trend_b", "difference", "low", "high")}  # fmt: skip
    texts = {
        "reading": [name_with_unit(one.measure, one.unit) for one in contrasts],
        "pair": [f"{titles.get(one.a, one.a)} less {titles.get(one.b, one.b)}" for one in contrasts],
        "a_shown": number["trend_a"],
        "b_shown": number["trend_b"],
        "difference_shown": number["difference"],
        "limits_shown": [f"{a} to {b}" if a and b else "" for a, b in zip(number["low"], number["high"], strict=True)],
        "p_shown": [f"{one.p_value:.2g}" if math.isfinite(one.p_value) else "" for one in contrasts],
        "remark": [one.why_missing for one in contrasts],
    }
    labels = {
        "reading": Label("reading"),
        "pair": label("pair"),
        "n_a": label("n_a"),
        "n_b": label("n_b"),
        "a_shown": Label(f"first, {per_clock(contrasts[0].clock, analysis.units)}"),
        "b_shown": Label("second"),
        "difference_shown": Label("difference"),
        "limits_shown": Label(f"{trimmed(100 * analysis.level, 2)} % range"),
        "p_shown": label("p_value"),
    }
    labels |= {"remark": label("remark")} if any(one.why_missing for one in contrasts) else {}
    how = sentence(
        "mean of the cutters' trends; Welch's t on one slope a cutter; p from the exact permutation of cutters where "
        "that can reach the level and the sides are of one size, else of Welch's t; blocks and other conditions are "
        "not allowed for, nor that several readings were looked at"
    )
    return TableBlock("response-contrasts", frame, "Trends of the groups side by side", labels, texts, how=how)
