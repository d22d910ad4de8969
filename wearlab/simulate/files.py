"""The files of the demonstration trial: log, trial file, truth and note."""

from __future__ import annotations

import json
import os
from collections import Counter
from pathlib import Path

from wearlab.core.errors import FileProblem
from wearlab.core.tables import natural_sorted
from wearlab.simulate.shoulder import SEED, shoulder_spec
from wearlab.simulate.trial import SimulatedTrial, simulate_trial

STEM = "shoulder_demo"

_TRIAL = """\
# The shoulder demonstration: invented, simulated. See shoulder_demo.md.

[trial]
question = "Three layers at full width or three side passes at full depth: which gives a cutter more steps?"
standard = "layered"
seed = {seed}

[[criterion]]
name = "roughing"
text = "lower:VB.mean=0.2mm"

[[criterion]]
name = "any flute"
text = "VB.worst=0.3mm"

[decision]
outcome = "life"
margin = 1.25
level = 0.95

[match]
rule = "equal cutting speed, feed per tooth and removal rate"

[zones]
{zones}

[wear]
break_in = 0.1

[wall]
tolerance_um = 50

[counting]
part = "one step 12 mm wide, 9 mm deep, 100 mm long"

[cost]
currency = "EUR"
machine_per_min = 1.2
change_min = 4
scrap = 35
failure = 120
parts_per_year = 4000
"""

_NOTE = """\
# shoulder_demo: INVENTED, SIMULATED

Nothing in this trial was measured. Shop, part, cutters, people and figures are made up, so that every step
from a log to a verdict can be shown on a log whose truth is known.

| file | what it is |
|---|---|
| shoulder_demo.csv | the log, one row a reading ({rows} rows, {cutters} cutters) |
| shoulder_demo.toml | the trial file: question, criteria, margin, zones, costs |
| shoulder_demo_truth.json | the truth: parameters, medians, ratios, the true life of every cutter |

**Made by** `python -m wearlab.simulate --seed {seed} --out FOLDER` (the files are the same to the byte). The
seed was fixed before any result was looked at.

**The job.** A step 12 mm wide, 9 mm deep and 100 mm long (10.8 cm3) in alloy steel, 290 HB; carbide end
mill, 12 mm, four teeth, TiAlN; 0.05 mm a tooth. Layered: three passes 3 mm deep and 12 mm wide. Side: three
passes 9 mm deep and 4 mm wide. The removal rate is the same. Six cutters a side at 70 m/min in six blocks
(bars), order within a block at random; nine more layered cutters at 55, 85 and 105 m/min, three each, in
three bars of their own. Up to eight looks at whole parts; four flutes; zones corner, lower, middle, upper
(the nine cutters of the speed trial: corner and lower).

**The rule of stopping.** A cutter ends at the first look at which the mean land of its flutes in the lower
zone, as read, is 0.20 mm or more; else at the last planned look (budget). Settled beforehand and independent
of wear: one cutter a side is withdrawn still good after four looks, and one side cutter is found chipped at
the fifth. In this log: {ends}.

**The truth.** Lower-zone life to 0.20 mm is lognormal with medians of 40 min (layered) and 110 min (side) at
70 m/min, scatter of ln life 0.20, and V T^n = C with n = 0.25. The true ratio of lives, side to layered, is
2.75 in the lower zone and {corner:.3f} in the corner; the true ratio of steady wear rates is its inverse.
Edge exposure predicts {low:.3f} to {high:.0f}. In layers the middle and upper zones never wear; from the
side they do. Land grows by break-in, a steady stage, and a rapid stage from 90 % of the life. Flutes differ
by 8 %; a land is read to 0.008 mm, with 0.004 mm more shared by one look; readings are rounded to 0.001 mm;
a land up to 0.005 mm is not seen and written as 0.

**Witness slots** (the twelve cutters at 70 m/min; first, middle and last look): 12.6 mm wide, 9 mm deep,
finished at full depth by the same cutter. Width and walls follow from the recession of the edge (relief 10,
rake 6 degrees) with a constant deflection of 0.006 mm left and 0.004 mm right; pins of class Z stop where
the slot is narrower than they are (0 = reaches the floor, 9 = does not enter). The wear that a witness slot
itself adds is left out.

**Not in the simulation**: differences between bars, an effect of runout, approach and overrun in the cutting
time, chipping that depends on wear.
"""


def shoulder_trial(seed: int = SEED) -> SimulatedTrial:
    """The demonstration trial of a seed.

    >>> shoulder_trial().truth["seed"]
    20261125
    """
    trial = simulate_trial(shoulder_spec(), seed)
    truth = {"label": trial.truth["label"], "seed": seed} | trial.truth
    return SimulatedTrial(trial.spec, trial.rows, truth)


def shoulder_files(seed: int = SEED) -> dict[str, str]:
    """Names and text of the files of the demonstration trial.

    >>> sorted(shoulder_files())
    ['shoulder_demo.csv', 'shoulder_demo.md', 'shoulder_demo.toml', 'shoulder_demo_truth.json']
    """
    trial = shoulder_trial(seed)
    return {
        f"{STEM}.csv": trial.text(),
        f"{STEM}.toml": _trial_file(trial, seed),
        f"{STEM}_truth.json": json.dumps(trial.truth, indent=1) + "\n",
        f"{STEM}.md": _note(trial, seed),
    }


def write_shoulder(folder: str | Path, seed: int = SEED, *, force: bool = False) -> list[Path]:
    """Write the files of the demonstration trial; each appears whole or not at all.

    Raises
    ------
    FileProblem
        When a file is there already and `force` is not given, or the folder cannot be written.
    """
    target = Path(folder)
    texts = {target / name: text for name, text in shoulder_files(seed).items()}
    there = [path for path in texts if path.exists()]
    if there and not force:
        raise FileProblem("is there already", where=str(there[0]), hint="use --force to write over it")
    try:
        target.mkdir(parents=True, exist_ok=True)
        for path, text in texts.items():
            _write_whole(path, text)
    except OSError as error:
        raise FileProblem(
            f"cannot be written ({error.strerror})", where=str(error.filename or target)
        ) from None
    return list(texts)


def _write_whole(path: Path, text: str) -> None:
    part = path.with_name(path.name + ".part")
    part.write_text(text, encoding="utf-8", newline="")
    os.replace(part, path)


def _trial_file(trial: SimulatedTrial, seed: int) -> str:
    zones = "\n".join(f"{zone.name} = [{zone.from_mm:g}, {zone.to_mm:g}]" for zone in trial.spec.zones)
    return _TRIAL.format(seed=seed, zones=zones)


def _note(trial: SimulatedTrial, seed: int) -> str:
    truth = trial.truth
    ends = Counter((cutter["strategy"], cutter["end_reason"]) for cutter in truth["cutters"])
    words = [f"{count} {strategy} {reason}" for (strategy, reason), count in sorted(ends.items())]
    low, high = truth["exposure_band"]
    return _NOTE.format(
        seed=seed,
        rows=len(trial.rows),
        cutters=len(natural_sorted(trial.rows["cutter"].unique())),
        ends=", ".join(words),
        corner=truth["life_ratio"]["corner"],
        low=low,
        high=high,
    )
