"""A life for each flute beside that of the worst flute and of their mean: which tooth decides, how evenly they wear.

A spindle that runs out loads one tooth more than the others: its land reaches the limit first, and the mean of the
flutes hides it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import pandas as pd

from wearlab.core.errors import Refusal
from wearlab.core.tables import natural_sorted
from wearlab.life.crossing import find_crossing
from wearlab.life.derived_clocks import DERIVED, on_derived_clock
from wearlab.life.lives import MINUTES, tool_lives
from wearlab.life.lives import _known as known_of
from wearlab.life.toollife import ToolLife
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial
from wearlab.wear.curves import wear_curves

WHOLE = ("worst", "mean")
"""What stands beside the single flutes: the worst of them at each look, and their mean."""
LANDS = ("VB", "VBmax", "corner", "chip")
"""Measures that belong to a flute."""


@dataclass(frozen=True, slots=True)
class FluteLife:
    """Life of one flute, or of the worst or the mean of a cutter's flutes; status and bracket as for a cutter.

    Attributes
    ----------
    flute : str
        Its number, or `worst` or `mean`.
    life, low, high, status, bracket_low, bracket_high, why_missing
        As in `ToolLife`.
    """

    cutter: str
    flute: str
    criterion: str
    clock: str
    life: float
    low: float
    high: float
    status: str
    bracket_low: float
    bracket_high: float
    why_missing: str = ""


def flute_lives(trial: Trial, criterion: Criterion, clock: str = MINUTES) -> tuple[FluteLife, ...]:
    """Lives of single flutes at a criterion on a land.

    Without a zone in the criterion, the worst zone of that flute at each look counts.

    Raises
    ------
    Refusal
        The criterion is no land, or no single flute was read.
    """
    if criterion.measure not in LANDS:
        raise Refusal(
            f"{criterion.measure} does not belong to a flute", where=f"criterion {criterion.text}",
            allowed=", ".join(LANDS),
        )  # fmt: skip
    rows = wear_curves(trial).by_flute
    rows = rows[(rows["measure"] == criterion.measure) & rows["flute"].str.fullmatch(r"\d+")]
    if criterion.zone:
        rows = rows[rows["zone"] == criterion.zone]
    if rows.empty:
        raise Refusal("no single flute was read", where=f"criterion {criterion.text}", allowed="flute 1, 2, ...")
    counted = MINUTES if clock in DERIVED else clock
    lives, flutes = [], []
    for cutter in natural_sorted(rows["cutter"].unique()):
        own = rows[rows["cutter"] == cutter]
        for flute in natural_sorted(own["flute"].unique()):
            lives.append(_life(own[own["flute"] == flute], str(cutter), criterion, counted))
            flutes.append(str(flute))
    if clock in DERIVED:
        lives = on_derived_clock(lives, trial.facts(), clock)
    return tuple(_of(life, flute, criterion) for life, flute in zip(lives, flutes, strict=True))


def lives_by_flute(trial: Trial, criterion: Criterion, clock: str = MINUTES) -> tuple[FluteLife, ...]:
    """Lives of single flutes, and for each cutter those of the worst flute and of the mean, at the same limit.

    Parameters
    ----------
    trial : Trial
    criterion : Criterion
        On a land; its own mean or worst makes no difference here.
    clock : str
        As in `tool_lives`.

    Raises
    ------
    Refusal
        As in `flute_lives`.

    Examples
    --------
    >>> from wearlab.logbook.criterion import parse_criterion
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> found = lives_by_flute(read_log(sample_path("shoulder_demo")), parse_criterion("lower:VB=0.2mm"))
    >>> [one.flute for one in found if one.cutter == "E1"]
    ['1', '2', '3', '4', 'worst', 'mean']
    """
    single = flute_lives(trial, criterion, clock)
    made = list(single)
    for statistic in WHOLE:
        whole = tool_lives(trial, [replace(criterion, statistic=statistic)], [clock]).lives
        made += [_of(life, statistic, criterion) for life in whole]
    place = {cutter: at for at, cutter in enumerate(natural_sorted({one.cutter for one in made}))}
    return tuple(sorted(made, key=lambda one: place[one.cutter]))  # stable: flutes stay in their order


def _life(rows: pd.DataFrame, cutter: str, criterion: Criterion, clock: str) -> ToolLife:
    worst = rows.groupby("inspection").agg(clock=(clock, "first"), value=("value_mm", "max")).dropna()
    found = find_crossing(worst["clock"].to_numpy(float), worst["value"].to_numpy(float), criterion.limit)
    status, low, high, why = known_of(found, False)
    life = found.life if status == "exact" else math.nan
    return ToolLife(
        cutter, criterion.text, criterion.zone, clock, life, low, high, status, "", found.bracket_low,
        found.bracket_high, found.first, found.last, why,
    )  # fmt: skip


def _of(life: ToolLife, flute: str, criterion: Criterion) -> FluteLife:
    return FluteLife(
        life.cutter, flute, criterion.text, life.clock, life.life, life.low, life.high, life.status, life.bracket_low,
        life.bracket_high, life.why_missing,
    )  # fmt: skip


def flute_frame(lives: tuple[FluteLife, ...]) -> pd.DataFrame:
    """One row a flute."""
    return pd.DataFrame([{name: getattr(one, name) for name in FluteLife.__slots__} for one in lives])


def side_by_side(lives: tuple[FluteLife, ...], factor: float = 1.0) -> pd.DataFrame:
    """One row a cutter, one column a flute: its life as text, `>` where it was still good, `<` where already past.

    Parameters
    ----------
    lives : tuple of FluteLife
    factor : float
        What the lives are multiplied by: another unit of the clock.
    """
    flutes = natural_sorted({one.flute for one in lives} - set(WHOLE))
    rows: dict[str, dict[str, str]] = {}
    for one in lives:
        rows.setdefault(one.cutter, {})[one.flute] = _text(one, factor)
    columns = [*flutes, *WHOLE]
    return pd.DataFrame(
        [{"cutter": cutter} | {one: row.get(one, "-") for one in columns} for cutter, row in rows.items()]
    )


def _text(life: FluteLife, factor: float) -> str:
    if life.status == "exact":
        return f"{life.life * factor:.4g}"
    if life.status == "right":
        return f"> {life.low * factor:.4g}"
    return f"< {life.high * factor:.4g}" if life.status == "left" else "-"
