"""How well widths, pins and growth follow from lands: `python tests/bench/calibration_walls.py [TRIALS]`.

Trials like the demonstration's (six cutters a side, no other speeds), each with its own seed. Printed: the error of the
predicted width over its standard error by zone, pins inside of their range, and the coverage of growth over expected
growth (truth 1) and of the four numbers of the unworn shape (truth 5 um of size, 1 um of shift, no taper, no lean).
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np

from wearlab.compare.walls import trial_walls
from wearlab.logbook.read import read_log
from wearlab.logbook.samples import sample_path
from wearlab.logbook.settings import read_settings
from wearlab.simulate.course import make_plan, measure_slots, run_course
from wearlab.simulate.shoulder import shoulder_spec
from wearlab.simulate.table import cutter_names, log_rows, log_text
from wearlab.simulate.witness import at_heights_mm, recession_at_nodes_mm, width_at_nodes_mm

MIDDLES = np.array([0.15, 1.65, 4.4, 7.4])
TRUTH = {"size": 0.005, "shift": 0.001, "taper": 0.0, "lean": 0.0}


def main(trials: int) -> None:
    spec = shoulder_spec(at_each_speed=0)
    settings = read_settings(sample_path("shoulder_demo").with_suffix(".toml"))
    errors: list[np.ndarray] = []
    counts, ratios, held, shapes = np.zeros(5), [], 0, {name: [0, 0] for name in TRUTH}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        for seed in range(1000, 1000 + trials):
            rng = np.random.default_rng(seed)
            plan = make_plan(spec, rng)
            course = run_course(spec, plan, rng)
            path.write_text(log_text(log_rows(spec, plan, course, measure_slots(spec, course, rng), rng)))
            found = trial_walls(read_log(path, settings))
            names = list(cutter_names(plan))
            widths = width_at_nodes_mm(recession_at_nodes_mm(course.land_mm, spec), spec)
            for (cutter, look, _), slot in found.predicted.items():
                true = at_heights_mm(widths[names.index(cutter), look], MIDDLES, spec)
                made = np.interp(MIDDLES, slot.heights_mm, slot.widths_mm)
                errors.append((made - true) / slot.error_mm[np.searchsorted(slot.heights_mm, MIDDLES)])
            pins = found.hang_ups.agreement()
            counts += (pins.pins, pins.inside, pins.settled, pins.settled_inside, pins.same_outcome)
            ratios.append(found.separation.ratio.mean)
            held += found.separation.interval().contains(1.0)
            for one in found.causes:
                for name, truth in TRUTH.items():
                    shapes[name][0] += getattr(one, name).interval().contains(truth)
                    shapes[name][1] += 1
    z = np.array(errors)
    print(f"{trials} trials, {len(z)} slots")
    for zone, column in zip(("corner", "lower", "middle", "upper"), z.T, strict=True):
        print(f"{zone:7} width: mean error {column.mean():+.2f}, sd {column.std():.2f} standard errors")
    print("pins {:.0f}: inside {:.0f}; one place {:.0f}: there {:.0f}; same outcome {:.0f}".format(*counts))
    print(f"growth over expected: mean {np.mean(ratios):.3f}, sd {np.std(ratios):.3f}, 95 % interval held 1 in {held}")
    for name, (hits, all_) in shapes.items():
        print(f"{name}: 95 % interval held the truth in {hits} of {all_}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
