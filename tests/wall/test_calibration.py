"""The demonstration trial and others like it, whose truth is known: widths, hang-up and growth as predicted from lands.

The trials are simulated by another room, which makes slots from the true recession and reads everything with error."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wearlab.compare.walls import trial_walls
from wearlab.logbook.read import read_log
from wearlab.logbook.samples import sample_path
from wearlab.logbook.settings import read_settings
from wearlab.simulate.course import make_plan, measure_slots, run_course
from wearlab.simulate.shoulder import SEED, shoulder_spec
from wearlab.simulate.table import cutter_names, log_rows, log_text
from wearlab.simulate.witness import at_heights_mm, hang_up_mm, recession_at_nodes_mm, width_at_nodes_mm
from wearlab.wall.walls import Walls

MIDDLES = np.array([0.15, 1.65, 4.4, 7.4])
"""Heights inside of the four zones, away from where the edge fades from one to the next."""
SEEDS = (1, 2, 3, 4)


class Known:
    """A reduced trial with the true width of every slot."""

    def __init__(self, found: Walls, names: list[str], widths: np.ndarray, spec: Any, pins: np.ndarray) -> None:
        self.found, self.names, self.widths, self.spec, self.pins = found, names, widths, spec, pins

    def errors(self) -> Iterator[np.ndarray]:
        """Predicted less true width over its standard error, at the middles, slot by slot."""
        for (cutter, look, _), slot in self.found.predicted.items():
            true = at_heights_mm(self.widths[self.names.index(cutter), look], MIDDLES, self.spec)
            at = np.searchsorted(slot.heights_mm, MIDDLES)
            yield (np.interp(MIDDLES, slot.heights_mm, slot.widths_mm) - true) / slot.error_mm[at]


def known(folder: Path, seed: int, **options: Any) -> Known:
    spec = shoulder_spec(**options)
    rng = np.random.default_rng(seed)
    plan = make_plan(spec, rng)
    course = run_course(spec, plan, rng)
    slots = measure_slots(spec, course, rng)
    path = folder / f"trial{seed}.csv"
    path.write_text(log_text(log_rows(spec, plan, course, slots, rng)), encoding="utf-8")
    trial = read_log(path, read_settings(sample_path("shoulder_demo").with_suffix(".toml")))
    widths = width_at_nodes_mm(recession_at_nodes_mm(course.land_mm, spec), spec)
    return Known(trial_walls(trial), list(cutter_names(plan)), widths, spec, slots.pin_mm)


@pytest.fixture(scope="module")
def trials(tmp_path_factory: pytest.TempPathFactory) -> list[Known]:
    folder = tmp_path_factory.mktemp("trials")
    return [known(folder, seed, cutters=5, at_each_speed=0) for seed in SEEDS]


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Known:
    return known(tmp_path_factory.mktemp("demo"), SEED)


def test_standard_errors_of_the_width_are_honest(trials: list[Known]) -> None:
    z = np.array([row for one in trials for row in one.errors()])
    assert z.shape == (4 * 30, 4)
    # No bias, and errors no larger than they say: the slots of one cutter share its base line, so some 40 lines count.
    assert np.abs(z.mean(axis=0)).max() < 0.5
    assert np.all(z.std(axis=0) < 1.25)
    assert z.std() > 0.5


def test_pins_stop_inside_the_predicted_range(trials: list[Known]) -> None:
    counts = [one.found.hang_ups.agreement() for one in trials]
    pins, inside = sum(c.pins for c in counts), sum(c.inside for c in counts)
    settled, hit = sum(c.settled for c in counts), sum(c.settled_inside for c in counts)
    assert pins == 4 * 90
    # The range is one of 95 %, widened by a zone line: at least 19 of 20.
    assert inside >= 0.95 * pins
    assert settled > 0.6 * pins
    assert hit >= 0.95 * settled
    assert sum(c.same_outcome for c in counts) > 0.9 * pins


def test_walls_grow_as_the_lands_say(trials: list[Known]) -> None:
    ratios = [one.found.separation for one in trials]
    assert all(part.interval(0.99).contains(1.0) for part in ratios)
    assert np.mean([part.ratio.mean for part in ratios]) == pytest.approx(1.0, abs=0.06)


def test_bend_and_setting_of_the_truth_come_back(trials: list[Known]) -> None:
    # Truth: 6 um of metal left on the left wall and 4 um on the right, at every height.
    for one in trials:
        for found in one.found.causes:
            assert found.size.interval(0.999).contains(0.005)
            assert found.shift.interval(0.999).contains(0.001)
            assert found.taper.interval(0.999).contains(0.0)
            assert found.lean.interval(0.999).contains(0.0)
        assert one.found.nominal.width_mm == pytest.approx(12.6, abs=0.0015)


def test_demonstration_trial_hangs_up_on_the_layer_line(demo: Known) -> None:
    table = demo.found.hang_ups.table
    groups = demo.found.groups
    layered = table[table["cutter"].map(groups) == "layered"]
    settled = demo.found.hang_ups.settled()
    hung = layered[(layered["predicted_mm"] == 3.0) & layered.index.isin(settled.index)]
    # The layers are 3 mm deep; the truth lets the worn band fade over the last 0.2 mm, and a pin is read to 0.05 mm.
    assert len(hung) >= 12
    assert hung["height_mm"].between(3.0 - 0.2 - 3 * 0.05, 3.0 + 3 * 0.05).all()


def test_demonstration_trial_against_its_true_hang_up(demo: Known) -> None:
    truth = hang_up_mm(demo.widths, demo.pins, demo.spec)
    marked = list(demo.spec.witness.pins_mm)
    for _, row in demo.found.hang_ups.table.iterrows():
        true = truth[demo.names.index(row["cutter"]), row["inspection"], marked.index(row["pin_mm"])]
        assert row["low"] <= true <= row["high"], (row["cutter"], row["part"], row["pin_mm"])
