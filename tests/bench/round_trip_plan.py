"""Plan, blank log, a simulated shop that fills it with slips, check, compare, verdict: many times, by seed.

Run: python tests/bench/round_trip_plan.py [trials]      (200 trials of each truth take a few minutes on one core)

Prints, for true ratios of life of 1 and 2, how often each verdict was reached beside the chance that the plan promised.
Everything here is invented and simulated.
"""

from __future__ import annotations

import math
import sys
import tempfile
import tomllib
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from wearlab.compare.compare import compare
from wearlab.core.errors import Refusal
from wearlab.logbook.read import read_log
from wearlab.logbook.trial import Trial
from wearlab.plan.against import AgainstPlan, against_plan
from wearlab.plan.blank_log import blank_rows, log_text, unfilled
from wearlab.plan.example import EXAMPLE
from wearlab.plan.layout import chances
from wearlab.plan.order import Run
from wearlab.plan.plan import Plan, make_plan
from wearlab.plan.request import Request
from wearlab.plan.request_file import request_of
from wearlab.plan.scatter import sigma_of_cv
from wearlab.plan.sizes import layout_of
from wearlab.plan.trial_file import trial_text
from wearlab.simulate.dirty import plant, slip_names
from wearlab.simulate.land import LandCurve

LIFE_MIN = 40.0
"""True median life of the standard in the zone that decides."""
CORNER = 0.9
"""True life of the corner over that of the lower zone."""


@dataclass(frozen=True)
class Shop:
    """The truth of a simulated shop.

    Attributes
    ----------
    ratio : float
        True ratio of lives, practice over standard.
    slips : float
        Entry slips expected in one log.
    drop_out : float or None
        Chance that a cutter is withdrawn still good; the plan's when None.
    """

    ratio: float
    slips: float = 1.0
    drop_out: float | None = None
    land_mm: float = 0.008
    set_up_mm: float = 0.004
    flute_scatter: float = 0.08


def request_with(seed: int, **size: float | int | None) -> Request:
    """The example request with another seed and size."""
    request = request_of(tomllib.loads(EXAMPLE))
    return replace(request.with_seed(seed), size=replace(request.size, **size))


def fill(plan: Plan, shop: Shop, rng: np.random.Generator) -> pd.DataFrame:
    """The blank log of a plan as a shop hands it back, before any slip."""
    scatter = plan.request.scatter
    sigma = sigma_of_cv(scatter.cv)
    blocks = {block: rng.standard_normal() for block in dict.fromkeys(run.block for run in plan.runs)}
    rows = blank_rows(plan)
    filled = []
    for run in plan.runs:
        own, common = math.sqrt(1 - scatter.correlation), math.sqrt(scatter.correlation)
        noise = sigma * (own * rng.standard_normal() + common * blocks[run.block])
        median = LIFE_MIN * (1.0 if run.strategy == plan.request.standard else shop.ratio)
        filled.append(
            _one(plan, run, rows[rows["cutter"] == run.cutter], median * math.exp(noise), shop, rng)
        )
    return pd.concat(filled, ignore_index=True)


def _one(
    plan: Plan, run: Run, rows: pd.DataFrame, life: float, shop: Shop, rng: np.random.Generator
) -> pd.DataFrame:
    """Rows of one cutter, up to the look at which it ended."""
    looks, arm, criterion = plan.looks_of(run), plan.arm_of(run), plan.criteria[0]
    assert looks is not None
    depth = float(arm.facts()["axial_depth_mm"])
    ages = {
        zone: life * (CORNER if zone == "corner" else 1.0) if low < depth else math.inf
        for zone, (low, _) in plan.zones.items()
    }
    teeth = plan.request.cutter.teeth
    offset = shop.flute_scatter * rng.standard_normal(teeth)
    offset -= offset.mean()
    curve = LandCurve(limit_mm=criterion.limit)
    lost = plan.request.scatter.drop_out if shop.drop_out is None else shop.drop_out
    taken = int(rng.integers(1, len(looks.parts) + 1)) if rng.random() < lost else 0
    kept, last, reason = [], 0, "budget"
    for reading, (parts, minutes) in enumerate(zip(looks.parts, looks.minutes, strict=True), start=1):
        own = rows[rows["reading"] == str(reading)].copy()
        set_up = shop.set_up_mm * rng.standard_normal()
        lands = {
            (zone, str(flute + 1)): _read(
                float(curve.land_mm(minutes / age)) * (1 + offset[flute]), set_up, shop, rng
            )
            for zone, age in ages.items()
            for flute in range(teeth)
        }
        cells = zip(own["zone"], own["flute"], strict=True)
        own["value"] = [f"{1000 * lands[key]:.0f}" if key in lands else "" for key in cells]
        _stamp(own, parts, minutes, parts * arm.part_cm3)
        kept.append(own)
        last = reading
        mean = np.mean([lands[criterion.zone, str(flute + 1)] for flute in range(teeth)])
        if mean >= criterion.limit or reading == taken:
            reason = "worn" if mean >= criterion.limit else "withdrawn"
            break
    end = rows[rows["measure"] == "end"].copy()
    end["reading"], end["end_reason"], end["note"] = str(last), reason, ""
    parts = looks.parts[last - 1]
    _stamp(end, parts, looks.minutes[last - 1], parts * arm.part_cm3)
    whole = pd.concat([*kept, end])
    # The turn really made is typed once a cutter.
    return whole.assign(run_order=[str(run.order), *[""] * (len(whole) - 1)])


