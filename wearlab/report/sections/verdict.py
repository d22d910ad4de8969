"""The first screen: the verdict, what it rests on, what it could have missed and what is not settled."""

from __future__ import annotations

import math
import re
from functools import partial

import pandas as pd

from wearlab.compare.contrast import Contrast
from wearlab.core.errors import WearlabError
from wearlab.core.tables import each_row
from wearlab.report.analysis import Analysis
from wearlab.report.figures.ratios import draw_ratios
from wearlab.report.figures.style import both_svgs
from wearlab.report.record import Block, FigureBlock, Paragraph, Section, Sentence
from wearlab.report.sections.changes import TITLE as CHANGE_TITLE
from wearlab.report.sections.changes import change_sentences
from wearlab.report.sections.common import (
    compared,
    comparison_of,
    comparison_refusal,
    finite_or_nan,
    main_contrasts,
)
from wearlab.report.sections.money import money_sentences
from wearlab.words.cautions import first_cautions
from wearlab.words.counting import counted, in_words, listed, sentence
from wearlab.words.criteria import criterion_short
from wearlab.words.fairness import confounded_sentences, doubt_sentences
from wearlab.words.findings import doubts_sentence
from wearlab.words.fits import refusal_sentence
from wearlab.words.groups import cutters_of, group_name
from wearlab.words.labels import label
from wearlab.words.lives import censoring_sentence, counted_lives, planned_sentence, rule_sentence, span_sentence
from wearlab.words.planned import plan_doubt
from wearlab.words.ratios import in_favour, turned
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import decimals_for, kept_apart, range_text, significant
from wearlab.words.verdicts import (
    HEADLINES,
    both_ways_sentence,
    cannot_tell_apart,
    detectable_of_many,
    detectable_sentence,
    rests_on,
    rests_on_many,
    settle_sentence,
    typical_sentence,
    verdict_headline,
    verdict_statement,
)

_OPTION = re.compile(r"[:,;]?[^:,;]*--[a-z]")
_ENDS = re.compile(r"(?<=[.?!])\s+")

MOST_ANSWERS = 3
"""Verdicts that stand on the first screen; the others are told of in the evidence."""
MOST_ROWS = 6
"""Pairs that its picture holds."""


def verdict_section(analysis: Analysis) -> Section:
    """The section for whoever decides."""
    contrasts = main_contrasts(analysis)
    blocks: list[Block] = []
    if contrasts:
        blocks += _answers(analysis, contrasts)
        blocks += [figure for figure in (headline_figure(analysis, contrasts),) if figure is not None]
    else:
        blocks += _without_comparison(analysis)
    blocks += [
        Paragraph(money_sentences(analysis), "Money", card=True),
        Paragraph(change_sentences(analysis), CHANGE_TITLE, card=True),
        Paragraph(_rests(analysis, contrasts), "What it rests on", card=True),
        Paragraph(_could_show(analysis, contrasts), "What it could have missed", card=True),
        Paragraph(_open(analysis, contrasts), "What is not settled", card=True, listed=True),
        Paragraph(tuple(caution.text for caution in first_cautions()), "Before you act", card=True),
    ]
    return Section("answer", "The answer", "manager", tuple(blocks))


def _answers(analysis: Analysis, contrasts: list[Contrast]) -> list[Block]:
    """One answer; or of several pairs those with a verdict first, and those without one told together."""
    by, units = analysis_by(analysis), analysis.units
    if len(contrasts) == 1:
        return _single(analysis, contrasts[0])
    blocks: list[Block] = []
    clear = sorted((one for one in contrasts if one.verdict != "cannot_tell"), key=lambda one: one.verdict is None)
    for one in clear[:MOST_ANSWERS]:
        blocks.append(Sentence(verdict_statement(one, by, units), "answer", verdict_headline(one)))
    if len(clear) > MOST_ANSWERS:
        more = counted(len(clear) - MOST_ANSWERS, "more verdict")
        blocks.append(Sentence(sentence(f"{more} on other pairs: in the evidence below"), "lead"))
    together = cannot_tell_apart(contrasts, by, units)
    if together:
        blocks.append(Sentence(together, "answer", HEADLINES["cannot_tell"]))
    return blocks


def _single(analysis: Analysis, contrast: Contrast) -> list[Block]:
    by, units = analysis_by(analysis), analysis.units
    blocks: list[Block] = [Sentence(verdict_statement(contrast, by, units), "answer", verdict_headline(contrast))]
    beside = (both_ways_sentence(contrast, by, units), _typical(analysis, contrast))
    return blocks + [Sentence(text, "lead") for text in beside if text]


def analysis_by(analysis: Analysis) -> str:
    """Column that made the groups, its name in full."""
    comparison = comparison_of(analysis.main)
    return comparison.by if comparison else analysis.by


