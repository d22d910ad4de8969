"""Slips over several rows: a look, a cutter, a pair of cutters, rows too many or too few."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from wearlab.simulate.slips import (
    Edit,
    NoPlace,
    Slip,
    a_cutter,
    a_look,
    lands,
    looks,
    need,
    of_look,
    one,
    put,
    short,
    wear_of_look,
)

if TYPE_CHECKING:
    import pandas as pd

_PLACE = ["zone", "flute"]


def _whole_cutter(column: str, change: Callable[[float], float], words: str) -> Callable[..., Edit]:
    """A column changed in all rows of a cutter that fill it; of the values only lands in mm."""

    def plant(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
        need(table, column)
        cutter = a_cutter(table, rng, wear=column == "value")
        own = ((table["cutter"] == cutter) & (table[column] != "")).to_numpy()
        rows = np.intersect1d(np.flatnonzero(own), lands(table)) if column == "value" else np.flatnonzero(own)
        if not len(rows):
            raise NoPlace(f"cutter {cutter} has no {column}")
        put(table, rows, column, [short(change(float(cell))) for cell in table[column].iloc[rows]])
        return Edit(table, tuple(rows), (column,), f"{cutter}: {column} {words} in all rows")

    return plant


def _other_column(
    column: str, source: Callable[[dict[str, float]], float], *wanted: str
) -> Callable[..., Edit]:
    """A condition of a whole cutter that holds another quantity."""

    def plant(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
        need(table, column, *wanted)
        cutter = a_cutter(table, rng, wear=False)
        rows = np.flatnonzero((table["cutter"] == cutter).to_numpy())
        facts = {name: float(table[name].iloc[rows[0]] or "nan") for name in wanted}
        new, old = short(source(facts)), table[column].iloc[rows[0]]
        if new == "nan":
            raise NoPlace(f"cutter {cutter} lacks {' or '.join(wanted)}")
        put(table, rows, column, new)
        return Edit(table, tuple(rows), (column,), f"{cutter}: {column} {old} -> {new} in all rows")

    return plant


def _depth_width_swapped(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    need(table, "axial_depth_mm", "radial_width_mm")
    cutter = a_cutter(table, rng, wear=False)
    rows = np.flatnonzero((table["cutter"] == cutter).to_numpy())
    depth, width = (table[name].iloc[rows].tolist() for name in ("axial_depth_mm", "radial_width_mm"))
    put(table, rows, "axial_depth_mm", width)
    put(table, rows, "radial_width_mm", depth)
    return Edit(
        table, tuple(rows), ("axial_depth_mm", "radial_width_mm"), f"{cutter}: depth and width exchanged"
    )


def _condition_varies(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """One look with another feed: a slip, or a setting that was changed without a note."""
    need(table, "feed_per_tooth_mm")
    cutter, reading = a_look(table, rng, after=1)
    rows = np.flatnonzero(of_look(table, cutter, reading))
    put(
        table,
        rows,
        "feed_per_tooth_mm",
        [short(1.5 * float(cell)) for cell in table["feed_per_tooth_mm"].iloc[rows]],
    )
    return Edit(table, tuple(rows), ("feed_per_tooth_mm",), f"{cutter}: another feed at reading {reading}")


def _time_goes_back(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """The minutes of a look fall behind those of the look before."""
    need(table, "cutting_time_min")
    cutter, reading = a_look(table, rng, after=1)
    earlier = _look_before(table, cutter, reading)
    before = float(table["cutting_time_min"].iloc[np.flatnonzero(of_look(table, cutter, earlier))[0]])
    rows, new = np.flatnonzero(of_look(table, cutter, reading)), short(round(before * 0.8, 2))
    put(table, rows, "cutting_time_min", new)
    return Edit(
        table, tuple(rows), ("cutting_time_min",), f"{cutter}: reading {reading} at {new} min, back in time"
    )


def _per_pass_minutes(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """Minutes since the last look instead of since new."""
    need(table, "cutting_time_min", "reading")
    cutter = a_look(table, rng, after=2)[0]
    rows = np.flatnonzero((table["cutter"] == cutter).to_numpy())
    minutes = table["cutting_time_min"].iloc[rows].astype(float)
    by_look = minutes.groupby(table["reading"].iloc[rows].astype(float)).first().sort_index()
    steps = by_look.diff().fillna(by_look)
    new = [short(round(steps[float(reading)], 2)) for reading in table["reading"].iloc[rows]]
    put(table, rows, "cutting_time_min", new)
    return Edit(table, tuple(rows), ("cutting_time_min",), f"{cutter}: minutes of each look, not since new")


def _duplicate(table: pd.DataFrame, rng: np.random.Generator, factor: float = 1.0) -> Edit:
    """A land reading entered twice."""
    row = one(lands(table, 0.03), rng, "no land above 0.03 mm")
    table = _with_row(table, row, row)
    value = table["value"].iloc[row]
    if factor != 1.0:
        put(table, [row + 1], "value", short(float(value) * factor))
    return Edit(
        table,
        (row, row + 1),
        ("value",),
        f"{table['cutter'].iloc[row]}: {value} and {table['value'].iloc[row + 1]}",
    )


def _conflict(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    return _duplicate(table, rng, 1.2)


def _max_below_mean(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """A greatest land that is smaller than the mean land of the same place."""
    row = one(lands(table, 0.03), rng, "no land above 0.03 mm")
    table = _with_row(table, row, row)
    new = short(0.7 * float(table["value"].iloc[row]))
    put(table, [row + 1], "value", new)
    put(table, [row + 1], "measure", "VBmax")
    what = f"{table['cutter'].iloc[row]}: mean {table['value'].iloc[row]}, greatest {new}"
    return Edit(table, (row, row + 1), ("value",), what)


def _missing_flute(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """One flute of one zone was not entered at a look."""
    need(table, "zone", "flute", "reading")
    wear = table.iloc[lands(table)]
    groups = [own for _, own in wear.groupby(["cutter", "reading", "zone"], sort=False) if len(own) > 2]
    rows = groups[one(range(len(groups)), rng, "no look with three flutes")].index.to_numpy()
    lost = one(rows, rng, "")
    what = f"{table['cutter'].iloc[lost]}: flute {table['flute'].iloc[lost]} left out"
    left = [int(row) - (row > lost) for row in rows if row != lost]
    return Edit(table.drop(index=lost).reset_index(drop=True), tuple(left), ("flute",), what)


def _copy_of_last(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """The lands of a look are those of the look before."""
    need(table, *_PLACE)
    cutter, reading = a_look(table, rng, after=1)
    return _from_look(table, cutter, reading, cutter, _look_before(table, cutter, reading), "copied from")


def _swapped_cutters(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """Two cutters measured at one look under each other's name."""
    need(table, *_PLACE)
    found = looks(table, after=1)
    pairs = [(a, b) for i, a in enumerate(found) for b in found[i + 1 :] if a[1] == b[1] and a[0] != b[0]]
    (first, reading), (second, _) = pairs[one(range(len(pairs)), rng, "no two cutters with the same look")]
    old = table.copy()
    one_way = _from_look(table, first, reading, second, reading, "entered from", old)
    other_way = _from_look(table, second, reading, first, reading, "entered from", old)
    what = f"{first} and {second} exchanged at reading {reading}"
    return Edit(table, one_way.rows + other_way.rows, ("value",), what)


