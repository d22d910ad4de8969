"""A sentence for every verdict of a contrast, and what belongs beside it.

The order is always: which group and how many times, the plausible range, the cutters on each side; and for a trial
that cannot tell, what it could have shown and how many cutters would settle it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from wearlab.compare.contrast import Contrast
from wearlab.compare.zone_shift import ZoneShift
from wearlab.words.counting import agree, counted, grouped, in_words, listed, sentence
from wearlab.words.criteria import zone_words
from wearlab.words.differences import (
    difference_both_ways,
    difference_detectable,
    difference_settle,
    difference_statement,
)
from wearlab.words.groups import cutters_of, group_name
from wearlab.words.outcomes import PHRASES
from wearlab.words.ratios import Turned, turned
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import decimals_for, fixed, quantity, range_text, significant
from wearlab.words.units import clock_kind, unit_of

HEADLINES = {
    "different": "A clear difference",
    "small_but_real": "A real difference, but a small one",
    "alike": "Alike for practical purposes",
    "cannot_tell": "This trial cannot tell",
    None: "No verdict",
}
"""The verdict in two or three words, by the code of the contrast."""


def verdict_headline(contrast: Contrast) -> str:
    """The verdict in a few words; a difference is clear only where all that is plausible of it is worth acting on."""
    if contrast.verdict == "different" and not _clear(contrast):
        return "A difference, of a size that is not settled"
    return HEADLINES[contrast.verdict]


def _clear(contrast: Contrast) -> bool:
    if contrast.scale == "difference":
        least = contrast.equivalence.get("margin") or 0.0
        return contrast.interval.low >= least or contrast.interval.high <= -least
    margin = float(contrast.equivalence.get("margin") or 1.25)
    return contrast.interval.low >= margin or contrast.interval.high <= 1.0 / margin


def verdict_sentence(contrast: Contrast, by: str = "strategy", units: str = "metric") -> str:
    """The verdict of a contrast in plain words, complete.

    Parameters
    ----------
    contrast : Contrast
    by : str
        Column that made the groups.
    units : str
        metric or inch.

    Returns
    -------
    str
        One to four sentences; where the trial cannot tell, with what it could have shown and what would settle it.
    """
    parts = [verdict_statement(contrast, by, units), both_ways_sentence(contrast, by, units)]
    if contrast.verdict == "cannot_tell":
        parts += [detectable_sentence(contrast, units), settle_sentence(contrast, units)]
    return " ".join(part for part in parts if part)


def verdict_statement(contrast: Contrast, by: str = "strategy", units: str = "metric") -> str:
    """The verdict alone, for the first screen; what a trial that cannot tell might hide follows elsewhere."""
    if contrast.verdict is None:
        return _no_verdict(contrast, by, units)
    if contrast.scale == "difference":
        return difference_statement(contrast, by, units)
    write: dict[str, Callable[[Contrast, Turned, str, str], str]] = {
        "different": _different,
        "small_but_real": _small,
        "alike": _alike,
        "cannot_tell": _cannot_tell,
    }
    found = turned(contrast)
    return write[contrast.verdict](
        contrast, found, cutters_of(by, found.ahead, units), cutters_of(by, found.behind, units)
    )


def both_ways_sentence(contrast: Contrast, by: str = "strategy", units: str = "metric") -> str:
    """How far a trial that cannot tell leaves it open, both ways; empty for any other verdict."""
    if contrast.verdict != "cannot_tell":
        return ""
    if contrast.scale == "difference":
        return difference_both_ways(contrast, by, units)
    found = turned(contrast)
    return _both_ways(contrast, found, cutters_of(by, found.ahead, units), cutters_of(by, found.behind, units))


def cannot_tell_apart(contrasts: Sequence[Contrast], by: str = "strategy", units: str = "metric") -> str:
    """Several pairs that a trial cannot tell apart, in one sentence; empty where there are none."""
    pairs = [(one.a, one.b) for one in contrasts if one.verdict == "cannot_tell"]
    if not pairs:
        return ""
    groups = list(dict.fromkeys(group for pair in pairs for group in pair))
    names = {group: f"“{group_name(by, group, units)}”" for group in groups}
    if len(pairs) == len(groups) * (len(groups) - 1) // 2 > 1:
        return sentence(
            f"this trial cannot tell which of {listed(list(names.values()), most=8)} lasts longer than another"
        )
    told = "; ".join(f"{names[a]} or {names[b]}" for a, b in pairs)
    return sentence(f"this trial cannot tell which of two lasts longer: {told}")


def _where(contrast: Contrast) -> str:
    """The zone, where the outcome belongs to one."""
    return f" {zone_words(contrast.zone)}" if contrast.zone else ""


def _did(contrast: Contrast, word: str) -> str:
    """A verb of the outcome, with the zone where it is wear that is spoken of."""
    return f"{getattr(PHRASES[contrast.outcome], word)}{_where_of_wear(contrast)}"


def _where_of_wear(contrast: Contrast) -> str:
    return _where(contrast) if contrast.outcome == "rate" else ""


def _different(contrast: Contrast, found: Turned, ahead: str, behind: str) -> str:
    if found.bound:
        return sentence(
            f"{ahead} {_did(contrast, 'did_more')} than {behind}: {found.about()} {PHRASES[contrast.outcome].times}; "
            f"none of the {ahead} came to its end, so there is a limit and no best guess"
        )
    return sentence(
        f"{ahead} {PHRASES[contrast.outcome].did_more} than {behind}{_where_of_wear(contrast)}: about {found.about()} "
        f"{PHRASES[contrast.outcome].times} (plausibly {found.plausible()} times)"
    )


def _small(contrast: Contrast, found: Turned, ahead: str, behind: str) -> str:
    return sentence(
        f"{ahead} {_did(contrast, 'did_more')} than {behind}, but by little: about {found.about()} times (plausibly "
        f"{found.plausible()} times), which is less than the {significant(found.margin)} times that this trial calls "
        "worth acting on"
    )


def _alike(contrast: Contrast, found: Turned, ahead: str, behind: str) -> str:
    return sentence(
        f"for practical purposes {ahead} and {behind} {_did(contrast, 'alike')}: if they "
        f"differ, it is by less than the {significant(found.margin)} times that this trial calls worth acting on "
        f"(best guess {found.about()} times, plausibly {found.plausible()})"
    )


def _cannot_tell(contrast: Contrast, found: Turned, ahead: str, behind: str) -> str:
    return sentence(f"this trial cannot tell which of {ahead} and {behind} {_did(contrast, 'does_more')}")


def _both_ways(contrast: Contrast, found: Turned, ahead: str, behind: str) -> str:
    words = PHRASES[contrast.outcome]
    low, high = found.low(), found.high()
    ends = [f"up to {high} times {words.how} {behind}"] if high else []
    if low:
        tail = "" if high else f" {words.how} {behind}"
        ends.append(f"{'only' if found.interval.low < 1 else 'at least'} {low} times{tail}")
    guess = (
        "one side never came to its end, so there is no best guess"
        if found.bound
        else f"the best guess is {found.about()} times"
    )
    if not ends:
        return sentence(f"how far apart they are stays open; {guess}")
    return sentence(f"{ahead} might {words.do} {', or '.join(ends)}; {guess}")


def _no_verdict(contrast: Contrast, by: str, units: str) -> str:
    why = in_plain_words(contrast.why_missing or "the reason was not recorded", units)
    text = sentence(f"no verdict: {why}")
    if contrast.scale == "difference" and math.isfinite(contrast.estimate):
        return f"{text} {_difference(contrast, by, units)}"
    if not math.isfinite(contrast.estimate) or min(contrast.n_a, contrast.n_b) < 1:
        return text
    found = turned(contrast)
    ahead = cutters_of(by, found.ahead, units, found.n_ahead)
    behind = cutters_of(by, found.behind, units, found.n_behind)
    verb, how = PHRASES[contrast.outcome].did, PHRASES[contrast.outcome].how
    range_words = "" if contrast.interval.unbounded == "both" else f" (plausibly {found.plausible()})"
    return f"{text} " + sentence(
        f"as a description only: the {in_words(found.n_ahead)} {ahead} {verb} {found.about()} times{range_words} "
        f"{how} the {in_words(found.n_behind)} {behind}"
    )


def _difference(contrast: Contrast, by: str, units: str) -> str:
    """A difference of rates or walls, in the reader's unit."""
    if contrast.outcome.startswith("wall"):
        told = difference_statement(replace(contrast, verdict="different"), by, units)
        return f"As a description only: {_lower(told)}"
    faster, slower = (contrast.a, contrast.b) if contrast.estimate > 0 else (contrast.b, contrast.a)
    unit = unit_of(f"land_per_{clock_kind(contrast.clock)}", units)
    interval = contrast.interval if contrast.estimate > 0 else contrast.interval.map(lambda x: -x)
    shown = interval.map(lambda x: x * unit.factor)
    estimate = abs(contrast.estimate) * unit.factor
    decimals = decimals_for(estimate, shown.low, shown.high)
    likely = "" if shown.unbounded == "both" else f" (plausibly {range_text(shown, decimals, (0.0,))})"
    return sentence(
        f"{cutters_of(by, faster, units)} wore faster than {cutters_of(by, slower, units)}{_where(contrast)}, by "
        f"{fixed(estimate, decimals)} {unit.name}{likely}"
    )


