"""Evidence: how the land grew."""

from __future__ import annotations

import math
from functools import partial

import pandas as pd

from wearlab.core.errors import WearlabError
from wearlab.report.analysis import Analysis
from wearlab.report.figures.style import MOST_POINTS, both_svgs
from wearlab.report.figures.wear_curves import draw_wear_curves
from wearlab.report.record import Block, FigureBlock, Section, Sentence, TableBlock
from wearlab.report.sections.common import compared, group_looks, group_titles, shown_in, with_groups
from wearlab.report.thinned import curve_band
from wearlab.words.counting import counted, listed, sentence
from wearlab.words.criteria import clock_words, limit_words, zone_name
from wearlab.words.labels import label, rate_label
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import trimmed
from wearlab.words.units import clock_kind, unit_of

ZONE_ORDER = ("corner", "lower", "middle", "upper", "end", "notch")
MOST_PANELS = 6


def wear_section(analysis: Analysis) -> Section:
    """Wear curves and rates."""
    points = _points(analysis)
    blocks: list[Block] = []
    if points.empty:
        blocks.append(
            Sentence(sentence("this log holds no wear land that was read at a clock, so there are no wear curves"))
        )
    else:
        blocks += [curves_figure(analysis, points), *_rates(analysis)]
    return Section("wear", "How the wear land grew", "engineer", tuple(blocks))


def measure_of(analysis: Analysis) -> str:
    """The wear measure that the curves show: that of the main criterion where it is a land, else the first read."""
    held = list(dict.fromkeys(analysis.curves.by_zone["measure"])) if len(analysis.curves.by_zone) else []
    wanted = analysis.main.criterion.measure
    return wanted if wanted in held else held[0] if held else ""


def _points(analysis: Analysis) -> pd.DataFrame:
    """One row a point of the curves: `cutter`, `group`, `zone`, the clock, `mean_mm`, `worst_mm`, `end`."""
    table = analysis.curves.by_zone
    columns = ["cutter", "group", "zone", analysis.clock, "mean_mm", "worst_mm", "end"]
    if table.empty:
        return pd.DataFrame(columns=columns)
    own = table[(table["measure"] == measure_of(analysis)) & table[analysis.clock].notna() & table["mean_mm"].notna()]
    zones = sorted(
        own["zone"].unique(), key=lambda zone: ZONE_ORDER.index(zone) if zone in ZONE_ORDER else len(ZONE_ORDER)
    )
    own = own.set_index("zone").loc[zones[:MOST_PANELS]].reset_index() if len(own) else own
    return _with_ends(analysis, with_groups(analysis, own))[columns]


def _with_ends(analysis: Analysis, points: pd.DataFrame) -> pd.DataFrame:
    """Mark the last point of every cutter that ended short of the limit."""
    made = points.assign(end="")
    lives = analysis.main.lives
    if isinstance(lives, WearlabError):
        return made
    table = lives.select(analysis.main.criterion, analysis.clock)
    short = table[table["status"] == "right"].set_index("cutter")["cause"]
    last = made.groupby(["cutter", "zone"], sort=False)[analysis.clock].idxmax()
    for index in last:
        cutter = str(made.at[index, "cutter"])
        if cutter in short.index:
            broken = short[cutter] in ("chipped", "broken", "fracture")
            made.at[index, "end"] = "chipped or broken" if broken else "short of the limit"
    return made


def curves_figure(analysis: Analysis, points: pd.DataFrame) -> FigureBlock:
    """The curves, or their median and band where there are too many points."""
    units, clock = analysis.units, analysis.clock
    criterion = analysis.main.criterion
    titles = group_titles(analysis)
    kept = compared(analysis)
    drawn = points.rename(columns={clock: "age", "mean_mm": "land"}).assign(aside=~points["cutter"].isin(kept))
    drawn = drawn.assign(zone=drawn["zone"].map(zone_name), group=drawn["group"].map(titles))
    summary = len(drawn) > MOST_POINTS
    table = points
    if summary:
        drawn = curve_band(drawn)
        table = drawn.rename(columns={"age": clock, "land": "median_mm", "low": "low_mm", "high": "high_mm"})
    kinds = {"age": clock_kind(clock), "land": "land"} | ({"low": "land", "high": "land"} if summary else {})
    land = criterion.measure == measure_of(analysis)
    limit = criterion.limit * unit_of("land", units).factor if land else math.nan
    draw = partial(
        draw_wear_curves,
        shown_in(drawn, kinds, units),
        group_looks(analysis),
        limit=limit,
        limit_text=f"life ends: {limit_words(criterion, units).split(' (')[0]}" if land else "",
        limit_zones=tuple([zone_name(criterion.zone)] if criterion.zone else drawn["zone"].unique()),
        x_label=f"{clock_words(clock)}{_unit_behind(clock, units)}",
        y_label=label("mean_mm").heading(units),
    )
    title = "Wear land of every cutter" if not summary else "Wear land: median, and the middle four fifths"
    aside = 0 if summary else int(drawn.loc[drawn["aside"], "cutter"].nunique())
    text = _describe(points, summary, titles, aside)
    svg, phone = both_svgs(draw, "wear-curves", title, text)
    return FigureBlock(
        "wear-curves", table, svg, title, text, _key(points, summary, aside), _how(summary, len(points)), phone=phone
    )


