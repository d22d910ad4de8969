"""What `wearlab compare` prints."""

from __future__ import annotations

import math
from typing import Any

from wearlab.cli import screen


def print_comparison(found: Any, how: str, units: str) -> None:
    """Verdicts first, then the figures behind them, then what was fair."""
    from wearlab.words.fairness import fracture_sentence
    from wearlab.words.verdicts import shift_sentence

    screen.heading(f"By {found.by}, criterion {found.criterion}")
    screen.say(f"Criterion: {how}. A difference under {found.margin:g} times is taken as not worth acting on.")
    for one in found.contrasts:
        screen.say()
        _contrast(one, found.by, units)
    screen.say()
    _groups(found, units)
    for shift in found.shifts:
        screen.say(shift_sentence(shift, found.by, units))
    if found.fractures.groups["fractures"].sum():
        screen.say(fracture_sentence(found.fractures, found.by, units))
    for one in found.interactions:
        screen.say()
        _interaction(one)
    for fair in found.fair.values():
        screen.say()
        _fair(fair)
    for cutter, why in found.left_out:
        screen.say(f"Left out: {cutter} ({why}).")


def _interaction(found: Any) -> None:
    """The ratio within each material."""
    screen.say(
        f"{found.a} over {found.b}, lives, within each {found.within.replace('_', ' ')} (one ratio for all: p "
        f"{screen.number(found.p_value, 2)}; few cutters show little here):"
    )
    columns = [("level", found.within.replace("_", " ")), ("cutters_a", found.a), ("cutters_b", found.b)]
    screen.table(found.ratios, [*columns, ("ratio", "ratio"), ("low", "low"), ("high", "high")])


def _fair(fair: Any) -> None:
    from wearlab.words import fairness

    for text in (
        *fairness.confounded_sentences(fair),
        *fairness.doubt_sentences(fair),
        fairness.matched_sentence(fair),
        fairness.unmatched_sentence(fair),
        fairness.not_compared_sentence(fair),
    ):
        if text:
            screen.say(text)


def _groups(found: Any, units: str) -> None:
    from wearlab.words.labels import life_label, rate_label

    for outcome, own in found.groups.groupby("outcome", sort=False):
        shown = life_label(found.clock, "typical") if outcome == "life" else rate_label(found.clock, "typical")
        names = [("group", str(outcome)), ("zone", "zone"), ("cutters", "cutters"), ("censored", "still good")]
        screen.table(own, [*names, ("estimate", shown)], units=units)
        screen.say()


def _contrast(one: Any, by: str, units: str) -> None:
    from wearlab.words.fairness import note_sentence
    from wearlab.words.rounding import p_text
    from wearlab.words.verdicts import predicted_sentence, verdict_headline, verdict_sentence

    zone = f" in zone {one.zone}" if one.zone else ""
    screen.heading(f"{one.outcome}{zone}, {one.a} over {one.b}: {verdict_headline(one).lower()}")
    screen.say(verdict_sentence(one, by, units))
    if predicted_sentence(one):
        screen.say(predicted_sentence(one))
    if math.isfinite(one.estimate):
        low, high = screen.number(one.interval.low), screen.number(one.interval.high)
        bounded = one.interval.unbounded != "both"
        limits = f"{100 * one.interval.level:g} % interval {low} to {high}" if bounded else "no interval"
        screen.say(f"{one.scale} {one.estimate:.4g}, {limits}; cutters {one.n_a} and {one.n_b}", 2)
    if math.isfinite(one.p_value):
        least = f"; the smallest it could reach is {p_text(one.smallest_p)}" if math.isfinite(one.smallest_p) else ""
        screen.say(f"p {p_text(one.p_value)} ({one.p_method}{least})", 2)
    if math.isfinite(one.smallest_detectable):
        needed = one.cutters_to_settle
        settle = "" if needed is None else f"; cutters a side to settle the margin: {needed}"
        screen.say(f"smallest ratio that this trial would usually show: {one.smallest_detectable:.3g}{settle}", 2)
    screen.say(f"method: {one.method}", 2)
    for note in one.notes:
        screen.say(note_sentence(note, units), 2)