def _lower(text: str) -> str:
    return text[0].lower() + text[1:]


def detectable_sentence(contrast: Contrast, units: str = "metric") -> str:
    """What a trial of this size and scatter would usually have shown."""
    ratio = contrast.smallest_detectable
    cutters = _sides(contrast)
    if contrast.scale == "difference" and contrast.outcome.startswith("wall"):
        return difference_detectable(contrast, cutters, units)
    if math.isinf(ratio) and math.isfinite(contrast.sigma):
        return sentence(
            f"with {cutters}, one side of which never came to its end, what this trial could have shown is not known"
        )
    if not math.isfinite(ratio):
        return sentence(
            f"with {cutters} the scatter between cutters cannot be judged, so what this trial could have shown is "
            "not known"
        )
    return sentence(
        f"with {cutters} and the scatter seen, a difference of {significant(ratio, 2 if ratio < 10 else 1)} times or "
        "more would have shown in four trials out of five; a smaller one would often have been missed"
    )


def detectable_of_many(contrasts: Sequence[Contrast]) -> str:
    """What a trial of several pairs would usually have shown, over all of them; empty where it is not known."""
    ratios = sorted(one.smallest_detectable for one in contrasts if math.isfinite(one.smallest_detectable))
    if not ratios:
        return ""
    low, high = (significant(ratio, 2) for ratio in (ratios[0], ratios[-1]))
    shown = f"{low} times or more" if low == high else f"{low} to {high} times or more, depending on the pair,"
    return sentence(
        f"with these cutters and the scatter seen, a difference of {shown} would have shown in four trials out of "
        "five; a smaller one would often have been missed"
    )


