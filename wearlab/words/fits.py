"""What a tool-life equation says, in the shop's words: how life answers to speed, and what is not known of it."""

from __future__ import annotations

import math

from wearlab.core.errors import WearlabError
from wearlab.core.interval import Interval
from wearlab.fit.factors import SPEED
from wearlab.fit.laws import life_ratio
from wearlab.fit.parameters import Parameter
from wearlab.fit.predict import MARGIN
from wearlab.fit.tool_life import ToolLifeFit
from wearlab.words.counting import agree, counted, grouped, listed, sentence
from wearlab.words.groups import group_name
from wearlab.words.labels import label
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import decimals_for, fixed, kept_apart, quantity, range_text, significant, with_unit
from wearlab.words.units import unit_of

_STEPS = (
    (2.0, "doubling the speed"),
    (1.5, "half as much speed again"),
    (1.25, "a quarter more speed"),
    (1.1, "a tenth more speed"),
)
"""Changes of speed in which n is spoken of: the largest that the trial covered."""
NEARLY = 1.05
"""Speeds tried from 1 to 1.9 are near enough to speak of a doubling."""


def figure(parameter: Parameter) -> str:
    """An estimate with its plausible range."""
    estimate, limits = parameter.estimate, parameter.interval
    decimals = decimals_for(estimate, limits.low, limits.high)
    text = fixed(estimate, decimals)
    return text if limits.unbounded == "both" else f"{text} (plausibly {range_text(limits, decimals)})"


def n_sentence(n: Parameter, tested: tuple[float, float]) -> str:
    """The Taylor exponent and what it means for a change of speed inside the tested range.

    Parameters
    ----------
    n : Parameter
    tested : tuple of float
        Slowest and fastest speed.
    """
    if not math.isfinite(n.estimate):
        return sentence(f"no Taylor exponent: {n.why_missing or 'the reason was not recorded'}")
    if n.why_missing == "held, not fitted":
        return sentence(f"the Taylor exponent was held at n = {significant(n.estimate)} and not fitted to these lives")
    if math.isinf(n.interval.low) and math.isinf(n.interval.high):
        return sentence(
            f"the Taylor exponent comes out at n = {significant(n.estimate, 2)}, with no plausible range: "
            f"{n.why_missing}"
        )
    if math.isinf(n.interval.high):
        low = kept_apart(n.interval.low, 2, (0.0,))
        return sentence(
            f"these speeds do not fix the Taylor exponent: the best guess is n = {significant(n.estimate, 2)}, but "
            f"anything from {low} up fits ({n.why_missing})"
        )
    return f"{sentence(f'the Taylor exponent is n = {figure(n)}')} {_step_sentence(n, tested)}".strip()


def _step_sentence(n: Parameter, tested: tuple[float, float]) -> str:
    covered = tested[1] / tested[0]
    step = next(((ratio, words) for ratio, words in _STEPS if ratio <= covered * NEARLY), None)
    if step is None:
        return ""
    ratio, words = step
    times = 1.0 / life_ratio(ratio, n.estimate)
    limits = Interval(ratio ** (1.0 / n.interval.high), ratio ** (1.0 / n.interval.low), n.interval.level, "")
    decimals = max(decimals_for(times, limits.low, limits.high), 0)
    return sentence(
        f"{words} makes life {kept_apart(times, decimals, (1.0,))} times shorter (plausibly "
        f"{range_text(limits, decimals, (1.0,))} times)"
    )


def speed_sentence(v60: Parameter, tested: tuple[float, float], units: str = "metric") -> str:
    """The speed for an hour of life, or why no figure is given: one far outside the speeds tried is none."""
    if not math.isfinite(v60.estimate):
        return ""
    slowest, fastest = (quantity(one, "speed", units) for one in tested)
    if not tested[0] / (1.0 + MARGIN) <= v60.estimate <= tested[1] * (1.0 + MARGIN):
        return sentence(
            f"no speed is named for a life of 60 minutes: it would lie outside the speeds tried, {slowest} to {fastest}"
        )
    factor = unit_of("speed", units).factor
    limits = v60.interval.map(lambda speed: speed * factor)
    decimals = decimals_for(v60.estimate * factor, limits.low, limits.high)
    speed = with_unit(fixed(v60.estimate * factor, decimals), unit_of("speed", units).name)
    likely = (
        "no plausible range can be given" if limits.unbounded == "both" else f"plausibly {range_text(limits, decimals)}"
    )
    brand = "" if tested[0] <= v60.estimate <= tested[1] else ", just outside the speeds tried"
    return sentence(f"half of the cutters can be expected to last 60 minutes at about {speed} ({likely}){brand}")


def basis_sentence(fit: ToolLifeFit) -> str:
    """How many lives an equation rests on."""
    text = f"the equation rests on {counted(fit.lives, 'life')}"
    if fit.censored:
        known, counts = agree(fit.censored, "is"), agree(fit.censored, "counts")
        text += f", of which {grouped(fit.censored)} {known} known only as a limit and {counts} as one"
    return sentence(text)


def added_sentence(fit: ToolLifeFit) -> str:
    """Groups that entered of their own accord."""
    if not fit.added:
        return ""
    return sentence(
        f"cutters that differ in {listed([label(name).text for name in fit.added])} got a level of their own and "
        "share the answer to speed"
    )


def group_sentence(parameter: Parameter, column: str, group: str, first: str, units: str = "metric") -> str:
    """The ratio of lives of a group beside the first one, at equal settings."""
    return sentence(
        f"at equal settings, life with {label(column).text} “{group_name(column, group, units)}” is "
        f"{figure(parameter)} times that with “{group_name(column, first, units)}”"
    )


def exponent_sentence(parameter: Parameter, column: str) -> str:
    """How life answers to one number other than speed."""
    return sentence(f"life goes as {label(column).text} to the power {figure(parameter)}")


def envelope_sentence(fit: ToolLifeFit, units: str = "metric") -> str:
    """Where the equation holds."""
    parts = []
    for factor in fit.factors:
        if factor.numeric:
            low, high = (
                quantity(float(end), label(factor.column).kind, units) for end in (factor.levels[0], factor.levels[-1])
            )
            parts.append(f"{label(factor.column).text} {low} to {high}")
        else:
            parts.append(f"{label(factor.column).text} {listed([f'“{level}”' for level in factor.levels], last='or')}")
    if not parts:
        return ""
    return sentence(f"it says nothing outside what was tried: {listed(parts)}")


def refusal_sentence(question: str, refusal: WearlabError, units: str = "metric") -> str:
    """A refused question: what was asked, why there is no answer, what to do."""
    text = sentence(f"{question}: {in_plain_words(refusal.found, units)}")
    return f"{text} {sentence(in_plain_words(refusal.hint, units))}".strip() if refusal.hint else text


def speed_range(fit: ToolLifeFit) -> tuple[float, float] | None:
    """Slowest and fastest speed in a fit; None where speed is no factor of it."""
    if SPEED not in fit.used:
        return None
    speeds = fit.used[SPEED].astype(float)
    return float(speeds.min()), float(speeds.max())