def without_options(text: str) -> str:
    """A text without the options of a command: whoever decides types none.

    >>> without_options("Nothing was compared. Its cutters differ in work material: try --by work_material.")
    'Nothing was compared. Its cutters differ in work material.'
    """
    kept = [_OPTION.split(one)[0].rstrip(" .:,") for one in _ENDS.split(text) if not one.startswith("--")]
    return " ".join(f"{one}." for one in kept if one)


def _typical(analysis: Analysis, contrast: Contrast) -> str:
    """Typical lives of both groups, where both can be had and were met at the same conditions."""
    comparison = comparison_of(analysis.main)
    if comparison is None or contrast.outcome != "life" or contrast.verdict in (None, "cannot_tell"):
        return ""
    found = turned(contrast)
    pair = (found.ahead, found.behind)
    parts = analysis.main.parts
    return typical_sentence(
        pair,
        _lives_of(comparison.groups, pair),
        comparison.by,
        contrast.clock,
        analysis.units,
        (math.nan, math.nan) if parts is None else _lives_of(parts, pair),
    )


def _lives_of(groups: pd.DataFrame, pair: tuple[str, str]) -> tuple[float, float]:
    """Typical lives of two groups; NaN for one that has none."""
    lives = groups[groups["outcome"] == "life"].set_index("group")["estimate"]
    return float(lives.get(pair[0], math.nan)), float(lives.get(pair[1], math.nan))


def _without_comparison(analysis: Analysis) -> list[Block]:
    at = analysis.main
    blocks: list[Block] = [Sentence(without_options(comparison_refusal(analysis, at)), "answer", "No comparison")]
    if not isinstance(at.lives, WearlabError):
        lives = at.lives.select(at.criterion, analysis.clock)
        text = f"{counted_lives(lives)} {span_sentence(lives, analysis.clock, analysis.units)}".strip()
        blocks.append(Sentence(text, "lead"))
    return blocks


def _rests(analysis: Analysis, contrasts: list[Contrast]) -> tuple[str, ...]:
    at = analysis.main
    by, units = analysis_by(analysis), analysis.units
    parts = [rests_on_many(contrasts)] if len(contrasts) > 1 else [rests_on(one, by, units) for one in contrasts]
    if isinstance(at.lives, WearlabError):
        return (*parts, without_options(refusal_sentence("no tool lives", at.lives, analysis.units)))
    lives = at.lives.select(at.criterion, analysis.clock)
    lives = lives[lives["cutter"].isin(compared(analysis))]
    parts.append(rule_sentence(at.criterion, analysis.units, zone_count(analysis)))
    if not contrasts:
        parts.append(counted_lives(lives))
    parts += [
        censoring_sentence(lives, analysis.clock, analysis.units),
        planned_sentence(at.criterion, analysis.chosen),
    ]
    return tuple(part for part in parts if part)


def zone_count(analysis: Analysis) -> int:
    """Zones of the edge that the log holds."""
    return int(analysis.curves.by_zone["zone"].nunique()) if len(analysis.curves.by_zone) else 0


def _could_show(analysis: Analysis, contrasts: list[Contrast]) -> tuple[str, ...]:
    if not contrasts:
        return (sentence("nothing was compared, so nothing could have been missed"),)
    if len(contrasts) > 1:
        text = detectable_of_many(contrasts)
        return (text or sentence("the scatter between cutters cannot be judged, so this is not known"),)
    return detectable_sentence(contrasts[0]), settle_sentence(contrasts[0])


def _open(analysis: Analysis, contrasts: list[Contrast]) -> tuple[str, ...]:
    """What is not settled: the doubts of the comparison, of the other criteria, of the log, and what was not asked."""
    comparison = comparison_of(analysis.main)
    parts: list[str] = []
    if comparison is not None:
        for fair in comparison.fair.values():
            parts += [*confounded_sentences(fair), *doubt_sentences(fair)]
            if fair.unmatched:
                parts.append(
                    sentence(
                        f"which part of the practice does it: {counted(len(fair.unmatched), 'condition')} of the cut "
                        f"{'differ' if len(fair.unmatched) > 1 else 'differs'} between the two, such as "
                        f"{listed([label(name).text for name in fair.unmatched[:2]])}"
                    )
                )
            elif fair.not_compared:
                parts.append(
                    sentence("whether both sides cut alike: the log does not hold enough of the cut to check it")
                )
    parts += [text for one in contrasts[:1] if (text := _how_far(one))]
    parts += _other_criteria(analysis, contrasts)
    if isinstance(analysis.main.fit, WearlabError):
        parts.append(sentence(f"how life answers to speed: {in_plain_words(analysis.main.fit.found, analysis.units)}"))
    parts.append(doubts_sentence(analysis.whole.findings))
    parts.append(plan_doubt(analysis.held))
    if isinstance(analysis.decision, WearlabError):
        parts.append(sentence("what each practice costs, and when to change a cutter"))
    return tuple(dict.fromkeys(part for part in parts if part))


