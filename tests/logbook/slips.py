"""Clean simulated logs, and the slips of the pen that the entry-slip study plants in them, one at a time.

A trial of six cutters, two practices: four flutes, four zones, seven looks; each reading is off by 4 % of the land and
6 um (standard deviations, drawn apart), typed to 0.001 mm. A layered cutter never touches metal with its middle and
upper zones. Lives scatter by 0.20 (ln), flutes by 8 %.
"""

from __future__ import annotations

import csv
import io
import re
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from wearlab.core.errors import Refusal
from wearlab.logbook.read import read_log
from wearlab.simulate.dirty import plant

ZONES = ("corner", "lower", "middle", "upper")
FLUTES, LOOKS = 4, 7
SHARE, FLOOR_MM = 0.04, 0.006
STEM = {
    "layered": {"zones": (1.25, 1.0, 0.0, 0.0), "axial_depth_mm": 3.0, "radial_width_mm": 12.0, "life_min": 40.0},
    "side": {"zones": (1.1, 1.0, 0.9, 0.8), "axial_depth_mm": 9.0, "radial_width_mm": 4.0, "life_min": 80.0},
}
FACTS = {
    "cutter_material": "carbide",
    "diameter_mm": 12,
    "teeth": 4,
    "flute_length_mm": 26,
    "work_material": "42CrMo4",
    "cutting_speed_m_min": 70,
    "spindle_rpm": 1857,
    "feed_per_tooth_mm": 0.05,
    "passes": 3,
    "feature_width_mm": 12,
    "feature_depth_mm": 9,
    "feature_length_mm": 100,
}
RATE_CM3_MIN = 3 * 12 * 0.05 * 4 * 1857 / 1000


@dataclass
class Log:
    """Rows of a log as dictionaries of text; `land` is the true land of each wear row."""

    rows: list[dict[str, str]]
    land: list[float]
    planted: list[int] = field(default_factory=list)
    settings: str = ""

    def text(self) -> str:
        out = io.StringIO()
        names = list(dict.fromkeys(name for row in self.rows for name in row))
        writer = csv.DictWriter(out, names, lineterminator="\n", restval="")
        writer.writeheader()
        writer.writerows(self.rows)
        return out.getvalue()

    def where(self, **cells: str) -> list[int]:
        return [at for at, row in enumerate(self.rows) if all(row[name] == cell for name, cell in cells.items())]


def land_mm(age: float) -> float:
    """Land against age as a part of the life to 0.2 mm: break-in, steady, rapid."""
    rapid = max(age - 0.9, 0.0)
    return 0.04 * (1 - np.exp(-age / 0.06)) + 0.145 * age + 1.2 * rapid**1.5


def clean_log(rng: np.random.Generator, cutters: int = 6) -> Log:
    """A log without a slip."""
    log = Log([], [])
    for at in range(cutters):
        practice = "layered" if at % 2 == 0 else "side"
        _one_cutter(log, f"E{at + 1}", practice, rng)
    return log


def _one_cutter(log: Log, name: str, practice: str, rng: np.random.Generator) -> None:
    stem = STEM[practice]
    life = stem["life_min"] * np.exp(0.2 * rng.standard_normal())
    flute = np.exp(0.08 * rng.standard_normal(FLUTES))
    step = round(stem["life_min"] / 7.5, 1)
    for look in range(1, LOOKS + 1):
        minutes = round(step * look, 2)
        for z, zone in enumerate(ZONES):
            for f in range(FLUTES):
                true = land_mm(minutes / life) * stem["zones"][z] * flute[f]
                read = true * (1 + SHARE * rng.standard_normal()) + FLOOR_MM * rng.standard_normal()
                log.rows.append(_row(name, practice, look, minutes, zone, f + 1, max(read, 0.0)))
                log.land.append(true)
    end = dict(log.rows[-1])
    end |= {"measure": "end", "zone": "", "flute": "", "value": "", "unit": "", "end_reason": "worn"}
    log.rows.append(end)
    log.land.append(0.0)


def _row(name: str, practice: str, look: int, minutes: float, zone: str, flute: int, value: float) -> dict[str, str]:
    stem = STEM[practice]
    cells = {
        "cutter": name,
        **FACTS,
        "strategy": practice,
        "axial_depth_mm": stem["axial_depth_mm"],
        "radial_width_mm": stem["radial_width_mm"],
        "reading": look,
        "cutting_time_min": f"{minutes:g}",
        "volume_cm3": f"{minutes * RATE_CM3_MIN:.1f}",
        "measure": "VB",
        "zone": zone,
        "flute": flute,
        "value": f"{value:.3f}",
        "unit": "mm",
        "end_reason": "",
    }
    return {key: cell if isinstance(cell, str) else f"{cell:g}" for key, cell in cells.items()}


# ------------------------------------------------------------------ the study

