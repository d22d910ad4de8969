"""What `wearlab compare` prints."""

from __future__ import annotations

import math
from typing import Any

from wearlab.cli import screen


def print_comparison(found: Any, how: str, units: str) -> None:
    """Verdicts first, then the figures behind them, then what was fair."""
    from wearlab.words.fairness import family_sentences, fracture_sentence
    from wearlab.words.shifts import shift_beside
    from wearlab.words.verdicts import shift_sentence

    screen.heading(f"By {found.by}, criterion {found.criterion}")
    screen.say(f"Criterion: {how}. A difference under {found.margin:g} times is taken as not worth acting on.")
    for one in found.contrasts:
        screen.say()
        _contrast(one, found.by, units)
    screen.say()
    if found.wall_refusal:
        screen.say(f"Walls are not compared: {found.wall_refusal}.")
    for text in family_sentences(found.families):
        screen.say(text)
    screen.say()
    _groups(found, units)
    for shift in found.shifts:
        screen.say(" ".join((shift_sentence(shift, found.by, units), *shift_beside(shift, found.by, units))))
    if found.fractures.groups["fractures"].sum():
        screen.say(fracture_sentence(found.fractures, found.by, units))
    for one in found.interactions:
        screen.say()
        _interaction(one)
    by_text: dict[tuple[str, ...], list[str]] = {}
    for (a, b), fair in found.fair.items():
        by_text.setdefault(_fair(fair), []).append(f"{a} against {b}")
    for texts, pairs in by_text.items():
        screen.say()
        if len(by_text) > 1:
            screen.say(f"{', '.join(pairs)}:")
        for text in texts:
            screen.say(text)
    for cutter, why in found.left_out:
        screen.say(f"Left out: {cutter} ({why}).")


def _interaction(found: Any) -> None:
    """The ratio within each material."""
    what = "lives" if found.outcome == "life" else "wear rates"
    screen.say(
        f"{found.a} over {found.b}, {what}, within each {found.within.replace('_', ' ')} (one ratio for all: p "
        f"{screen.number(found.p_value, 2)}; few cutters show little here):"
    )
    columns = [("level", found.within.replace("_", " ")), ("cutters_a", found.a), ("cutters_b", found.b)]
    screen.table(found.ratios, [*columns, ("ratio", "ratio"), ("low", "low"), ("high", "high")])


def _fair(fair: Any) -> tuple[str, ...]:
    from wearlab.words import fairness

    texts = (
        *fairness.confounded_sentences(fair),
        *fairness.doubt_sentences(fair),
        fairness.matched_sentence(fair),
        fairness.unmatched_sentence(fair),
        fairness.not_compared_sentence(fair),
    )
    return tuple(text for text in texts if text)


def _groups(found: Any, units: str) -> None:
    from wearlab.words.labels import life_label, rate_label
    from wearlab.words.outcomes import outcome_name

    for (outcome, clock), own in found.groups.groupby(["outcome", "clock"], sort=False):
        names = [("group", "group"), ("zone", "zone"), ("cutters", "cutters")]
        if outcome.startswith("wall"):
            screen.say(f"{own['criterion'].iloc[0]}:".capitalize())
            unit = "mm" if outcome == "wall" else "mm per part" if clock == "parts" else f"mm per {clock}"
            columns = [names[0], names[2], ("estimate", f"typical, {unit}")]
            screen.table(own.assign(estimate=[f"{cell:.4g}" for cell in own["estimate"]]), columns, units=units)
        elif outcome == "rate":
            screen.table(own, [("group", "rate"), *names[1:], ("estimate", rate_label(clock, "typical"))], units=units)
        else:
            shown = [("group", outcome_name(outcome)), *names[1:], ("censored", "still good")]
            screen.table(own, [*shown, ("estimate", life_label(clock, "typical"))], units=units)
        screen.say()


def _contrast(one: Any, by: str, units: str) -> None:
    from wearlab.words.fairness import note_sentence
    from wearlab.words.outcomes import outcome_name
    from wearlab.words.rounding import p_text
    from wearlab.words.verdicts import predicted_sentence, verdict_headline, verdict_sentence

    zone = f" in zone {one.zone}" if one.zone else ""
    title = f"{outcome_name(one.outcome, one.criterion, units)}{zone}, {one.a} over {one.b}"
    verdict = verdict_headline(one).lower()
    if len(title) + len(verdict) + 2 <= screen.WIDTH:
        screen.heading(f"{title}: {verdict}")
    else:
        screen.heading(f"{title}:")
        screen.say(f"{verdict[0].upper()}{verdict[1:]}.")
    screen.say(verdict_sentence(one, by, units))
    if predicted_sentence(one):
        screen.say(predicted_sentence(one))
    bounded = one.interval.unbounded != "both"
    if math.isfinite(one.estimate) or bounded:
        low, high = screen.number(one.interval.low), screen.number(one.interval.high)
        limits = f"{100 * one.interval.level:g} % interval {low} to {high}" if bounded else "no interval"
        estimate = f"{one.estimate:.4g}" if math.isfinite(one.estimate) else "not known"
        screen.say(f"{one.scale} {estimate}{_unit(one)}, {limits}; cutters {one.n_a} and {one.n_b}", 2)
    if math.isfinite(one.p_value):
        screen.say(f"p {p_text(one.p_value)} ({one.p_method}){_exact(one)}", 2)
    alike = one.equivalence.get("p_value")
    if alike is not None:
        margin = f"{one.equivalence['margin']:.4g}{_unit(one)}"
        screen.say(f"alike within {margin}: p {p_text(alike)} (two one-sided tests)", 2)
    if math.isfinite(one.smallest_detectable):
        needed = one.cutters_to_settle
        settle = "" if needed is None else f"; cutters a side to settle the margin: {needed}{_range(one)}"
        kind = "ratio" if one.scale == "ratio" else "difference"
        screen.say(
            f"smallest {kind} that this trial would usually show: {one.smallest_detectable:.3g}{_unit(one)}{settle}", 2
        )
    screen.say(f"method: {one.method}", 2)
    for note in one.notes:
        screen.say(note_sentence(note, units), 2)


def _unit(one: Any) -> str:
    """Unit of a difference of walls; the record is metric."""
    if not one.outcome.startswith("wall"):
        return ""
    return " mm" if one.outcome == "wall" else f" mm per {'part' if one.clock == 'parts' else one.clock}"


def _exact(one: Any) -> str:
    """The exact p of the pair alone, where another p is the one that counts."""
    if not math.isfinite(one.smallest_p):
        return ""
    least = f"the smallest it could reach is {p_text_of(one.smallest_p)}"
    if one.p_method == "exact permutation":
        return f"; {least}"
    return f"; exact permutation of this pair alone {p_text_of(one.p_exact)}, {least}"


def p_text_of(p: float) -> str:
    """A p as text; the words are loaded when something is printed."""
    from wearlab.words.rounding import p_text

    return p_text(p)


def _range(one: Any) -> str:
    if one.settle_low is None or one.settle_low == one.settle_high:
        return ""
    high = "no limit" if one.settle_high is None else str(one.settle_high)
    return f" ({one.settle_low} to {high}, as well as the scatter is known)"
