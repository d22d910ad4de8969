"""Rules that need all rows of a cutter: the order of its readings, what must not change, what cannot be."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import defaultdict

import numpy as np
import pandas as pd

from wearlab.core.tables import natural_sorted
from wearlab.logbook.columns import CLOCKS, with_scope
from wearlab.logbook.draft import Draft

FALL_MM, FALL_SHARE = 0.015, 0.05
"""A fall in the mean land beyond both is more than reading error explains (common practice, no source)."""


def check_cutters(draft: Draft) -> None:
    """Apply every rule of one cutter; adds the column `inspection` (order of looks within a cutter)."""
    _near_duplicate_names(draft)
    draft.data["inspection"] = _inspections(draft.data)
    _clock_order(draft)
    draft.data["inspection"] = _inspections(draft.good()).reindex(draft.data.index)
    _reading_numbers(draft)
    _constants(draft)
    _falls(draft)
    _ends(draft)


def _near_duplicate_names(draft: Draft) -> None:
    names: dict[str, list[str]] = defaultdict(list)
    for name in natural_sorted(draft.good()["cutter"].unique()):
        parts = re.findall(r"[a-z]+|\d+", name.lower())
        names["".join(part.lstrip("0") or "0" for part in parts)].append(name)
    for alike in names.values():
        if len(alike) > 1:
            draft.warn("near_duplicate_cutter", f"cutters {', '.join(alike)} may be one", cutter=alike[0],
                       column="cutter", hint="They are treated as different; spell one cutter one way")  # fmt: skip


def _inspections(rows: pd.DataFrame) -> pd.Series:
    """0, 1, 2, ... within a cutter: by reading number where all its rows have one, else by file order."""
    result = pd.Series(0.0, index=rows.index)
    clocks = [name for name in CLOCKS if name in rows.columns]
    for _, group in rows.groupby("cutter", sort=False):
        if "reading" in group.columns and group["reading"].notna().all():
            result[group.index] = group["reading"].rank(method="dense") - 1
        else:
            stamp = group[clocks].fillna(-1.0)
            result[group.index] = (stamp != stamp.shift()).any(axis=1).cumsum() - 1
    return result


def _clock_order(draft: Draft) -> None:
    """Clocks are cumulative: within a reading they agree, from reading to reading they never go back."""
    for clock in (name for name in CLOCKS if name in draft.data.columns):
        rows = draft.good()[["cutter", "inspection", clock]].dropna()
        for cutter, group in rows.groupby("cutter", sort=False):
            majority = _agreeing(draft, str(cutter), clock, group)
            _never_back(draft, str(cutter), clock, group, majority)


def _agreeing(draft: Draft, cutter: str, clock: str, group: pd.DataFrame) -> pd.Series:
    """Clock of each reading by majority of its rows; rows that disagree are set aside."""
    majority = group.groupby("inspection")[clock].agg(lambda cells: cells.mode().iloc[0])
    expected = group["inspection"].map(majority)
    for line in group.index[(group[clock] != expected).to_numpy()]:
        draft.error(int(line), "clock_differs_within_reading", f"{draft.words[clock]} is {draft.as_typed(line, clock)}",
                    column=draft.words[clock],
                    allowed=f"{expected[line]:g}, as in the other rows of this reading",
                    hint="Correct it from the bench sheet")  # fmt: skip
    return majority


def _never_back(draft: Draft, cutter: str, clock: str, group: pd.DataFrame, majority: pd.Series) -> None:
    kept = longest_rising(majority.to_numpy())
    if kept.all():
        return
    lost = set(majority.index[~kept])
    per_pass = len(lost) > len(majority) / 2
    hint = "Minutes of each pass instead of minutes since new?" if per_pass else "Correct it from the bench sheet"
    for line in group.index[group["inspection"].isin(lost).to_numpy()]:
        at = group.at[line, "inspection"]
        before = [look for look in majority.index[kept] if look < at]
        after = [look for look in majority.index[kept] if look > at]
        limits = [f"at least {majority[before[-1]]:g} (the reading before)" if before else "",
                  f"at most {majority[after[0]]:g} (the reading after)" if after else ""]  # fmt: skip
        draft.error(int(line), "time_goes_back", f"{draft.words[clock]} {draft.as_typed(line, clock)} goes back", cutter=cutter,
                    column=draft.words[clock], allowed=" and ".join(part for part in limits if part),
                    hint=hint)  # fmt: skip


def longest_rising(values: np.ndarray) -> np.ndarray:
    """Which values belong to a longest run that never falls: the fewest readings to set aside.

    Parameters
    ----------
    values : numpy.ndarray, shape (n,)
        Clock at each reading, in order.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)

    Examples
    --------
    >>> longest_rising(np.array([0.0, 5.0, 50.0, 15.0, 20.0])).tolist()
    [True, True, False, True, True]
    """
    tails: list[float] = []
    ends: list[int] = []
    before = np.full(len(values), -1)
    for i, value in enumerate(values):
        at = bisect_right(tails, value)
        before[i] = ends[at - 1] if at else -1
        if at == len(tails):
            tails.append(float(value))
            ends.append(i)
        else:
            tails[at], ends[at] = float(value), i
    kept = np.zeros(len(values), dtype=bool)
    i = ends[-1] if ends else -1
    while i >= 0:
        kept[i] = True
        i = int(before[i])
    return kept


def _reading_numbers(draft: Draft) -> None:
    """Skipped numbers and lone readings are facts worth knowing, not faults."""
    rows = draft.good()
    if draft.has("reading"):
        skips = [str(cutter) for cutter, cells in rows.groupby("cutter")["reading"]
                 if cells.notna().all() and (np.diff(np.sort(cells.unique())) > 1).any()]  # fmt: skip
        if skips:
            draft.note("reading_numbers_skip", f"reading numbers skip in {_few(skips)}", column="reading")
    looks = rows[rows["measure"] != "end"].groupby("cutter")["inspection"].nunique()
    lone = [str(cutter) for cutter in looks.index[looks == 1]]
    if lone:
        draft.note("one_reading_only", f"one reading only in {_few(lone)}: no curve and no life from it")


def _few(names: list[str]) -> str:
    ordered = natural_sorted(names)
    return ("cutter " if len(ordered) == 1 else "cutters ") + ", ".join(ordered[:8]) + (f" and {len(ordered) - 8} more" if len(ordered) > 8 else "")


def _constants(draft: Draft) -> None:
    """What belongs to a cutter or its run is the same in all its rows; the minority value is named."""
    rows = draft.good()
    for column in with_scope("cutter", "run", "condition"):
        if column.name == "cutter" or column.name not in rows.columns:
            continue
        cells = rows[column.name]
        filled = rows[cells.notna() & (cells != "")]
        different = filled.groupby("cutter", sort=False)[column.name].nunique()
        for cutter in different.index[different > 1]:
            own = filled[filled["cutter"] == cutter][column.name]
            usual = own.mode().iloc[0]
            odd = own[own != usual]
            draft.warn("varies_within_cutter", f"{_cell(odd.iloc[0])} where most rows have {_cell(usual)}",
                       [int(line) for line in odd.index], cutter=str(cutter), column=column.name,
                       hint="The value of most rows was used; a cutter keeps its conditions for life")  # fmt: skip


def _cell(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else repr(str(value))


def _falls(draft: Draft) -> None:
    """Wear does not heal: a falling mean land is noise, a slip, a lost built-up edge or a swapped cutter."""
    rows = draft.good()
    rows = rows[rows["measure"].isin(["VB", "VBmax"]) & rows["value_mm"].notna()]
    zone = rows["zone"] if "zone" in rows.columns else pd.Series("", index=rows.index)
    means = rows.assign(zone=zone).groupby(["cutter", "measure", "zone", "inspection"], sort=False)["value_mm"]
    table = means.mean().reset_index().assign(line=means.apply(lambda cells: int(cells.index[0])).to_numpy())
    table = table.sort_values(["cutter", "measure", "zone", "inspection"], kind="stable")
    fall = -table.groupby(["cutter", "measure", "zone"], sort=False)["value_mm"].diff()
    table = table.assign(fall=fall, before=table["value_mm"] + fall)
    for row in table[table["fall"] > 1e-9].itertuples():
        zone_words = f" in zone {row.zone}" if row.zone else ""
        found = f"{row.measure}{zone_words} falls from {row.before:.4g} to {row.value_mm:.4g} mm"
        if row.fall > max(FALL_MM, FALL_SHARE * row.before):
            draft.warn("wear_falls", found, [row.line], cutter=str(row.cutter), column="value",
                       hint="Misread, a built-up edge gone, or another cutter? Look at the photograph")  # fmt: skip
        else:
            draft.note("wear_falls_a_little", f"{found}: no more than reading error may explain", [row.line],
                       cutter=str(row.cutter), column="value")  # fmt: skip


def _ends(draft: Draft) -> None:
    if not draft.has("end_reason"):
        return
    rows = draft.good()
    rows = rows[rows["end_reason"] != ""]
    for cutter, group in rows.groupby("cutter", sort=False):
        if group["end_reason"].nunique() > 1:
            for line in group.index:
                draft.error(int(line), "two_end_reasons", f"the run ended {group.at[line, 'end_reason']} here and otherwise elsewhere",
                            cutter=str(cutter), column="end_reason",
                            allowed="one end for one cutter",
                            hint=f"Lines {', '.join(str(i) for i in group.index)} disagree: keep the right one")  # fmt: skip