def rests_on_many(contrasts: Sequence[Contrast]) -> str:
    """How many cutters a side the pairs of a trial rest on."""
    sides = sorted(n for one in contrasts for n in (one.n_a, one.n_b))
    low, high = sides[0], sides[-1]
    span = counted(low, "cutter") if low == high else f"{grouped(low)} to {counted(high, 'cutter')}"
    return sentence(
        f"{counted(len(contrasts), 'pair')} of groups, each with {span} on a side; every cutter counts once, however "
        "often it was read"
    )


def settle_sentence(contrast: Contrast, units: str = "metric") -> str:
    """How many cutters a side would settle a difference of the margin, and how well that is known."""
    if contrast.scale == "difference" and contrast.outcome.startswith("wall"):
        return difference_settle(contrast, units)
    margin = significant(float(contrast.equivalence.get("margin") or 1.25))
    if contrast.cutters_to_settle is None:
        return sentence(
            f"how many cutters would settle a difference of {margin} times cannot be worked out from this trial"
        )
    return sentence(
        f"to settle a difference of {margin} times, about {counted(contrast.cutters_to_settle, 'cutter')} on each side "
        f"{agree(contrast.cutters_to_settle, 'is')} needed{_how_sure(contrast)}"
    )


def _how_sure(contrast: Contrast) -> str:
    """The range of a number of cutters that rests on a scatter which few cutters do not know well."""
    low, high = contrast.settle_low, contrast.settle_high
    if low is None or low == high:
        return ""
    most = grouped(high) if high is not None else "very many"
    return f" (anything from {grouped(low)} to {most}: the scatter itself is known no better from so few)"


def rests_on(contrast: Contrast, by: str = "strategy", units: str = "metric") -> str:
    """Cutters on each side, as the sentence that says what a verdict rests on.

    The readings of one cutter are no independent witnesses, so the cutters are what counts.
    """
    parts = [
        f"{grouped(n) if n else 'no'} {cutters_of(by, group, units, n)}"
        for group, n in ((contrast.a, contrast.n_a), (contrast.b, contrast.n_b))
    ]
    return sentence(f"{parts[0]} and {parts[1]}; every cutter counts once, however often it was read")


