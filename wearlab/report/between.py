"""This trial against an earlier one, computed: what was set, cut and read otherwise, and which figures moved how far.

A change is the figure now over the figure then (or less it, for an exponent), with an interval made from the two
intervals by recovering each one's variance at the side that matters: Zou and Donner, Statistics in Medicine 27 (2008)
1693-1702, from memory. It asks nothing of the two but that they are independent, so trials that hold the same cutters
get none.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import pandas as pd

from wearlab.compare.contrast import Contrast
from wearlab.compare.groups import common_ground, make_groups
from wearlab.compare.life_ratio import life_ratio
from wearlab.compare.outcomes import outcome_tables
from wearlab.core.errors import WearlabError
from wearlab.core.interval import Interval
from wearlab.core.tables import natural_sorted
from wearlab.logbook.trial import Trial
from wearlab.report.analysis import Analysis
from wearlab.report.sections.common import main_contrasts
from wearlab.words.verdicts import verdict_headline

NOT_CONDITIONS = ("cutter", "run_order", "operator", "note", "end_reason", "readings", "condition")
METHOD = "recovered variances of two independent intervals"
SAME_CUTTERS = "both logs hold the same cutters, so that the two figures are not independent"
OTHER_END = "life ends otherwise in the two"
OTHER_LEVEL = "the ranges of the two are at different confidence levels"
SPEED = "cutting_speed_m_min"
_SPOT = ("measure", "zone", "flute", "side", "height_mm", "pin_mm", "part", "repeat", "inspection")
"""What says that two readings are of the same thing at the same look."""
_CLOCKS = ("cutting_time_min", "volume_cm3", "parts", "cut_length_m")


@dataclass(frozen=True, slots=True)
class Change:
    """One figure in both trials.

    Attributes
    ----------
    key : str
        ratio, life or exponent.
    names : tuple of str
        Groups that it belongs to.
    outcome, zone : str
        Of a ratio.
    before, now : float
        The figure; NaN for lives, of which the ratio alone is had.
    before_interval, now_interval : Interval or None
    change : float
        Now over before; for an exponent now less before.
    interval : Interval or None
        Of the change.
    cutters : tuple of int
        Before and now.
    why_missing : str
        Why there is no interval.
    verdicts : tuple of str
        Of a ratio, before and now, as the report heads them.
    """

    key: str
    names: tuple[str, ...]
    outcome: str
    zone: str
    before: float
    now: float
    before_interval: Interval | None
    now_interval: Interval | None
    change: float
    interval: Interval | None
    cutters: tuple[int, int]
    why_missing: str = ""
    verdicts: tuple[str, str] = ("", "")

    @property
    def null(self) -> float:
        """The change that is none."""
        return 0.0 if self.key == "exponent" else 1.0

    @property
    def shown(self) -> bool | None:
        """Whether the change is more than the scatter of both explains; None where that cannot be said."""
        return None if self.interval is None else not self.interval.contains(self.null)


@dataclass(frozen=True, eq=False)
class Between:
    """What differs between two trials.

    Attributes
    ----------
    settings, conditions : tuple of (str, str, str)
        Name of a setting or column of the log, its value before and now.
    cutters : tuple of int
        Before and now.
    same : tuple of str
        Cutters that are in both logs with most of their readings.
    namesakes : tuple of str
        Cutters that share a name and no reading.
    readings : pandas.DataFrame
        One row for each of the same cutters whose readings are not all equal: `cutter`, `equal`, `corrected` (another
        value at the same look), `added`, `gone`.
    same_end : bool
        Whether life ends alike in both.
    changes : tuple of Change
    """

    settings: tuple[tuple[str, str, str], ...]
    conditions: tuple[tuple[str, str, str], ...]
    cutters: tuple[int, int]
    same: tuple[str, ...]
    namesakes: tuple[str, ...]
    readings: pd.DataFrame
    same_end: bool
    changes: tuple[Change, ...]


def between(now: Analysis, before: Analysis) -> Between:
    """Set two analyses side by side.

    Parameters
    ----------
    now, before : Analysis

    Returns
    -------
    Between
    """
    readings = _readings(now.trial, before.trial)
    same = _same(readings)
    shared = natural_sorted(set(map(str, now.trial.cutters["cutter"])) & set(map(str, before.trial.cutters["cutter"])))
    moved = same[(same[["corrected", "added", "gone"]] > 0).any(axis=1)].reset_index(drop=True)
    same_end = now.main.criterion.text == before.main.criterion.text and now.clock == before.clock
    why = SAME_CUTTERS if len(same) else "" if same_end else OTHER_END
    why = why or ("" if now.level == before.level else OTHER_LEVEL)
    found = (*_ratios(now, before, why), *_lives(now, before, why), *_exponents(now, before, why))
    return Between(
        settings=_settings(now, before),
        conditions=_conditions(now, before),
        cutters=(len(before.trial.cutters), len(now.trial.cutters)),
        same=tuple(same["cutter"]),
        namesakes=tuple(name for name in shared if name not in set(same["cutter"])),
        readings=moved,
        same_end=same_end,
        changes=found,
    )


def difference(now: tuple[float, Interval], before: tuple[float, Interval]) -> Interval:
    """Interval of now less before, of two independent estimates with their intervals.

    >>> a = (2.0, Interval(1.0, 3.0, 0.95, "t"))
    >>> b = (1.0, Interval(0.0, 2.0, 0.95, "t"))
    >>> found = difference(a, b)
    >>> round(found.low, 3), round(found.high, 3)
    (-0.414, 2.414)
    """
    (x, a), (y, b) = now, before
    gap = x - y
    low = gap - math.hypot(x - a.low, b.high - y)
    high = gap + math.hypot(a.high - x, y - b.low)
    return Interval(low, high, a.level, METHOD)


def _settings(now: Analysis, before: Analysis) -> tuple[tuple[str, str, str], ...]:
    rows = [(name, _setting(before, name), _setting(now, name)) for name in _SETTINGS]
    return tuple(row for row in rows if row[1] != row[2])


_SETTINGS = ("criteria", "clock", "by", "standard", "only", "factors", "held_n", "margin", "level", "break_in", "zones")


def _setting(analysis: Analysis, name: str) -> str:
    """One setting as it was used, in one line; empty where it was not set."""
    if name == "criteria":
        return ", ".join(one.criterion.text for one in analysis.at)
    if name == "zones":
        zones = analysis.trial.settings.zones.items()
        return ", ".join(f"{zone} {low:g} to {high:g} mm" for zone, (low, high) in sorted(zones))
    value = analysis.trial.settings.break_in if name == "break_in" else getattr(analysis, name)
    if isinstance(value, tuple):
        return ", ".join(map(str, value))
    return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def _conditions(now: Analysis, before: Analysis) -> tuple[tuple[str, str, str], ...]:
    """Columns of the cutters and of their cuts that hold other values."""
    facts = (before.trial.facts(), now.trial.facts())
    names = dict.fromkeys([*map(str, facts[1].columns), *map(str, facts[0].columns)])
    rows = [(name, _values(facts[0], name), _values(facts[1], name))
            for name in names if name not in (*NOT_CONDITIONS, *_CLOCKS)]  # fmt: skip
    return tuple(row for row in rows if row[1] != row[2])


MOST_VALUES = 6


def _values(table: pd.DataFrame, column: str) -> str:
    """The values of a column in one line; empty where it holds none."""
    cells = [cell for cell in table[column].dropna().unique() if cell != ""] if column in table else []
    if len(cells) > MOST_VALUES:
        numbers = all(isinstance(cell, int | float) for cell in cells)
        return f"{min(cells):g} to {max(cells):g}" if numbers else f"{len(cells)} values"
    return ", ".join(natural_sorted(f"{cell:g}" if isinstance(cell, float) else str(cell) for cell in cells))


def _readings(now: Trial, before: Trial) -> pd.DataFrame:
    """Per shared name: readings that are equal in both logs, hold another value, came in, or are gone."""
    a, b = _long(before), _long(now)
    both = a.merge(b, on=["cutter", "spot"], how="outer", suffixes=("_before", "_now"), indicator=True)
    both = both[both["cutter"].isin(set(before.cutters["cutter"]) & set(now.cutters["cutter"]))]
    held = both["_merge"] == "both"
    equal = held & (both["what_before"] == both["what_now"])
    counts = both.assign(
        equal=equal, corrected=held & ~equal, added=both["_merge"] == "right_only", gone=both["_merge"] == "left_only"
    )
    made = counts.groupby("cutter", sort=False)[["equal", "corrected", "added", "gone"]].sum().reset_index()
    order = {name: at for at, name in enumerate(natural_sorted(made["cutter"]))}
    return made.sort_values("cutter", key=lambda names: names.map(order)).reset_index(drop=True)


SAME_SHARE = 0.8
"""Share of equal readings, of the log that holds fewer, from which a name is taken for the same cutter."""


def _same(readings: pd.DataFrame) -> pd.DataFrame:
    fewer = readings["equal"] + readings["corrected"] + readings[["added", "gone"]].min(axis=1)
    return readings[readings["equal"] >= SAME_SHARE * fewer]


def _long(trial: Trial) -> pd.DataFrame:
    """Every reading, and the end of every run, as where it was taken and what was found there."""
    rows: list[tuple[str, tuple[str, ...], tuple[object, ...]]] = []
    for table in (trial.wear, trial.walls, trial.responses):
        held = [name for name in _SPOT if name in table]
        value = "value_mm" if "value_mm" in table else "value"
        clocks = [name for name in _CLOCKS if name in table]
        for row in table[["cutter", *held, value, *clocks]].astype(object).to_dict("records"):
            spot = tuple(f"{name} {row[name]}" for name in held)
            rows.append((str(row["cutter"]), spot, tuple(str(row[name]) for name in (value, *clocks))))
    for row in trial.runs.astype(object).to_dict("records"):
        found = tuple(str(row.get(name)) for name in ("end_reason", *_CLOCKS))
        rows.append((str(row["cutter"]), ("end of the run",), found))
    made = pd.DataFrame(rows, columns=["cutter", "spot", "what"])
    return made.drop_duplicates(["cutter", "spot"]).reset_index(drop=True)


def _ratios(now: Analysis, before: Analysis, why: str) -> list[Change]:
    held = {(one.a, one.b, *_of(one)): one for one in main_contrasts(before) if one.scale == "ratio"}
    made = []
    for one in main_contrasts(now):
        earlier = held.get((one.a, one.b, *_of(one)))
        turned = held.get((one.b, one.a, *_of(one)))
        if one.scale != "ratio" or (earlier is None and turned is None):
            continue
        made.append(_ratio(one, earlier or turned, earlier is None, why))  # type: ignore[arg-type]
    return made


def _of(one: Contrast) -> tuple[str, str]:
    """What a contrast is of; lives carry the zone of their rule, which is told apart from them."""
    return one.outcome, "" if one.outcome == "life" else one.zone


def _ratio(now: Contrast, before: Contrast, turned: bool, why: str) -> Change:
    """The ratio of two ratios, on their logarithms."""
    figure = 1.0 / before.estimate if turned else before.estimate
    limits = before.interval.map(_inverse) if turned else before.interval
    interval = None
    missing = why or now.why_missing or before.why_missing
    if not all(map(math.isfinite, (figure, now.estimate))):
        missing = missing or "one of the two has no ratio"
    elif not why:
        logs = [(math.log(x), one.map(_log)) for x, one in ((now.estimate, now.interval), (figure, limits))]
        interval = difference(*logs).exp()
        missing = ""
    return Change(
        "ratio", (now.a, now.b), *_of(now), figure, now.estimate, limits, now.interval,
        now.estimate / figure, interval, (before.n_a + before.n_b, now.n_a + now.n_b), missing,
        (verdict_headline(before), verdict_headline(now)),
    )  # fmt: skip


def _inverse(x: float) -> float:
    return math.inf if x <= 0 else 0.0 if math.isinf(x) else 1.0 / x


def _log(x: float) -> float:
    return -math.inf if x <= 0 else math.inf if math.isinf(x) else math.log(x)


def _lives(now: Analysis, before: Analysis, why: str) -> list[Change]:
    """Lives of each group that both trials hold, at the conditions that both met."""
    shared = [name for name in now.group_names if name in set(before.group_names)]
    if why or not shared:
        return []
    try:
        tables = [_life_table(one) for one in (now, before)]
    except WearlabError:
        return []
    return [change for group in shared if (change := _life(group, tables, now)) is not None]


def _life_table(analysis: Analysis) -> pd.DataFrame:
    grouping = make_groups(analysis.trial.facts(), analysis.by)
    return outcome_tables(analysis.trial, grouping, analysis.main.criterion, analysis.clock, ["life"])[0].table


def _life(group: str, tables: list[pd.DataFrame], now: Analysis) -> Change | None:
    own = [table[table["group"] == group].assign(group=name)
           for table, name in zip(tables, ("now", "before"), strict=True)]  # fmt: skip
    kept, _ = common_ground(pd.concat(own, ignore_index=True), ("now", "before"), now.by, ())
    sizes = [int((kept["group"] == name).sum()) for name in ("before", "now")]
    if min(sizes) < 1:
        return None
    adjust = (SPEED,) if SPEED in kept and now.by != SPEED and kept[SPEED].nunique() > 1 else ()
    found = life_ratio(kept, "now", "before", now.level, now.level, "", adjust, now.seed)
    few = "fewer than three cutters in one of the two" if min(sizes) < 3 else ""
    interval = None if found.why_missing or few else found.interval.exp()
    return Change(
        "life", (group,), "life", "", math.nan, math.nan, None, None, math.exp(found.log_ratio), interval,
        (sizes[0], sizes[1]), found.why_missing or few,
    )  # fmt: skip


def _exponents(now: Analysis, before: Analysis, why: str) -> list[Change]:
    held = [next((one for one in each.main.parameters if one.name == "n"), None) for each in (now, before)]
    a, b = held
    if a is None or b is None or not all(map(math.isfinite, (a.estimate, b.estimate))) or a.why_missing == HELD:
        return []
    known = not why and not a.why_missing and not b.why_missing
    interval = difference((a.estimate, a.interval), (b.estimate, b.interval)) if known else None
    sizes = tuple(0 if isinstance(one.main.fit, WearlabError) else one.main.fit.lives for one in (before, now))
    return [Change("exponent", (), "", "", b.estimate, a.estimate, b.interval, a.interval, a.estimate - b.estimate,
                   interval, (sizes[0], sizes[1]), "" if known else why or a.why_missing or b.why_missing)]  # fmt: skip


HELD = "held, not fitted"