EXPECTED: dict[str, tuple[tuple[str, ...], str]] = {
    "ten_fold_up": (("reading_out_of_line", "land_too_wide"), r"10 times too large|one place too far"),
    "ten_fold_down": (("reading_out_of_line",), r"10 times too small"),
    "swapped_digits": (("reading_out_of_line", "wear_falls"), r"digits exchanged"),
    "thou_in_mm": (("reading_out_of_line", "land_too_wide"), r"thou"),
    "um_in_mm": (("reading_out_of_line", "land_too_wide", "out_of_range"), r"typed in um|um typed"),
    "negative": (("negative_wear",), r"negative"),
    "decimal_comma": (("not_a_number", "too_many_cells"), r"[Pp]oint|comma"),
    "text_in_number": (("not_a_number",), r"no number"),
    "word_in_number": (("not_a_number",), r"no number"),
    "date_in_number": (("not_a_number",), r"spreadsheet"),
    "unit_missing": (("unit_missing",), r"without a unit"),
    "unknown_unit": (("unknown_unit",), r"not known"),
    "unknown_measure": (("unknown_measure",), r"VB"),
    "unknown_zone": (("misspelt_word",), r"[Dd]id you mean lower"),
    "unknown_end_reason": (("unknown_word",), r"[Dd]id you mean worn"),
    "end_without_reason": (("fact_missing",), r"end_reason"),
    "flute_beyond_teeth": (("flute_beyond_teeth",), r"teeth"),
    "no_clock": (("no_clock", "clock_missing"), r"clock"),
    "inch_in_mm_whole_cutter": (("whole_cutter_off",), r"in typed as mm"),
    "seconds_for_minutes": (("contradiction", "clocks_disagree"), r"60"),
    "cycle_time": (("contradiction", "clocks_disagree"), r"[Cc]ycle"),
    "inch_diameter": (("contradiction",), r"25\.4"),
    "feet_for_metres": (("contradiction",), r"3\.28"),
    "rpm_in_speed": (("contradiction",), r"rev/min"),
    "feed_rate_in_feed": (("contradiction", "out_of_range"), r"feed"),
    "depth_width_swapped": (("depth_and_width_swapped",), r"exchanged"),
    "condition_varies": (("varies_within_cutter",), r"most rows"),
    "time_goes_back": (("time_goes_back", "clocks_disagree"), r"goes back"),
    "per_pass_minutes": (("clock_counts_each_pass", "clocks_disagree"), r"each pass"),
    "duplicate": (("duplicate_reading",), r"same reading"),
    "conflicting_duplicate": (("conflicting_readings",), r"different values"),
    "max_below_mean": (("mean_above_max",), r"above VBmax"),
    "missing_flute": (("flute_missing",), r"missing"),
    "copy_of_last": (("copied_reading",), r"copied"),
    "swapped_cutters": (("look_out_of_line", "wear_falls_everywhere", "wear_falls"), r"the two exchanged"),
    "fresh_cutter": (("wear_falls_everywhere",), r"changed"),
    "wear_falls": (("wear_falls", "look_out_of_line", "reading_out_of_line"), r"falls|does not fit|out of line|say"),
    "swapped_zones": (("look_out_of_line", "wear_falls"), r"zones .* exchanged"),
    "near_duplicate_id": (("near_duplicate_cutter",), r"may be one"),
    "two_end_reasons": (("two_end_reasons",), r"end"),
    "decimal_comma_column": (("decimal_comma", "not_a_number"), r"comma|point"),
}
"""Slip of the planter -> codes that count as caught, and words that name the cause."""

NOT_DECIDABLE = ("swapped_flutes",)
"""Leaves no trace in the mean of the flutes, and none that could be told from scatter."""


@dataclass(frozen=True)
class Outcome:
    """What became of one planted slip."""

    caught: bool
    named: bool
    beside: tuple[str, ...]


def judge(text: str, slip: str, lines: set[int], cutters: set[str], folder: Path) -> Outcome:
    """Read a log with one slip in it: was it caught at its place, and named rightly?"""
    path = folder / "slip.csv"
    path.write_text(text, encoding="utf-8")
    codes, words = EXPECTED[slip]
    caught = named = False
    beside = []
    for finding in read_log(path).findings:
        here = bool(lines & set(finding.lines)) or finding.cutter in cutters or finding.line is None
        if finding.code in codes and here:
            caught = True
            named = named or re.search(words, finding.text(), re.IGNORECASE) is not None
        elif finding.severity != "note":
            beside.append(finding.code)
    return Outcome(caught, named, tuple(beside))


def study(slip: str, trials: int, seed: int, folder: Path) -> list[Outcome]:
    """Plant one slip in so many clean logs, each with its own seed."""
    outcomes = []
    for i in range(trials):
        rng = np.random.default_rng([seed, i])
        try:
            planted = plant(clean_log(rng).text(), slip, rng)
        except Refusal:
            continue
        outcomes.append(judge(planted.text(), slip, set(planted.lines), set(planted.cutters), folder))
    return outcomes


def false_alarms(trials: int, seed: int, folder: Path) -> int:
    """How many of so many clean logs have a warning or an error."""
    count = 0
    for i in range(trials):
        path = folder / "clean.csv"
        path.write_text(clean_log(np.random.default_rng([seed, i])).text(), encoding="utf-8")
        count += any(finding.severity != "note" for finding in read_log(path).findings)
    return count


def main(trials: int, names: list[str]) -> None:
    """Print the table of the study."""
    with tempfile.TemporaryDirectory() as folder:
        clean = false_alarms(trials, 1, Path(folder))
        print(f"clean logs with any warning or error: {clean} of {trials}\n")
        print("| slip | planted | caught | cause named (of caught) | other findings |\n|---|---|---|---|---|")
        for slip in names or EXPECTED:
            found = study(slip, trials, 2, Path(folder))
            if not found:
                print(f"| {slip} | 0 | | | no place for it |")
                continue
            caught = sum(one.caught for one in found)
            named = sum(one.named for one in found)
            beside = Counter(code for one in found for code in set(one.beside)).most_common(2)
            words = ", ".join(f"{code} {count}" for code, count in beside)
            rate = f"{100 * caught / len(found):.1f} %"
            print(f"| {slip} | {len(found)} | {rate} | {100 * named / max(caught, 1):.1f} % | {words} |", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200, sys.argv[2:])
