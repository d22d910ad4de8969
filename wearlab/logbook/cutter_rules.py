"""Rules that need all rows of a cutter: the order of its clocks, what must not change, how it ended."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from dataclasses import dataclass

import numpy as np

from wearlab.core.tables import natural_key, natural_sorted
from wearlab.logbook.columns import CLOCKS, with_scope
from wearlab.logbook.draft import Draft
from wearlab.logbook.findings import listed
from wearlab.logbook.order import Looks, changes, longest_rising, looks_of, stretch
from wearlab.logbook.sheet import Bools, Codes, Floats, Ints

PER_PASS_SHARE = 0.3
"""From this share of steps that go back, a clock counts each pass and not the life (common practice, no source)."""

_BENCH = "Correct it from the bench sheet"


def check_cutters(draft: Draft) -> Looks:
    """Apply every rule of one cutter; returns the order of the rows that are left."""
    before = looks_of(draft)
    bad = int(draft.bad.sum())
    _clock_order(draft, before)
    _ends(draft)
    looks = before if int(draft.bad.sum()) == bad else looks_of(draft)
    _reading_numbers(draft, looks)
    _constants(draft, looks)
    return looks


# ------------------------------------------------------------------ names

_MONTHS = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
MANGLED_NAME = re.compile(
    rf"\d(\.\d+)?E\+\d+|\d{{4}}-\d\d-\d\d([ T].*)?|\d{{1,2}}[- ]({_MONTHS})|({_MONTHS})[- ]\d{{2}}",
    re.ASCII | re.IGNORECASE,
)
"""What spreadsheets make of names such as 1E5, 3-7 and MAR07."""


def check_names(draft: Draft) -> None:
    """Names that may be one cutter, and names that a spreadsheet has turned into something else."""
    names: dict[str, list[str]] = defaultdict(list)
    column = draft.word("cutter")
    used = np.unique(column.codes[draft.good()])
    for name in natural_sorted(column.vocabulary[code] for code in used):
        names[folded_name(name)].append(name)
        if MANGLED_NAME.fullmatch(name):
            draft.warn(
                "name_made_a_number",
                f"cutter {name} looks like a name that a spreadsheet made a number or a date of",
                column.codes == column.vocabulary.index(name),
                column="cutter",
                cutter=name,
                hint="Format the column as text and write the name again",
            )
    for alike in names.values():
        if len(alike) > 1:
            draft.warn(
                "near_duplicate_cutter",
                f"cutters {listed(alike)} may be one",
                column.equal(*alike),
                cutter=alike[0],
                column="cutter",
                hint="They are treated as different; spell one cutter one way",
            )


def folded_name(name: str) -> str:
    """A cutter's name without case, signs and leading zeros: names that fold alike may be one cutter.

    >>> folded_name("E-07") == folded_name("e7"), folded_name("E7") == folded_name("E70")
    (True, False)
    """
    parts = re.findall(r"[^\W\d_]+|\d+", name.lower())
    return "".join(part.lstrip("0") or "0" for part in parts) or name


# ------------------------------------------------------------------ clocks


@dataclass(frozen=True, slots=True)
class _Clock:
    """One clock at each look: `begin` is where the look begins in the ordered rows, `cutter` whose look it is."""

    name: str
    rows: Ints
    begin: Ints
    cutter: Codes
    at_look: Floats

    def rows_of(self, which: Ints, draft: Draft) -> Ints:
        """Rows of the given looks that nothing has set aside."""
        end = np.append(self.begin[1:], len(self.rows))
        rows = np.concatenate([self.rows[self.begin[i] : end[i]] for i in which]) if len(which) else self.rows[:0]
        return rows[~draft.bad[rows]]


def _clock_order(draft: Draft, looks: Looks) -> None:
    """Clocks are cumulative: within a look they agree, from look to look they never go back."""
    for name in (name for name in CLOCKS if name in draft.numbers):
        clock = _agreeing(draft, name, looks)
        same, step = clock.cutter[1:] == clock.cutter[:-1], np.diff(clock.at_look)
        for at in np.unique(clock.cutter[1:][same & (step < 0)]):
            _goes_back(draft, looks.names[at], clock, stretch(clock.cutter, at))
        if name != "cutting_time_min":
            continue
        for at in np.unique(clock.cutter[1:][same & (step == 0)]):
            own = stretch(clock.cutter, at)
            if not (np.diff(clock.at_look[own]) < 0).any():
                _stands_still(draft, looks.names[at], clock, own)


def _agreeing(draft: Draft, name: str, looks: Looks) -> _Clock:
    """Clock of each look by majority of its rows; rows that disagree are set aside."""
    values, rows, cutter, new = looks.take(draft.numbers[name]), looks.rows, looks.cutter, looks.new_look
    known = np.isfinite(values)
    if int(draft.bad.sum()) > looks.bad:
        known &= ~looks.take(draft.bad)
    if not known.all():
        look = looks.look[known]
        values, rows, cutter = values[known], rows[known], cutter[known]
        new = changes(cutter, look)
    begin = np.flatnonzero(new)
    at_look = values[begin]
    odd = np.flatnonzero((values[1:] != values[:-1]) & ~new[1:]) + 1
    if len(odd):
        _disagree(draft, name, rows, values, begin, at_look, np.unique(np.searchsorted(begin, odd, side="right") - 1))
    return _Clock(name, rows, begin, cutter[begin], at_look)


def _disagree(draft: Draft, name: str, rows: Ints, values: Floats, begin: Ints, at_look: Floats, which: Ints) -> None:
    """Looks whose rows state different clocks: the most frequent one stands, the others are set aside."""
    end = np.append(begin[1:], len(rows))
    usual: dict[int, str] = {}
    for i in which:
        own = values[begin[i] : end[i]]
        at_look[i] = most_frequent(own)
        even = 2 * int((own == at_look[i]).sum()) <= len(own)
        words = "half of the rows of this reading say so" if even else "as in the other rows of this reading"
        usual |= {int(row): f"{at_look[i]:g}, {words}" for row in rows[begin[i] : end[i]][own != at_look[i]]}
    draft.error(
        "clock_differs_within_reading",
        usual,
        lambda row: f"{draft.header_word(row, name)} is {draft.typed(row, name)}",
        allowed=lambda row: usual[row],
        hint=_BENCH,
        column=name,
    )


def most_frequent(values: Floats) -> float:
    """The value that stands most often; the least of several that are alike."""
    every = values.tolist()
    return float(min(set(every), key=lambda value: (-every.count(value), value)))


def _goes_back(draft: Draft, cutter: str, clock: _Clock, own: Ints) -> None:
    """Set aside the fewest looks that leave a clock which never goes back; or say that it counts each pass."""
    values = clock.at_look[own]
    backward = int((np.diff(values) < 0).sum())
    often = backward >= PER_PASS_SHARE * (len(values) - 1)
    if often and (backward >= 2 or values.max() < 2.0 * values.min()):
        _per_pass(draft, cutter, clock, own, "up and down")
        return
    kept = longest_rising(values)
    bounds: dict[int, str] = {}
    for at in np.flatnonzero(~kept):
        words = _bounds(values, kept, int(at))
        bounds |= {int(row): words for row in clock.rows_of(own[[at]], draft)}
    draft.error(
        "time_goes_back",
        list(bounds),
        lambda row: f"{draft.header_word(row, clock.name)} {draft.typed(row, clock.name)} goes back",
        allowed=lambda row: bounds[row],
        hint=_BENCH,
        column=clock.name,
        cutter=cutter,
    )


def _bounds(values: Floats, kept: Bools, at: int) -> str:
    before, after = values[:at][kept[:at]], values[at + 1 :][kept[at + 1 :]]
    low = f"at least {before[-1]:g} (the reading before)" if len(before) else ""
    high = f"at most {after[0]:g} (the reading after)" if len(after) else ""
    return " and ".join(part for part in (low, high) if part)


def _stands_still(draft: Draft, cutter: str, clock: _Clock, own: Ints) -> None:
    """Minutes that never move count each pass; two looks at the same minute are a doubt (an end row is no look)."""
    measured = ~draft.word("measure").equal("end")
    looks = [i for i in own if measured[clock.rows_of(np.array([i]), draft)].any()]
    values = clock.at_look[looks]
    if len(looks) >= 3 and (values == values[0]).all() and values[0] > 0:
        _per_pass(draft, cutter, clock, own, "all alike")
        return
    still = [looks[i + 1] for i in np.flatnonzero(np.diff(values) == 0)]
    if still:
        draft.warn(
            "clock_stands_still",
            f"{number_words(len(still))} of {cutter} at the same {clock.name} as the one before",
            clock.rows_of(np.array(still), draft),
            cutter=cutter,
            column=clock.name,
            hint="Two looks without cutting between them, or was the clock not read?",
        )


def number_words(count: int) -> str:
    """How many looks, in words."""
    return "one look" if count == 1 else f"{count} looks"


def _per_pass(draft: Draft, cutter: str, clock: _Clock, own: Ints, how: str) -> None:
    values = clock.at_look[own]
    sums = listed([f"{value:g}" for value in np.cumsum(values)], most=12)
    draft.error(
        "clock_counts_each_pass",
        clock.rows_of(own, draft),
        lambda row: (
            f"{draft.header_word(row, clock.name)} {draft.typed(row, clock.name)}: the values of this cutter are {how}"
        ),
        allowed="cumulative since new",
        hint=f"Does it count each pass? Added up it would be {sums}",
        column=clock.name,
        cutter=cutter,
    )


# ------------------------------------------------------------------ what belongs to the whole cutter


def _reading_numbers(draft: Draft, looks: Looks) -> None:
    """Skipped numbers and lone readings are facts worth knowing, not faults."""
    number = looks.take(draft.number("reading"))
    skip = ~looks.new_cutter[1:] & (number[1:] - number[:-1] > 1)
    loose = set(looks.unnumbered)
    skips = [looks.names[at] for at in np.unique(looks.cutter[1:][skip]) if looks.names[at] not in loose]
    if skips:
        draft.note("reading_numbers_skip", f"reading numbers skip in {_cutters(skips)}", column="reading")
    if looks.unnumbered:
        found = f"some rows of {_cutters(looks.unnumbered)} have no reading number: the order in the file was taken"
        draft.note("reading_numbers_lack", found, column="reading")
    if looks.by_zone:
        found = f"readings of {_cutters(looks.by_zone)} stand zone by zone and have no number: the clock gave the order"
        draft.note("ordered_by_clock", found, column="reading")
    measured = ~looks.take(draft.word("measure").equal("end"))
    new, cutter = looks.new_look, looks.cutter
    if not measured.all():
        cutter = cutter[measured]
        new = changes(cutter, looks.look[measured])
    count = np.bincount(cutter[new], minlength=len(looks.names))
    lone = [looks.names[at] for at in np.flatnonzero(count == 1)]
    if lone:
        draft.note("one_reading_only", f"one reading only in {_cutters(lone)}: no curve and no life from it")


def _cutters(names: list[str]) -> str:
    ordered = natural_sorted(names)
    return ("cutter " if len(ordered) == 1 else "cutters ") + listed(ordered)


def _constants(draft: Draft, looks: Looks) -> None:
    """What belongs to a cutter or its run is the same in all its rows; the minority value is named."""
    same = ~looks.new_cutter[1:]
    for column in with_scope("cutter", "run", "condition"):
        if column.name == "cutter" or column.name in draft.single or not _may_vary(draft, column.name):
            continue
        cells = draft.numbers[column.name] if column.name in draft.numbers else draft.words[column.name].codes
        ordered = looks.take(cells)
        moved = ordered[1:] != ordered[:-1]
        moved &= same
        at = np.flatnonzero(moved)
        if not len(at) and column.name in draft.numbers:
            looks.steady.add(column.name)
        if len(at) and column.name in draft.numbers:
            at = at[~(np.isnan(ordered[at]) & np.isnan(ordered[at + 1]))]
        for cutter in np.unique(looks.cutter[at]):
            _minority(draft, looks, int(cutter), column.name)


def _may_vary(draft: Draft, name: str) -> bool:
    return name in draft.numbers or (name in draft.words and len(draft.words[name].vocabulary) > 1)


def _minority(draft: Draft, looks: Looks, at: int, name: str) -> None:
    rows = looks.rows[stretch(looks.cutter, at)]
    cells = [
        f"{draft.numbers[name][row]:.10g}" if name in draft.numbers else draft.words[name].text(row) for row in rows
    ]
    filled = [(int(row), cell) for row, cell in zip(rows, cells, strict=True) if cell not in ("", "nan")]
    count = Counter(cell for _, cell in filled)
    if len(count) < 2:
        return
    usual = usual_of(count)
    odd = [row for row, cell in filled if cell != usual]
    words = listed(
        [repr(cell) if name in draft.words else cell for cell in sorted(set(count) - {usual}, key=natural_key)]
    )
    draft.warn(
        "varies_within_cutter",
        f"{words} where most rows have {usual!r}" if name in draft.words else f"{words} where most rows have {usual}",
        odd,
        cutter=looks.names[at],
        column=name,
        hint="The value of most rows was used; a cutter keeps its conditions for life",
    )


def usual_of(count: Counter[str]) -> str:
    """The word that stands most often; the first in natural order of several that are alike."""
    most = max(count.values())
    return min((word for word, times in count.items() if times == most), key=natural_key)


def _ends(draft: Draft) -> None:
    if "end_reason" not in draft.words:
        return
    names, rank = draft.cutter_ranks()
    column = draft.words["end_reason"]
    rows = np.flatnonzero(column.filled() & draft.good())
    for at in np.unique(rank[rows]):
        own = rows[rank[rows] == at]
        if len({column.text(int(row)) for row in own}) > 1:
            lines = listed([draft.line_of(int(row)) for row in own])
            draft.error(
                "two_end_reasons",
                own,
                lambda row: f"the run ended {column.text(row)} here and otherwise elsewhere",
                allowed="one end for one cutter",
                hint=f"Lines {lines} disagree: keep the right one",
                column="end_reason",
                cutter=names[at],
            )