def _unit_behind(clock: str, units: str) -> str:
    name = unit_of(clock_kind(clock), units).name
    return "" if clock in ("cutting_time_min", "parts") else f", {name}"


def _describe(points: pd.DataFrame, summary: bool, titles: dict[str, str], aside: int) -> str:
    cutters = points["cutter"].nunique()
    zones = [zone_name(zone) for zone in dict.fromkeys(points["zone"])]
    text = (
        f"Wear land against use, one panel for each zone ({listed(zones)}). "
        f"{'Median and band of' if summary else 'One line for each of'} {counted(cutters, 'cutter')}, told apart by "
        f"ink, dash and mark for {listed([f'“{title}”' for title in titles.values()])}."
    )
    return f"{text} {_key(points, summary, aside)}".strip()


def _key(points: pd.DataFrame, summary: bool, aside: int) -> str:
    """What the marks mean that are not named in the drawing itself."""
    if summary:
        return ""
    held = set(points["end"])
    parts = []
    if "short of the limit" in held:
        parts.append("an open arrowhead marks a cutter that ended short of the limit")
    if "chipped or broken" in held:
        parts.append(
            "an open cross one that chipped or broke" if parts else "an open cross marks a cutter that chipped or broke"
        )
    text = sentence(", ".join(parts))
    if aside:
        text += " " + sentence(
            f"thin pale lines are the {counted(aside, 'cutter')} that the comparison leaves out, because the other "
            "side was not run at those conditions"
        )
    return text.strip()


def _how(summary: bool, points: int) -> str:
    text = "each point is the mean over the flutes that were read, repeats averaged first; nothing is filled in"
    if summary:
        text += (
            f"; {counted(points, 'point')} are too many to draw, so each line is the median of a twentieth of the "
            "range of ages and the band runs from the 10 % to the 90 % point"
        )
    return sentence(text)


def _rates(analysis: Analysis) -> list[Block]:
    """Table of rates, beside those with another break-in."""
    first, *beside = analysis.rates
    frame = first.to_frame(analysis.level)
    if frame.empty:
        return []
    keys = ["cutter", "measure", "zone"]
    labels = {
        "cutter": label("cutter"),
        "group": label("group"),
        "zone_shown": label("zone"),
        "rate": rate_label(analysis.clock),
        "low": rate_label(analysis.clock, "from"),
        "high": rate_label(analysis.clock, "to"),
        "readings": label("readings"),
    }
    for other in beside:
        name = f"rate_{round(100 * other.break_in)}"
        values = other.to_frame(analysis.level).set_index(keys)["rate"].rename(name)
        frame = frame.join(values, on=keys)
        labels[name] = rate_label(analysis.clock, f"leaving out {trimmed(100 * other.break_in, 1)} %")
    frame = with_groups(analysis, frame[frame["measure"] == measure_of(analysis)].reset_index(drop=True))
    texts = {"zone_shown": [zone_name(zone) for zone in frame["zone"]]}
    if frame["why_missing"].ne("").any():
        labels["remark"] = label("remark")
        texts["remark"] = [in_plain_words(str(why), analysis.units) for why in frame["why_missing"]]
    share = trimmed(100 * first.break_in, 1)
    how = sentence(
        f"least-squares slope of the mean land, from {share} % of the age at the last reading used, through the first "
        f"reading at or past the limit, three readings at least; the range is a {trimmed(100 * analysis.level, 2)} % "
        "t interval of the readings about one cutter's own line, and says nothing of how cutters differ. Beside it "
        "the same slope with another share of the start left out"
    )
    caption = "Wear rate of each cutter and zone"
    return [TableBlock("wear-rates", frame, caption, labels, texts, how=how)]
