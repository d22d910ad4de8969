"""What `wearlab wear --study` prints of a measurement study."""

from __future__ import annotations

from typing import Any

from wearlab.cli import screen

NAMES = {
    "repeatability": "repeats",
    "operator": "people",
    "interaction": "people by parts",
    "gauge": "one reading, anyone",
    "part": "parts",
}


def print_study(found: Any, rates: Any, clock: str, level: float) -> None:
    """Both analyses side by side, and what the reading error means for a life."""
    screen.say()
    screen.heading("Measurement study")
    _layout(found)
    _components(found.to_frame(level), level)
    if found.anova is not None:
        _judgement(found.anova)
    people = found.readings["operator"].nunique()
    if people <= 2:
        screen.say("Two people or fewer took part: nothing can be said of people.")
    _for_a_life(found, rates, clock, level)


def _layout(found: Any) -> None:
    rows = found.readings
    parts, people = rows["part"].nunique(), rows["operator"].nunique()
    if found.anova is not None:
        screen.say(f"{parts} parts, {people} people, {found.anova.study.repeats} repeats.")
        if found.reml is None:
            screen.say(f"No restricted maximum likelihood (REML), mean squares alone: {found.why_no_reml}.")
        return
    screen.say(
        f"{parts} parts, {people} people, {len(rows)} readings in all. Not complete ({found.why_no_anova}): no mean "
        "squares, restricted maximum likelihood (REML) alone."
    )


def _components(table: Any, level: float) -> None:
    heads = {"anova_mm": "ANOVA", "anova_low": "from", "anova_high": "to"} if table["anova_mm"].notna().any() else {}
    ways = "by mean squares (ANOVA)" if heads else "by REML"
    if table["reml_mm"].notna().any():
        ways = "by mean squares (ANOVA) and by restricted maximum likelihood (REML)" if heads else ways
        heads |= {"reml_mm": "REML", "reml_low": "from", "reml_high": "to"}
    screen.say(f"Standard deviations in um, {ways}, with {100 * level:g} % intervals:")
    screen.say()
    shown = table.assign(component=table["component"].map(NAMES))
    shown[list(heads)] = 1000 * shown[list(heads)]
    screen.table(shown, [("component", "scatter of"), *heads.items()])
    screen.say()


def _judgement(judged: Any) -> None:
    screen.say(f"Two readings of one land may differ by {1000 * judged.difference_mm:.2g} um through chance alone.")
    screen.say(
        f"The gauge takes {100 * judged.share:.0f} % of the scatter in the study (under 10 % good, to 30 % conditional:"
        f" AIAG, Measurement Systems Analysis), {judged.categories:.1f} distinct categories (at least 5)."
    )


def _for_a_life(found: Any, rates: Any, clock: str, level: float) -> None:
    from wearlab.words.labels import clock_kind

    positive = rates.loc[rates["rate"] > 0, "rate"] if len(rates) else rates
    if not len(positive):
        screen.say("The log holds no rising wear curve: nothing is said of a life.")
        return
    typical = float(positive.median())
    unit = {"minutes": "min", "time": "min"}.get(clock_kind(clock), clock_kind(clock))
    if found.reml is None:
        screen.say(
            f"At the typical rate of {1000 * typical:.3g} um per {unit}, people alone make a life uncertain by "
            f"{found.anova.life_error(typical, 4):.2g} {unit} (standard deviation, by mean squares); what the repeats "
            "add is below the resolution."
        )
        return
    one, limits = found.reml.life_error(typical, 1, level)
    four, within = found.reml.life_error(typical, 4, level)
    upper = "no limit" if limits.unbounded else f"{limits.high:.2g}"
    upper_four = "no limit" if within.unbounded else f"{within.high:.2g}"
    screen.say(
        f"At the typical rate of {1000 * typical:.3g} um per {unit}, reading error alone makes a life uncertain by "
        f"{four:.2g} {unit} ({within.low:.2g} to {upper_four}; standard deviation, mean of four flutes read by one "
        f"person), from a single reading by {one:.2g} {unit} ({limits.low:.2g} to {upper})."
    )
    if found.anova is not None:
        screen.say(f"By mean squares: {found.anova.life_error(typical, 4):.2g} {unit} for four flutes.")
