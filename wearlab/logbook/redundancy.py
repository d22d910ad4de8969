"""What is given twice must agree: speeds, feeds, clocks, passes and feature; a gap is named after its factor."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearlab.logbook.draft import Draft
from wearlab.logbook.order import Looks, stretch
from wearlab.logbook.sheet import Floats, Ints
from wearlab.milling.kinematics import cutting_speed_m_min

NOTE_FROM, ERROR_FROM = 0.02, 0.10
"""Relative gap between two statements of one quantity: a note from the first, an error from the second. Printed
catalogue examples disagree with themselves by 1 to 5 % (own count)."""

FACTORS: dict[str, float] = {
    "25.4 (inches and mm)": 25.4,
    "3.28 (feet and metres)": 1 / 0.3048,
    "16.4 (cubic inches and cm3)": 16.387064,
    "10 (the decimal point)": 10.0,
    "60 (seconds and minutes)": 60.0,
    "1000 (um and mm, or mm and m)": 1000.0,
}
"""Slips that the ratio of two statements gives away."""

FACTOR_WITHIN = 0.03
CYCLE = (1.1, 2.5)
"""Minutes that exceed those of the metal by this much throughout are likely cycle time (common practice, no source)."""


GIVEN = (
    "diameter_mm", "teeth", "cutting_speed_m_min", "spindle_rpm", "feed_per_tooth_mm", "feed_per_rev_mm",
    "feed_rate_mm_min", "axial_depth_mm", "radial_width_mm", "strategy", "passes", "feature_depth_mm",
    "feature_width_mm", "allowance_floor_mm", "allowance_wall_mm",
)  # fmt: skip
"""Columns that the comparisons need of each cutter."""


def check_given_twice(draft: Draft, looks: Looks, facts: pd.DataFrame) -> None:
    """Compare everything that the log states twice."""
    for pair in _PAIRS:
        if {pair.name, *pair.given} <= set(facts.columns):
            _compare(draft, looks, facts, pair)
    _passes(draft, looks, facts)
    _clocks(draft, looks, facts)


# ------------------------------------------------------------------ speeds and feeds, one statement a cutter


@dataclass(frozen=True, slots=True)
class _Pair:
    """A quantity that also follows from others."""

    name: str
    given: tuple[str, ...]
    formula: Callable[..., Floats]
    words: str


def _product(*factors: Floats) -> Floats:
    return np.asarray(np.prod(np.vstack(factors), axis=0), dtype=float)


_PAIRS = (
    _Pair("cutting_speed_m_min", ("diameter_mm", "spindle_rpm"), cutting_speed_m_min, "pi D n"),
    _Pair(
        "feed_rate_mm_min", ("feed_per_tooth_mm", "teeth", "spindle_rpm"), _product, "feed per tooth x teeth x rev/min"
    ),
    _Pair("feed_rate_mm_min", ("feed_per_rev_mm", "spindle_rpm"), _product, "feed per revolution x rev/min"),
    _Pair("feed_per_rev_mm", ("feed_per_tooth_mm", "teeth"), _product, "feed per tooth x teeth"),
)


def _compare(draft: Draft, looks: Looks, facts: pd.DataFrame, pair: _Pair) -> None:
    given = {name: facts[name].to_numpy(dtype=float) for name in (pair.name, *pair.given)}
    computed = np.asarray(pair.formula(*(given[name] for name in pair.given)), dtype=float)
    ratio = given[pair.name] / computed
    gap = np.abs(ratio - 1.0)
    for at in np.flatnonzero(np.nan_to_num(gap) > NOTE_FROM):
        name, rows = _cutter_rows(draft, looks, int(at))
        found = f"{pair.name} {given[pair.name][at]:g}, but {pair.words} gives {computed[at]:.4g}"
        if gap[at] < ERROR_FROM:
            draft.note("given_twice", f"{found}: {100 * gap[at]:.0f} % apart", rows, cutter=name, column=pair.name)
            continue
        hint = _cause(facts.iloc[int(at)], float(ratio[at]))
        draft.error(
            "contradiction", rows, found, column=pair.name, allowed="within 10 % of each other", hint=hint, cutter=name
        )


def _cutter_rows(draft: Draft, looks: Looks, at: int) -> tuple[str, Ints]:
    """Name and usable rows of the cutter on a row of the facts."""
    cutter = int(looks.cutter[looks.new_cutter][at])
    rows = looks.rows[stretch(looks.cutter, cutter)]
    return looks.names[cutter], rows[~draft.bad[rows]]


def _cause(row: pd.Series, ratio: float) -> str:
    """Another quantity in the wrong column, the number of teeth, or a factor of units."""
    speed, rpm, rate = (
        float(row.get(name, np.nan)) for name in ("cutting_speed_m_min", "spindle_rpm", "feed_rate_mm_min")
    )
    tooth, rev, teeth = (float(row.get(name, np.nan)) for name in ("feed_per_tooth_mm", "feed_per_rev_mm", "teeth"))
    if _same(speed, rpm):
        return "Are these rev/min in the column of the cutting speed?"
    if _same(tooth, rate):
        return "Is this the feed per minute in the column of the feed per tooth?"
    if _same(tooth, rev) and teeth > 1:
        return "Is this the feed per revolution in the column of the feed per tooth?"
    for factor in (ratio, 1.0 / ratio):
        if teeth > 1 and abs(factor / teeth - 1.0) < FACTOR_WITHIN:
            return f"They differ by {teeth:g}, the number of teeth: per tooth or per revolution?"
    named = factor_words(ratio)
    return (
        f"They differ by a factor of {named}"
        if named
        else "One of them is wrong: leave out the one that was only intended"
    )


def _same(a: float, b: float) -> bool:
    return abs(a - b) < NOTE_FROM * abs(b)


def factor_words(ratio: float) -> str:
    """The factor that a ratio, or its inverse, gives away; empty when it is none of the known ones.

    >>> factor_words(0.0394), factor_words(59.0), factor_words(1.5)
    ('25.4 (inches and mm)', '60 (seconds and minutes)', '')
    """
    if not ratio > 0:
        return ""
    for words, factor in FACTORS.items():
        if min(abs(ratio / factor - 1.0), abs(ratio * factor - 1.0)) < FACTOR_WITHIN:
            return words
    return ""


# ------------------------------------------------------------------ passes and feature


def _passes(draft: Draft, looks: Looks, facts: pd.DataFrame) -> None:
    """Passes x step = feature: layers make its depth, side passes its width; an allowance may be left."""
    rules = (
        ("layered", "axial_depth_mm", "feature_depth_mm", "allowance_floor_mm", "depth"),
        ("side", "radial_width_mm", "feature_width_mm", "allowance_wall_mm", "width"),
    )
    for strategy, step, feature, allowance, words in rules:
        if not {"strategy", "passes", step, feature} <= set(facts.columns):
            continue
        left = facts[allowance].fillna(0.0) if allowance in facts else 0.0
        cut = facts["passes"] * facts[step]
        off = (facts["strategy"] == strategy) & ((cut / facts[feature] - 1.0).abs() > ERROR_FROM)
        off &= (cut / (facts[feature] - left) - 1.0).abs() > ERROR_FROM
        for at in np.flatnonzero(off.to_numpy()):
            row = facts.iloc[int(at)]
            name, rows = _cutter_rows(draft, looks, int(at))
            named = factor_words(float(cut.iloc[int(at)] / row[feature]))
            draft.warn(
                "passes_do_not_fit",
                f"{row['passes']:g} passes of {row[step]:g} mm do not make the {words} of {row[feature]:g} mm",
                rows,
                cutter=name,
                column=step,
                hint=f"They differ by a factor of {named}"
                if named
                else "Is the step, the passes or the feature wrong?",
            )


# ------------------------------------------------------------------ clocks, look by look


def _clocks(draft: Draft, looks: Looks, facts: pd.DataFrame) -> None:
    """Minutes x removal rate = volume, and minutes x feed rate = length, where the log states both."""
    minutes = draft.number("cutting_time_min")
    per_cutter = _rates(facts, looks)
    for clock, words in (("volume_cm3", "removal rate"), ("cut_length_m", "feed rate")):
        if clock in draft.numbers and clock in per_cutter:
            first = np.flatnonzero(looks.new_look)
            rows, cutter = looks.rows[first], looks.cutter[first]
            computed = minutes[rows] * per_cutter[clock][cutter]
            with np.errstate(divide="ignore", invalid="ignore"):
                ratio = computed / draft.number(clock)[rows]
            _judge_clock(
                draft, looks, _ClockPair(clock, words, first, rows, cutter, np.where(computed > 0, ratio, np.nan))
            )


@dataclass(frozen=True, slots=True)
class _ClockPair:
    """Minutes x rate over the other clock, at each look; 1 where they agree. `begin` is where a look begins."""

    clock: str
    words: str
    begin: Ints
    rows: Ints
    cutter: Ints
    ratio: Floats


def _rates(facts: pd.DataFrame, looks: Looks) -> dict[str, Floats]:
    """cm3 and m a minute of each cutter, by index of the cutter."""
    from wearlab.logbook.derive import derive_conditions

    table = derive_conditions(facts)
    index = looks.cutter[looks.new_cutter]
    rates = {"volume_cm3": table["removal_rate_cm3_min"], "cut_length_m": table["feed_rate_mm_min"] / 1000.0}
    result = {}
    for clock, rate in rates.items():
        result[clock] = np.full(len(looks.names), np.nan)
        result[clock][index] = rate.to_numpy(dtype=float)
    return result


def _judge_clock(draft: Draft, looks: Looks, pair: _ClockPair) -> None:
    far = np.abs(np.nan_to_num(pair.ratio, nan=1.0) - 1.0) > NOTE_FROM
    for cutter in np.unique(pair.cutter[far]):
        own = stretch(pair.cutter, cutter)
        own = own[np.isfinite(pair.ratio[own])]
        beyond = np.array([i for i in own if _beyond_rounding(draft, pair, int(i))], dtype=np.int64)
        if not len(beyond):
            continue
        usual = float(np.median(pair.ratio[own]))
        odd = own[np.abs(pair.ratio[own] / usual - 1.0) > ERROR_FROM]
        odd = np.array([i for i in odd if i in beyond], dtype=np.int64)
        if len(own) > 2 and 0 < len(odd) < len(own) / 2:
            _odd_looks(draft, looks, pair, odd, usual)
        if abs(usual - 1.0) > NOTE_FROM and len(beyond) > len(own) / 2:
            _whole_cutter(draft, looks, pair, int(cutter), usual)


def _beyond_rounding(draft: Draft, pair: _ClockPair, at: int) -> bool:
    """Whether a gap is more than the last digits of the two clocks explain."""
    row = int(pair.rows[at])
    slack = sum(half_digit(draft.number(name)[row]) for name in ("cutting_time_min", pair.clock))
    return bool(abs(pair.ratio[at] - 1.0) > NOTE_FROM + slack)


def half_digit(value: float) -> float:
    """Half of the last digit of a number as typed, as a part of the number.

    >>> half_digit(0.5), round(half_digit(43.2), 5)
    (0.1, 0.00116)
    """
    text = f"{value:.10g}"
    decimals = len(text.partition(".")[2]) if "e" not in text else 0
    return 0.5 * 10.0**-decimals / abs(value) if value else 0.0


def _odd_looks(draft: Draft, looks: Looks, pair: _ClockPair, odd: Ints, usual: float) -> None:
    """Looks at which the two clocks disagree while they agree elsewhere: one of the cells is a slip."""
    end = np.append(pair.begin[1:], len(looks.rows))
    ratios = {int(row): float(pair.ratio[i] / usual) for i in odd for row in looks.rows[pair.begin[i] : end[i]]}
    minutes, other = draft.number("cutting_time_min"), draft.number(pair.clock)

    def hint(row: int) -> str:
        named = factor_words(ratios[row])
        return (
            f"They differ by a factor of {named} from the other looks"
            if named
            else "One of the two is a slip at this look"
        )

    draft.error(
        "clocks_disagree",
        list(ratios),
        lambda row: f"{minutes[row]:g} min and {pair.clock} {other[row]:g} do not go together",
        allowed=f"minutes x {pair.words} within 10 % of {pair.clock}",
        hint=hint,
        column=pair.clock,
    )


def _whole_cutter(draft: Draft, looks: Looks, pair: _ClockPair, cutter: int, usual: float) -> None:
    """The two clocks of a cutter disagree by the same factor throughout."""
    rows = looks.rows[stretch(looks.cutter, cutter)]
    name, gap = looks.names[cutter], abs(usual - 1.0)
    found = f"minutes x {pair.words} is {usual:.3g} times {pair.clock} throughout"
    if gap < ERROR_FROM:
        draft.note("given_twice", f"{found}: {100 * gap:.0f} % apart", rows, cutter=name, column=pair.clock)
        return
    named = factor_words(usual)
    if named:
        draft.error("clocks_disagree", rows, found, allowed="within 10 % of each other",
                    hint=f"They differ by a factor of {named}", column=pair.clock, cutter=name)  # fmt: skip
        return
    hint = "Is a clock, the feed or the engagement wrong?"
    if CYCLE[0] <= usual <= CYCLE[1]:
        hint = "Cycle time in the place of time in the metal?"
    draft.warn(
        "clocks_disagree", found, rows, allowed="within 10 % of each other", hint=hint, column=pair.clock, cutter=name
    )