def _read(land: float, set_up: float, shop: Shop, rng: np.random.Generator) -> float:
    """A land as read, to 0.001 mm; one too narrow to be seen is 0."""
    return max(round(land + set_up + shop.land_mm * rng.standard_normal(), 3), 0.0) if land > 0.005 else 0.0


def _stamp(rows: pd.DataFrame, parts: int, minutes: float, cm3: float) -> None:
    rows["parts"], rows["cutting_time_min"], rows["volume_cm3"] = str(parts), f"{minutes:.2f}", f"{cm3:.3f}"
    rows["instrument"], rows["operator"], rows["note"] = "microscope", "A.B.", ""


def with_slips(rows: pd.DataFrame, expected: float, rng: np.random.Generator) -> tuple[str, list[str]]:
    """The log with some slips planted one after the other, and their names."""
    text, planted = log_text(rows), []
    for _ in range(int(rng.poisson(expected))):
        name = str(rng.choice(slip_names()))
        try:
            text = plant(text, name, rng).text()
        except (Refusal, ValueError):  # no place for it, or a slip before has left a cell that is no number
            continue
        planted.append(name)
    return text, planted


@dataclass(frozen=True)
class Trip:
    """One way from plan to verdict."""

    verdict: str
    shown: bool
    errors: int
    slips: tuple[str, ...]
    against: AgainstPlan
    trial: Trial


def trip(plan: Plan, shop: Shop, seed: int, folder: Path) -> Trip:
    """Fill, write, read, hold against the plan, compare."""
    rng = np.random.default_rng(seed)
    rows = fill(plan, shop, rng)
    assert not any(unfilled(row) for row in rows.to_dict("records"))
    text, slips = with_slips(rows, shop.slips, rng)
    log = folder / f"{plan.request.name}.csv"
    log.write_text(text, encoding="utf-8")
    log.with_suffix(".toml").write_text(trial_text(plan), encoding="utf-8")
    trial = read_log(log)
    try:
        found = compare(trial, trial.settings.criteria[0], outcomes=["life"])
        one = found.contrasts[0]
        verdict, shown = one.verdict or "none", one.verdict is not None and not one.interval.contains(1.0)
    except Refusal:
        verdict, shown = "none", False
    return Trip(verdict, shown, trial.errors(), tuple(slips), against_plan(plan, trial), trial)


def run(trials: int, ratio: float, slips: float, cutters: int | None = None) -> None:
    """Many trips; a table of verdicts beside what was promised."""
    counts: Counter[str] = Counter()
    shown = errors = 0
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(trials):
            plan = make_plan(request_with(seed, cutters=cutters))
            one = trip(plan, Shop(ratio, slips), 10_000 + seed, Path(folder))
            counts[one.verdict] += 1
            shown += one.shown
            errors += bool(one.errors)
    size = plan.request.size
    layout = layout_of(plan.request, plan.cutters, "life")
    promised = chances(layout, math.log(ratio), math.log(size.margin), size.level)
    error = math.sqrt(max(promised.shown * (1 - promised.shown), 1e-9) / trials)
    print(
        f"\ntrue ratio {ratio:g}, {plan.cutters} cutters a practice, {slips:g} slips a log, {trials} trials"
    )
    print(
        f"  difference shown {shown / trials:.3f}, promised {promised.shown:.3f} (Monte-Carlo error {error:.3f})"
    )
    for verdict, chance in promised.to_dict().items():
        print(f"  {verdict:15s} {counts[verdict] / trials:.3f}, promised {chance:.3f}")
    print(
        f"  no verdict      {counts['none'] / trials:.3f}; logs with errors {errors / trials:.3f}", flush=True
    )


if __name__ == "__main__":
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    run(wanted, 2.0, 0.0)
    run(wanted, 2.0, 1.0)
    run(wanted, 1.0, 1.0)