def _sides(contrast: Contrast) -> str:
    if contrast.n_a == contrast.n_b:
        return f"{counted(contrast.n_a, 'cutter')} on each side"
    return f"{counted(contrast.n_a, 'cutter')} against {grouped(contrast.n_b)}"


def typical_sentence(
    groups: tuple[str, str],
    lives: tuple[float, float],
    by: str,
    clock: str,
    units: str = "metric",
    parts: tuple[float, float] = (math.nan, math.nan),
) -> str:
    """Typical lives of two groups side by side, in parts too where they are counted; empty where one cannot be had.

    >>> typical_sentence(("side", "layered"), (106.6, 38.3), "strategy", "cutting_time_min", parts=(131.9, 47.4))
    'Half of the “side” cutters can be expected to last 107 min (132 parts), half of the ...'
    """
    if not all(math.isfinite(life) for life in lives):
        return ""
    told = []
    for group, life, made in zip(groups, lives, parts, strict=True):
        beside = f" ({_whole(made, 'parts', units)})" if all(math.isfinite(one) for one in parts) else ""
        told.append((cutters_of(by, group, units), f"{_whole(life, clock_kind(clock), units)}{beside}"))
    (first, long), (second, short) = told
    return sentence(f"half of the {first} can be expected to last {long}, half of the {second} {short}")


def _whole(value: float, kind: str, units: str) -> str:
    """A life without decimals where it is 10 or more."""
    shown = value * unit_of(kind, units).factor
    return quantity(value, kind, units, max(2, len(str(int(shown)))))


def predicted_sentence(contrast: Contrast) -> str:
    """The measured ratio beside the band that edge exposure gives; empty where no band can be had."""
    band = contrast.predicted
    if band is None or band.why_missing or contrast.scale != "ratio" or not math.isfinite(contrast.estimate):
        return ""
    flip = contrast.estimate < 1.0
    low, high = (1.0 / band.high, 1.0 / band.low) if flip else (band.low, band.high)
    limits = (
        f"about {significant(low, 2)} times"
        if significant(low, 2) == significant(high, 2)
        else f"{significant(low, 2)} to {significant(high, 2)} times"
    )
    position = band.position
    if flip:
        position = {"above": "below", "below": "above"}.get(position, position)
    ends = {
        "inside": "the measured figure lies in that band",
        "reaches": "the measured figure lies outside that band, but its plausible range reaches it",
        "above": "the measured figure is larger, which points to something beyond contact, sliding and chip load",
        "below": "the measured figure is smaller, which points to something beyond contact, sliding and chip load",
    }
    if position not in ends:
        return ""
    return sentence(
        f"from the geometry of the cut alone, before any chip was made, {limits} would be expected"
        f"{_where(contrast)}; {ends[position]}"
    )


def shift_sentence(shift: ZoneShift, by: str = "strategy", units: str = "metric") -> str:
    """Whether wear sits elsewhere along the edge."""
    first, second = shift.zones
    age = quantity(shift.age, clock_kind(shift.clock), units)
    a, b = cutters_of(by, shift.a, units), cutters_of(by, shift.b, units)
    if shift.why_missing:
        return sentence(
            f"whether wear moves along the edge cannot be judged: {in_plain_words(shift.why_missing, units)}"
        )
    if shift.scale == "difference":
        shares = [f"{fixed(100 * value, 0)} %" for value in (shift.typical_a, shift.typical_b)]
        limits = shift.interval.map(lambda x: 100 * x if shift.estimate > 0 else -100 * x)
        where = "" if limits.unbounded else f" (plausibly {range_text(limits, 0, (0.0,))} points apart)"
        return sentence(
            f"at {age}, of the land in the {first} and {second} zones together, {shares[0]} sat in the {first} zone "
            f"on {a} and {shares[1]} on {b}{where}"
        )
    decimals = decimals_for(shift.estimate, shift.interval.low, shift.interval.high)
    typical = [significant(value, 2) for value in (shift.typical_a, shift.typical_b)]
    return sentence(
        f"at {age} the land in the {first} zone was {typical[0]} times that in the {second} zone on {a}, and "
        f"{typical[1]} times on {b} (ratio of the two {fixed(shift.estimate, decimals)}, plausibly "
        f"{range_text(shift.interval, decimals, (1.0,))})"
    )
