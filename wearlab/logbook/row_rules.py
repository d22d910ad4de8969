"""Rules that need one row alone: is it a reading, in which unit, and is it there once?"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

import numpy as np

from wearlab.core.errors import ArgumentError
from wearlab.core.units import TO_MM, length_unit
from wearlab.logbook.columns import CLOCKS, COLUMNS, MEASURES
from wearlab.logbook.draft import Draft, Words
from wearlab.logbook.findings import closest, listed, number_of, short
from wearlab.logbook.sheet import Bools, Floats, Ints

IDENTITY = ("cutter", "reading", "measure", "zone", "flute", "side", "height_mm", "pin_mm", "part", "repeat")
"""Two rows that share all of these are the same reading twice (the clock stands in where readings are not numbered)."""

WIDEST_LAND_MM = 5.0
"""No flank wear land of a cutter that still cuts is wider (common practice, no source): a slip of the unit."""

_BENCH = "Correct it from the bench sheet"


def check_rows(draft: Draft, responses: Iterable[str] = ()) -> None:
    """Apply every rule of one row; adds the column `value_mm` (own unit for a declared response).

    Parameters
    ----------
    draft : Draft
        With typed cells.
    responses : iterable of str
        Measures that the trial file declares.
    """
    declared = tuple(responses)
    _clock_present(draft)
    _measure_known(draft, declared)
    _values(draft, declared)
    _needs(draft)
    _zone_limits(draft)
    _hardness(draft)
    _flutes(draft)
    _duplicates(draft)


def _clock_present(draft: Draft) -> None:
    clocks = [name for name in CLOCKS if name in draft.numbers]
    none = np.ones(draft.size, dtype=bool)
    for name in clocks:
        none &= np.isnan(draft.numbers[name])
        if not none.any():
            return
    draft.error(
        "no_clock",
        none,
        "no clock on this row",
        column=clocks[0] if clocks else CLOCKS[0],
        allowed=f"at least one of {', '.join(CLOCKS)}",
        hint="A reading without a clock cannot be placed: fill it in",
    )


def _measure_known(draft: Draft, declared: tuple[str, ...]) -> None:
    words = [*MEASURES, *declared]
    spelling = {word.lower(): word for word in words}
    column = draft.word("measure")
    draft.words["measure"] = fixed = Words(
        column.codes, [spelling.get(cell.lower(), cell) for cell in column.vocabulary]
    )
    unknown = fixed.where(lambda word: word != "" and word not in words)
    draft.error(
        "unknown_measure",
        unknown,
        lambda row: f"measure {short(fixed.text(row))} is not known",
        allowed=", ".join(words),
        column="measure",
        hint=lambda row: closest(fixed.text(row), tuple(words)) or "Declare an own response in the trial file",
    )


def _values(draft: Draft, declared: tuple[str, ...]) -> None:
    """Convert values to mm; a blank value is a look at the clock alone."""
    measure, unit, value = draft.word("measure"), draft.word("unit"), draft.number("value")
    reading = measure.where(lambda word: word in MEASURES and word != "end")
    own_unit = measure.where(lambda word: word in declared)
    blank = np.isnan(value)
    if blank.any():
        _not_measured(draft, blank & (reading | own_unit) & draft.good())
    known = {word: factor for word in unit.vocabulary if (factor := _factor(word)) is not None}
    factors = unit.mapped(known)
    if len(known) < len(unit.vocabulary):
        _no_factor(draft, reading & ~blank & np.isnan(factors))
    value_mm = value * factors
    if not reading.all():
        value_mm = np.where(reading, value_mm, np.where(own_unit, value, np.nan))
    draft.numbers["value_mm"] = value_mm
    _possible_values(draft, reading)


def _not_measured(draft: Draft, rows: Bools) -> None:
    if not rows.any():
        return
    count = number_of(int(rows.sum()), "row has", "rows have")
    found = f"{count} no value: looked at the clock, not measured; used as exposure, never filled in"
    draft.note("not_measured", found, rows, column="value")


def _no_factor(draft: Draft, rows: Bools) -> None:
    """Values whose unit is missing or not known."""
    unit = draft.word("unit")
    missing = unit.equal("")
    allowed, hint = ", ".join(TO_MM), "The unit was not guessed: fill it in"
    draft.error("unit_missing", rows & missing, "a value without a unit", column="unit", allowed=allowed, hint=hint)
    draft.error(
        "unknown_unit",
        rows & ~missing,
        lambda row: f"unit {short(unit.text(row))} is not known",
        column="unit",
        allowed=allowed,
        hint=hint,
    )


def _factor(unit: str) -> float | None:
    try:
        return TO_MM[length_unit(unit)]
    except ArgumentError:
        return None


def _possible_values(draft: Draft, reading: Bools) -> None:
    measure, unit = draft.word("measure"), draft.word("unit")
    value_mm = draft.numbers["value_mm"]
    low = measure.mapped({name: one.low for name, one in MEASURES.items() if one.low is not None})
    negative = value_mm < low
    if negative.any():
        negative &= reading
    for table in ("wear", "walls") if negative.any() else ():
        words = {name for name, one in MEASURES.items() if one.table == table}
        own = negative & measure.where(words.__contains__)
        draft.error(
            f"negative_{table.removesuffix('s')}",
            own,
            lambda row: f"{measure.text(row)} {draft.typed(row, 'value')} {unit.text(row)} is negative",
            column="value",
            allowed="0 or more",
            hint=_BENCH,
        )
    wide = value_mm > WIDEST_LAND_MM
    if wide.any():  # a value beyond the limits of its column is blamed for that alone
        wide &= measure.equal("VB", "VBmax") & (draft.number("value") <= (COLUMNS["value"].high or np.inf))
    draft.error(
        "land_too_wide",
        wide,
        lambda row: f"a wear land of {draft.typed(row, 'value')} {unit.text(row)}",
        column="value",
        allowed=f"up to {WIDEST_LAND_MM:g} mm",
        hint=lambda row: _other_unit(value_mm, measure.equal("VB", "VBmax") & (draft.number("value") > 0), row),
    )
    zero = value_mm == 0
    if zero.any():
        _zero_wear(draft, zero & measure.equal("VB", "VBmax", "corner") & draft.good())


def _other_unit(value_mm: Floats, lands: Bools, row: int) -> str:
    """The unit that would bring a land among the other lands of the log."""
    others = value_mm[lands & (value_mm <= WIDEST_LAND_MM)]
    usual = float(np.median(others)) if len(others) else 0.2
    words = {"um": 1e-3, "thou": 0.0254, "mm, the point one place too far right": 0.1}
    unit = min(words, key=lambda word: abs(np.log(value_mm[row] * words[word] / usual)))
    return (
        f"typed in {unit}? That would be {value_mm[row] * words[unit]:.4g} mm; the other lands are about {usual:.2g} mm"
    )


def _zero_wear(draft: Draft, zero: Bools) -> None:
    """A worn edge read as zero is below what the instrument resolves, not zero; a new edge may well be zero."""
    zero = zero & (draft.number("reading") != 0)
    if zero.any():
        draft.note(
            "zero_wear",
            f"{number_of(int(zero.sum()), 'wear reading')} of 0 after the first look: below what the "
            "instrument resolves, not zero",
            zero,
            column="value",
        )


def _needs(draft: Draft) -> None:
    """Facts without which a row of this measure says nothing."""
    column = draft.word("measure")
    for name, measure in MEASURES.items():
        if not measure.needs or name not in column.vocabulary:
            continue
        rows = column.equal(name)
        for need in measure.needs:
            empty = ~draft.words[need].filled() if need in draft.words else np.isnan(draft.number(need))
            draft.error(
                "fact_missing",
                rows & empty,
                f"a row with measure {name} and no {need}",
                column=need,
                allowed=f"every row with measure {name} states {' and '.join(measure.needs)}",
                hint=f"Fill in {need}",
            )


def _zone_limits(draft: Draft) -> None:
    """A zone begins below where it ends."""
    if not {"zone_from_mm", "zone_to_mm"} <= set(draft.numbers):
        return
    low, high = draft.numbers["zone_from_mm"], draft.numbers["zone_to_mm"]
    draft.error(
        "zone_limits",
        low >= high,
        lambda row: f"a zone from {low[row]:g} to {high[row]:g} mm",
        column="zone_to_mm",
        allowed="zone_from_mm below zone_to_mm, both above the end face",
        hint="Were the two exchanged?",
    )


HARDNESS_RANGES = {"HB": (50.0, 750.0), "HV": (50.0, 1200.0), "HRC": (15.0, 72.0), "HRB": (20.0, 110.0)}
"""Where each scale is in use (common practice, no source)."""


def _hardness(draft: Draft) -> None:
    """A hardness without its scale says nothing, and each scale has its range."""
    if "hardness" not in draft.numbers:
        return
    hardness, scale = draft.numbers["hardness"], draft.word("hardness_scale")
    bare = np.isfinite(hardness) & ~scale.filled() & draft.good()
    if bare.any():
        draft.warn(
            "hardness_without_scale",
            f"hardness {hardness[np.flatnonzero(bare)[0]]:g} without a scale",
            bare,
            column="hardness",
            allowed=", ".join(HARDNESS_RANGES),
            hint="Fill in hardness_scale",
        )
    low, high = (scale.mapped({name: ends[i] for name, ends in HARDNESS_RANGES.items()}) for i in (0, 1))
    out = ((hardness < low) | (hardness > high)) & draft.good()
    if out.any():
        row = int(np.flatnonzero(out)[0])
        draft.warn(
            "hardness_out_of_scale",
            f"hardness {hardness[row]:g} {scale.text(row)}",
            out,
            column="hardness",
            allowed=f"{low[row]:g} to {high[row]:g} {scale.text(row)}",
            hint="Is it another scale?",
        )


def _flutes(draft: Draft) -> None:
    if "flute" not in draft.words:
        return
    column = draft.words["flute"]
    draft.words["flute"] = flute = Words(column.codes, [flute_word(word) for word in column.vocabulary])
    known = flute.where(lambda word: word in ("", "mean", "worst") or is_flute_number(word))
    draft.error(
        "unknown_flute",
        ~known,
        lambda row: f"flute {short(column.text(row))} is not known",
        column="flute",
        allowed="1, 2, ..., mean, worst, or blank when it is not known",
        hint=_BENCH,
    )
    teeth = draft.number("teeth")
    number = flute.mapped({word: float(word) for word in flute.vocabulary if is_flute_number(word)})
    draft.error(
        "flute_beyond_teeth",
        number > teeth,
        lambda row: f"flute {flute.text(row)} of a cutter with {number_of(int(teeth[row]), 'tooth', 'teeth')}",
        column="flute",
        allowed=lambda row: f"1 to {teeth[row]:g}",
        hint="Correct the flute, or the column teeth",
    )


def is_flute_number(word: str) -> bool:
    """Whether a flute is a single one, by its number."""
    return word.isascii() and word.isdecimal() and word[0] != "0"


def flute_word(text: str) -> str:
    """Standard spelling of a flute: a number without zeros and signs, mean, worst, or the text as it is.

    >>> flute_word("F03"), flute_word("2.0"), flute_word("Mean"), flute_word("x2")
    ('3', '2', 'mean', 'x2')
    """
    word = text.lower()
    match = re.fullmatch(r"f?\s*0*([1-9]\d?)(\.0+)?", word, re.ASCII)
    return match[1] if match else word


def _duplicates(draft: Draft) -> None:
    """An exact copy is set aside once; copies that disagree are all set aside."""
    judged = draft.good() & ~draft.word("measure").equal("end")
    names = [name for name in IDENTITY if name in draft.numbers or (name in draft.words and _varies(draft, name))]
    keys = {name: draft.key(name) for name in names}
    unnumbered = _not_numbered(draft, judged)
    if unnumbered.any():
        keys |= {name: np.where(unnumbered, draft.key(name), -1) for name in CLOCKS if name in draft.numbers}
        keys |= {name: np.where(unnumbered, -1, keys[name]) for name in ("reading",) if name in keys}
    key = combined_key(list(keys.values())) if keys else np.zeros(draft.size, dtype=np.int64)
    rows = np.arange(draft.size) if judged.all() else np.flatnonzero(judged)
    key = key if judged.all() else key[rows]
    rising = bool((key[1:] >= key[:-1]).all())
    if not rising and _all_different(key):
        return
    if not rising:
        order = np.argsort(key, kind="stable")
        key, rows = key[order], rows[order]
    follows = np.concatenate([[False], key[1:] == key[:-1]]) if len(rows) else np.zeros(0, dtype=bool)
    if not follows.any():
        return
    repeated = follows.copy()
    repeated[:-1] |= follows[1:]
    rows, follows = rows[repeated], follows[repeated]  # nearly all readings stand once
    group, starts = np.cumsum(~follows) - 1, np.flatnonzero(~follows)
    sizes = np.diff(np.append(starts, len(rows)))
    value = draft.number("value_mm")[rows]
    blank = np.add.reduceat(np.isnan(value).astype(np.int64), starts)
    alike = np.fmin.reduceat(value, starts) == np.fmax.reduceat(value, starts)
    same = (blank == sizes) | ((blank == 0) & alike)
    place = np.empty(draft.size, dtype=np.int64)
    place[rows] = np.arange(len(rows))

    def members(row: int) -> Ints:
        at = group[place[row]]
        return rows[starts[at] : starts[at] + sizes[at]]

    _blame_copies(draft, rows[follows & same[group]], rows[~same[group] & (sizes[group] > 1)], members)


def _not_numbered(draft: Draft, judged: Bools) -> Bools:
    """Rows of cutters of which not every reading has a number: there the clocks alone tell readings apart."""
    lacking = judged & np.isnan(draft.number("reading"))
    if not lacking.any():
        return lacking
    names, rank = draft.cutter_ranks()
    return (np.bincount(rank[lacking], minlength=len(names)) > 0)[rank]


def _varies(draft: Draft, name: str) -> bool:
    return len(draft.words[name].vocabulary) > 1


def _all_different(key: Ints) -> bool:
    """Whether no key stands twice."""
    import pandas as pd

    return not bool(pd.Series(key).duplicated().any())


def _blame_copies(draft: Draft, copies: Ints, conflicts: Ints, members: Callable[[int], Ints]) -> None:
    def lines(row: int) -> str:
        home = draft.file_of(row)
        words = [
            f"{draft.line_of(int(other))}"
            + ("" if draft.file_of(int(other)) == home else f" of {draft.file_of(int(other))}")
            for other in members(row)
        ]
        return listed(words)

    allowed = "one row a reading; number repeated measurements in the column repeat"
    draft.error(
        "duplicate_reading",
        copies,
        lambda row: f"the same reading on lines {lines(row)}",
        column="value",
        allowed=allowed,
        hint=lambda row: f"Line {draft.line_of(int(members(row)[0]))} was used",
    )
    draft.error(
        "conflicting_readings",
        conflicts,
        lambda row: f"the same reading on lines {lines(row)} with different values",
        column="value",
        allowed=allowed,
        hint="All of them were set aside: keep the right one",
    )


def combined_key(codes: list[Ints]) -> Ints:
    """One whole number a row that is equal where all codes are equal.

    >>> combined_key([np.array([0, 0, 1]), np.array([5, 5, 5])]).tolist()
    [0, 0, 1]
    """
    key = np.zeros(len(codes[0]) if codes else 0, dtype=np.int64)
    room = 1
    for one in codes:
        if not one.size:
            continue
        least, greatest = int(one.min()), int(one.max())
        span = greatest - least + 1
        if span == 1:
            continue
        if room * span >= 2**62:
            key = np.unique(key, return_inverse=True)[1].astype(np.int64)
            room = int(key.max()) + 1
        key *= span
        key += one
        key -= least
        room *= span
    return key
