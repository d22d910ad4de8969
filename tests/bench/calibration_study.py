"""Do the intervals of a measurement study cover what they claim? By mean squares and by REML, complete and with gaps.

Truth: parts 0.040 mm, repeats 0.010 mm, people by parts 0.004 mm, people as the table says; 95 % intervals.

Run: python tests/bench/calibration_study.py [STUDIES]
"""

from __future__ import annotations

import math
import sys

import numpy as np

from wearlab.stats.gauge import crossed_study
from wearlab.stats.gauge_reml import reml_study
from wearlab.stats.reml_intervals import reml_interval

DESIGNS = [(10, 3, 2, 0.004), (10, 3, 2, 0.010), (5, 3, 3, 0.010), (10, 2, 2, 0.010)]
PART, REPEAT, BETWEEN = 0.040, 0.010, 0.004


def one_study(rng: np.random.Generator, design: tuple[int, int, int, float]) -> list[float]:
    """Which intervals hold the truth, and how far the upper limit of the gauge lies above it."""
    parts, people, repeats, sd = design
    part = np.repeat(np.arange(parts), people * repeats)
    person = np.tile(np.repeat(np.arange(people), repeats), parts)
    y = PART * rng.standard_normal(parts)[part] + sd * rng.standard_normal(people)[person]
    y = y + BETWEEN * rng.standard_normal((parts, people))[part, person] + REPEAT * rng.standard_normal(len(part))
    repeat, gauge = REPEAT**2, REPEAT**2 + BETWEEN**2 + sd**2
    complete = crossed_study(part.tolist(), person.tolist(), y)
    by_squares = complete.gauge_interval()
    found = [complete.repeatability_interval().contains(REPEAT), by_squares.contains(gauge)]
    reach = [math.sqrt(by_squares.high / gauge)]
    for keep in (np.ones(len(y), dtype=bool), np.arange(len(y)) % 7 != 3):
        rows = part[keep].tolist(), person[keep].tolist(), y[keep]
        components = reml_study(*rows).components
        whole = reml_interval(*rows, components, (0, 1, 1, 1))
        found += [reml_interval(*rows, components, (0, 0, 0, 1)).contains(repeat), whole.contains(gauge)]
        reach.append(math.sqrt(whole.high / gauge))
    return [*map(float, found), *reach]


if __name__ == "__main__":
    studies = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    print(f"{studies} studies a row. Held: repeats and gauge by mean squares, by REML, by REML with gaps.")
    print("Behind the bar: median upper limit of the gauge over the truth, the same three ways.")
    for design in DESIGNS:
        generator = np.random.default_rng(11)
        table = np.array([one_study(generator, design) for _ in range(studies)])
        held, reach = table[:, :6].mean(axis=0), np.median(table[:, 6:], axis=0)
        print(design, " ".join(f"{one:.3f}" for one in held), "|", " ".join(f"{one:.2f}" for one in reach), flush=True)