def _how_far(contrast: Contrast) -> str:
    """A wide range is an open question even where the direction is clear."""
    if contrast.verdict != "different" or contrast.scale != "ratio":
        return ""
    found = turned(contrast)
    if not found.low() or not found.high():
        return sentence("how large the difference is: its plausible range is open on one side")
    if found.interval.high / found.interval.low < found.margin**2:
        return ""
    return sentence(
        f"how large the difference is: anything from {found.low()} to {found.high()} times fits these cutters"
    )


def _other_criteria(analysis: Analysis, contrasts: list[Contrast]) -> list[str]:
    """Criteria at which the verdict comes out otherwise, or cannot be had."""
    if not contrasts:
        return []
    parts = []
    first = contrasts[0]
    for at in analysis.at[1:]:
        comparison = comparison_of(at)
        for one in comparison.contrasts if comparison is not None else ():
            same = (one.a, one.b, one.outcome) == (first.a, first.b, first.outcome)
            if same and not one.exploratory and one.verdict != first.verdict:
                short, found = criterion_short(at.criterion, analysis.units), verdict_headline(one)
                parts.append(
                    sentence(f"with another end of life ({short}) the answer is another: {found[0].lower()}{found[1:]}")
                )
    return parts


def headline_figure(analysis: Analysis, contrasts: list[Contrast]) -> FigureBlock | None:
    """The ratio of the verdict as a picture; None where there is no ratio."""
    chosen = [one for one in contrasts if one.scale == "ratio" and math.isfinite(one.estimate)][:MOST_ROWS]
    if not chosen:
        return None
    table = ratio_table(analysis, chosen, with_predicted=False)
    first = chosen[0]
    by = analysis_by(analysis)
    names = [group_name(by, group, analysis.units) for group in (first.a, first.b)]
    what = "as long" if first.outcome == "life" else "as slowly worn"
    if len(chosen) == 1:
        x_label = f"times {what} as “{names[1]}”"
        drawn = table.assign(name="")
        sides = (f"“{names[1]}” is better", f"“{names[0]}” is better")
    else:
        x_label, drawn, sides = f"times {what}, first over second", table, ("second is better", "first is better")
    title = "How large the difference is"
    shaded = f"differences of less than {significant(analysis.margin)} times are shaded as too small to act on"
    description = " ".join([*(sentence(f"{row.name}: {row.shown}") for row in each_row(table)), sentence(shaded)])
    draw = partial(
        draw_ratios, drawn, margin=analysis.margin, x_label=x_label, worse=sides[0], better=sides[1], small=True
    )
    svg, phone = both_svgs(draw, "headline", title, description)
    return FigureBlock("headline", table, svg, title, description, small=True, phone=phone)


def ratio_table(analysis: Analysis, contrasts: list[Contrast], with_predicted: bool = True) -> pd.DataFrame:
    """One row a contrast, turned so that above 1 speaks for the first group: name, words, estimate and limits."""
    rows = []
    for one in contrasts:
        estimate, interval = in_favour(one)
        decimals = max(decimals_for(estimate, interval.low, interval.high), 0)
        about = kept_apart(estimate, decimals, (1.0, analysis.margin))
        likely = "" if interval.unbounded == "both" else f" ({range_text(interval, decimals, (1.0, analysis.margin))})"
        row = {
            "name": _pair_name(analysis, one),
            "shown": f"{about} times{likely}",
            "estimate": estimate,
            "low": finite_or_nan(interval.low),
            "high": interval.high,
        }
        if with_predicted and one.predicted is not None and not one.predicted.why_missing:
            ends = (one.predicted.low, one.predicted.high)
            low, high = ends if one.outcome == "life" else (1.0 / ends[1], 1.0 / ends[0])
            row |= {"predicted_low": low, "predicted_high": high}
        rows.append(row)
    return pd.DataFrame(rows)


def _pair_name(analysis: Analysis, contrast: Contrast) -> str:
    by = analysis_by(analysis)
    a, b = (group_name(by, group, analysis.units) for group in (contrast.a, contrast.b))
    zone = f", {contrast.zone}" if contrast.zone else ""
    return f"“{a}” over “{b}”, {'life' if contrast.outcome == 'life' else 'slowness of wear'}{zone}"


def headline_title(analysis: Analysis) -> str:
    """Title of the report: the trial's own question, else one made from what was compared."""
    if analysis.trial.settings.question:
        return analysis.trial.settings.question
    contrasts = main_contrasts(analysis)
    if not contrasts:
        return sentence("what this wear trial shows").rstrip(".")
    by = analysis_by(analysis)
    names = list(dict.fromkeys(group for one in contrasts for group in (one.a, one.b)))
    if len(names) == 2:
        first, second = (cutters_of(by, name, analysis.units) for name in names)
        return f"Which lasts longer: {first} or {second}?"
    return f"Which of {in_words(len(names))} groups by {label(by).text} lasts longest?"