def _fresh_cutter(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """From one look on another, new cutter is measured under the old name."""
    need(table, *_PLACE)
    cutter, reading = a_look(table, rng, after=2, before=1)
    order = [look for name, look in looks(table) if name == cutter]
    start, old = order.index(reading), table.copy()
    rows: tuple[int, ...] = ()
    for step, look in enumerate(order[start:]):
        rows += _from_look(table, cutter, look, cutter, order[step], "as new from", old).rows
    return Edit(table, rows, ("value",), f"{cutter}: a new cutter from reading {reading} on")


def _wear_falls(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """All flutes of a zone read too low at one look."""
    need(table, "zone")
    cutter, reading = a_look(table, rng, after=2)
    rows = np.intersect1d(wear_of_look(table, cutter, reading), lands(table, 0.05))
    if not len(rows):
        raise NoPlace(f"no land above 0.05 mm at reading {reading} of {cutter}")
    zone = table["zone"].iloc[one(rows, rng, "")]
    rows = rows[(table["zone"].iloc[rows] == zone).to_numpy()]
    put(table, rows, "value", [short(round(0.5 * float(cell), 3)) for cell in table["value"].iloc[rows]])
    return Edit(table, tuple(rows), ("value",), f"{cutter}: zone {zone} halved at reading {reading}")


def _swapped_zones(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """The first and the last zone of a look exchanged."""
    need(table, *_PLACE)
    cutter, reading = a_look(table, rng, after=2)
    rows = wear_of_look(table, cutter, reading)
    zones = list(dict.fromkeys(table["zone"].iloc[rows]))
    if len(zones) < 2:
        raise NoPlace("one zone only")
    low, high = (rows[(table["zone"].iloc[rows] == zone).to_numpy()] for zone in (zones[0], zones[-1]))
    count = min(len(low), len(high))
    return _exchange(
        table, low[:count], high[:count], f"{cutter}: {zones[0]} and {zones[-1]} exchanged at {reading}"
    )


def _swapped_flutes(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """Two flutes of a look exchanged: leaves no trace in the mean of the flutes."""
    need(table, *_PLACE)
    cutter, reading = a_look(table, rng, after=1)
    rows = wear_of_look(table, cutter, reading)
    flutes = list(dict.fromkeys(table["flute"].iloc[rows]))
    if len(flutes) < 2:
        raise NoPlace("one flute only")
    first, second = (rows[(table["flute"].iloc[rows] == flute).to_numpy()] for flute in flutes[:2])
    count = min(len(first), len(second))
    what = f"{cutter}: flutes {flutes[0]} and {flutes[1]} exchanged at {reading}"
    return _exchange(table, first[:count], second[:count], what)


def _near_duplicate_id(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """One look under a name that is nearly the cutter's."""
    cutter, reading = a_look(table, rng, after=1)
    variants = [
        v for v in (cutter.lower(), cutter.replace("E", "E0"), f"{cutter[0]}-{cutter[1:]}") if v != cutter
    ]
    new = variants[one(range(len(variants)), rng, "")]
    rows = np.flatnonzero(of_look(table, cutter, reading))
    put(table, rows, "cutter", new)
    return Edit(table, tuple(rows), ("cutter",), f"{cutter} written {new} at reading {reading}")


def _two_end_reasons(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    need(table, "end_reason", "measure")
    row = one(np.flatnonzero((table["end_reason"] != "").to_numpy()), rng, "no end")
    table = _with_row(table, row, row)
    new = "broken" if table["end_reason"].iloc[row] != "broken" else "worn"
    put(table, [row + 1], "end_reason", new)
    what = f"{table['cutter'].iloc[row]}: {table['end_reason'].iloc[row]} and {new}"
    return Edit(table, (row, row + 1), ("end_reason",), what)


def _comma_column(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """A comma for the point in every value."""
    rows = np.flatnonzero(table["value"].astype(str).str.contains(".", regex=False).to_numpy())
    if not len(rows):
        raise NoPlace("no value with decimals")
    put(table, rows, "value", [str(cell).replace(".", ",") for cell in table["value"].iloc[rows]])
    return Edit(table, tuple(rows), ("value",), "decimal commas in all values")


def _look_before(table: pd.DataFrame, cutter: str, reading: str) -> str:
    order = [look for name, look in looks(table) if name == cutter]
    return order[order.index(reading) - 1]


def _from_look(
    table: pd.DataFrame,
    cutter: str,
    reading: str,
    other: str,
    look: str,
    words: str,
    old: pd.DataFrame | None = None,
) -> Edit:
    """Lands of one look written over those of another, zone by zone and flute by flute."""
    source = table if old is None else old
    taken = source.iloc[wear_of_look(source, other, look)]
    cells = {tuple(place): value for *place, value in taken[[*_PLACE, "value"]].itertuples(index=False)}
    rows = wear_of_look(source, cutter, reading)
    places = list(table[_PLACE].iloc[rows].itertuples(index=False, name=None))
    both = [(row, cells[place]) for row, place in zip(rows, places, strict=True) if place in cells]
    if not both:
        raise NoPlace("no zone and flute in common")
    written = put(table, [row for row, _ in both], "value", [cell for _, cell in both])
    return Edit(table, written, ("value",), f"{cutter} reading {reading} {words} {other} reading {look}")


def _exchange(table: pd.DataFrame, first: np.ndarray, second: np.ndarray, what: str) -> Edit:
    a, b = (table["value"].iloc[rows].tolist() for rows in (first, second))
    put(table, first, "value", b)
    put(table, second, "value", a)
    return Edit(table, (*map(int, first), *map(int, second)), ("value",), what)


def _with_row(table: pd.DataFrame, copy_of: int, after: int) -> pd.DataFrame:
    """The table with a copy of one row put in after another."""
    order = np.insert(np.arange(len(table)), after + 1, copy_of)
    return table.iloc[order].reset_index(drop=True)


ROW_SLIPS: dict[str, Slip] = {
    "inch_in_mm_whole_cutter": Slip(
        "inches typed under mm for a whole cutter",
        _whole_cutter("value", lambda x: round(x / 25.4, 4), "in inches"),
    ),
    "seconds_for_minutes": Slip(
        "seconds typed under minutes for a whole cutter",
        _whole_cutter("cutting_time_min", lambda x: 60 * x, "in seconds"),
    ),
    "cycle_time": Slip(
        "cycle time in place of time in the metal",
        _whole_cutter("cutting_time_min", lambda x: round(1.5 * x, 2), "as cycle time"),
    ),
    "inch_diameter": Slip(
        "a diameter in inches under mm",
        _whole_cutter("diameter_mm", lambda x: round(x / 25.4, 4), "in inches"),
    ),
    "feet_for_metres": Slip(
        "feet a minute under m/min",
        _whole_cutter("cutting_speed_m_min", lambda x: round(x / 0.3048), "in ft/min"),
    ),
    "rpm_in_speed": Slip(
        "revolutions in the place of the speed",
        _other_column("cutting_speed_m_min", lambda f: f["spindle_rpm"], "spindle_rpm"),
    ),
    "feed_rate_in_feed": Slip(
        "mm a minute in the place of mm a tooth",
        _other_column(
            "feed_per_tooth_mm",
            lambda f: round(f["feed_per_tooth_mm"] * f["teeth"] * f["spindle_rpm"]),
            "feed_per_tooth_mm",
            "teeth",
            "spindle_rpm",
        ),
    ),
    "depth_width_swapped": Slip("axial depth and radial width exchanged", _depth_width_swapped),
    "condition_varies": Slip("another feed at one look", _condition_varies),
    "time_goes_back": Slip("minutes that fall behind the look before", _time_goes_back),
    "per_pass_minutes": Slip("minutes of each look instead of since new", _per_pass_minutes),
    "duplicate": Slip("a reading entered twice", _duplicate),
    "conflicting_duplicate": Slip("a reading entered twice with different values", _conflict),
    "max_below_mean": Slip("a greatest land below the mean land", _max_below_mean),
    "missing_flute": Slip("a flute left out at one look", _missing_flute),
    "copy_of_last": Slip("the lands of the look before entered again", _copy_of_last),
    "swapped_cutters": Slip("two cutters exchanged at one look", _swapped_cutters),
    "fresh_cutter": Slip("another cutter under the old name from one look on", _fresh_cutter),
    "wear_falls": Slip("one zone read at half its land", _wear_falls),
    "swapped_zones": Slip("two zones exchanged at one look", _swapped_zones),
    "swapped_flutes": Slip("two flutes exchanged at one look; leaves no trace", _swapped_flutes),
    "near_duplicate_id": Slip("a cutter's name spelt in another way at one look", _near_duplicate_id),
    "two_end_reasons": Slip("a run that ended in two ways", _two_end_reasons),
    "decimal_comma_column": Slip("commas for points in all values", _comma_column),
}
"""Slips of several rows, by name."""
