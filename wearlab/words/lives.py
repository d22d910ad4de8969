"""Tool lives in sentences: how many cutters got there, how many did not and what they count as."""

from __future__ import annotations

import math

import pandas as pd

from wearlab.logbook.criterion import Criterion
from wearlab.words.counting import agree, counted, grouped, listed, sentence
from wearlab.words.criteria import criterion_words
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import MISSING, quantity
from wearlab.words.units import clock_kind

END_STATUS_WORDS = {"exact": "ran until worn out", "right": "ended before it was worn out"}
"""What a status means where the life ends with the run."""

STATUS_WORDS = {
    "exact": "reached the limit",
    "interval": "between two looks",
    "left": "already past it at the first look",
    "right": "still short of the limit when last seen",
    "none": "no life can be had",
}
"""What a status means."""

ENDS = {
    "worn": "worn",
    "size": "out of size",
    "chipped": "chipped",
    "broken": "broken",
    "fracture": "chipped or broken",
    "withdrawn": "taken out still good",
    "budget": "trial ended",
    "pulled_out": "pulled out of the holder",
    "lost": "lost",
}
"""Why a run ended."""


def status_words(status: str, criterion: str) -> str:
    """What a status means at a criterion.

    >>> status_words("right", "end"), status_words("exact", "VB=0.3mm")
    ('ended before it was worn out', 'reached the limit')
    """
    if criterion == "end" and status in END_STATUS_WORDS:
        return END_STATUS_WORDS[status]
    return STATUS_WORDS.get(status, status)


def rule_sentence(criterion: Criterion, units: str = "metric", zones: int = 2) -> str:
    """When a life ends; `zones` is how many zones of the edge the log holds."""
    return sentence(f"a life ends when {criterion_words(criterion, units, zones)}")


def planned_sentence(criterion: Criterion, chosen: str) -> str:
    """Whether the criterion was written down before the trial."""
    if criterion.planned:
        return sentence("this criterion stood in the trial file before the answer was known")
    if chosen.startswith("default"):
        return sentence(
            f"nobody wrote a criterion down for this trial, so a usual one was taken ({chosen.partition(': ')[2]})"
        )
    return sentence("this criterion was chosen afterwards; it did not stand in the trial file")


def counted_lives(lives: pd.DataFrame) -> str:
    """How many of the cutters came to the end of their life.

    Parameters
    ----------
    lives : pandas.DataFrame
        Lives at one criterion on one clock, as `ToolLives.select`: `criterion`, `status`.
    """
    what = "ran until worn out" if _is_end(lives) else "reached the limit"
    never = "did not run until worn out" if _is_end(lives) else "did not reach the limit"
    total = len(lives)
    reached = int(lives["status"].isin(["exact", "interval", "left"]).sum())
    if total == 1:
        return sentence(f"the only cutter {what if reached else never}")
    if reached == total:
        return sentence(f"{'both' if total == 2 else f'all {grouped(total)}'} cutters {what}")
    if reached == 0:
        return sentence(f"{'neither of the two' if total == 2 else f'none of the {grouped(total)}'} cutters {what}")
    return sentence(f"{grouped(reached)} of {grouped(total)} cutters {what}")


def _is_end(lives: pd.DataFrame) -> bool:
    """Whether a life here ends with the run, and not at a limit."""
    return bool(len(lives)) and bool((lives["criterion"] == "end").all())


def censoring_sentence(lives: pd.DataFrame, clock: str, units: str = "metric") -> str:
    """Cutters that ended short of the limit: how many, why, and what they count as; empty where there are none."""
    short = lives[lives["status"] == "right"]
    if short.empty:
        return ""
    causes = [ENDS.get(cause, cause) or "last seen still short of it" for cause in short["cause"]]
    counts = {cause: causes.count(cause) for cause in dict.fromkeys(causes)}
    why = listed([f"{grouped(count)} {cause}" if len(counts) > 1 else cause for cause, count in counts.items()])
    shortest, longest = (
        quantity(float(end), clock_kind(clock), units) for end in (short["low"].min(), short["low"].max())
    )
    at_least = (
        f"“at least {shortest}”"
        if len(short) == 1 or shortest == longest
        else f"“at least” lives, from {shortest} to {longest}"
    )
    total = len(lives)
    ended = "ended before they were worn out" if _is_end(lives) else "ended short of the limit"
    return sentence(
        f"{grouped(len(short))} of {counted(total, 'cutter')} {ended} ({why}); {agree(len(short), 'it')} "
        f"{agree(len(short), 'counts')} as {at_least}, not as {'a life' if len(short) == 1 else 'lives'} and not as "
        "nothing"
    )


def missing_sentence(lives: pd.DataFrame, units: str = "metric") -> str:
    """Cutters without a life at all, and why; empty where there are none."""
    none = lives[lives["status"] == "none"]
    if none.empty:
        return ""
    parts = [
        f"{listed([str(name) for name in rows['cutter']])} ({in_plain_words(str(why), units)})"
        for why, rows in none.groupby("why_missing", sort=False)
    ]
    return sentence(f"{agree(len(none), 'this')} {agree(len(none), 'cutter')} gave no life: {listed(parts)}")


def span_sentence(lives: pd.DataFrame, clock: str, units: str = "metric") -> str:
    """Shortest and longest life among those that are known; empty where none is."""
    known = lives.loc[lives["status"] == "exact", "life"]
    if known.empty:
        return ""
    low, high = (quantity(float(end), clock_kind(clock), units) for end in (known.min(), known.max()))
    if len(known) == 1 or low == high:
        return sentence(
            f"the life that is known is {low}" if len(known) == 1 else f"the lives that are known are all {low}"
        )
    return sentence(f"the lives that are known run from {low} to {high}")


def life_text(low: float, high: float, status: str, clock: str, units: str = "metric") -> str:
    """One life in a cell.

    >>> life_text(48.1, 48.1, "exact", "cutting_time_min"), life_text(23.43, math.inf, "right", "cutting_time_min")
    ('48.1 min', 'at least 23.4 min')
    """
    kind = clock_kind(clock)
    if status == "exact":
        return quantity(low, kind, units)
    if status == "right":
        return f"at least {quantity(low, kind, units)}"
    if status == "left":
        return f"at most {quantity(high, kind, units)}"
    if status == "interval":
        return f"{quantity(low, kind, units).rsplit(' ', 1)[0]} to {quantity(high, kind, units)}"
    return MISSING


def finite(value: float) -> float:
    """The figure, or a missing one where it is unbounded."""
    return value if math.isfinite(value) else math.nan
