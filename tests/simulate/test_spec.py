"""A specification whose parts do not fit together is refused, and says which part."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from wearlab.core.errors import ArgumentError
from wearlab.simulate.shoulder import shoulder_spec
from wearlab.simulate.spec import PlannedEnd, TrialSpec, Zone, check_spec
from wearlab.simulate.trial import simulate_trial

SPEC = shoulder_spec()
ARM = SPEC.arms[0]


def test_the_demonstration_is_in_order() -> None:
    check_spec(SPEC)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"zones": (*SPEC.zones[:3], Zone("upper", 6.5, 9.0))}, "each beginning where the last one ends"),
        (
            {"practices": (replace(SPEC.practices[0], life_min=(1.0, 2.0)), SPEC.practices[1])},
            "practice layered",
        ),
        ({"arms": (replace(ARM, strategy="sied"),)}, r"practice 'sied'.*Did you mean side"),
        ({"arms": (replace(ARM, zones=("corner",)),)}, "known zones, with lower"),
        ({"arms": (replace(ARM, cutters=0),)}, "above 0"),
        ({"looks": (0.5, 0.2)}, "looks"),
        ({"ends": (PlannedEnd(0, 99, 1, "withdrawn"),)}, "cutter 99 of arm 0"),
        ({"ends": (PlannedEnd(0, 1, 99, "withdrawn"),)}, "look 99"),
        ({"truth": replace(SPEC.truth, stop_zone="tip")}, "stop zone 'tip'"),
    ],
)
def test_refusals(change: dict[str, Any], words: str) -> None:
    broken: TrialSpec = replace(SPEC, **change)
    with pytest.raises(ArgumentError, match=words):
        simulate_trial(broken, 1)


def test_unknown_zone_and_statistic_of_true_lives() -> None:
    trial = simulate_trial(SPEC, 1)
    with pytest.raises(ArgumentError, match=r"zone 'lowre'.*Did you mean lower"):
        trial.true_lives(0.2, "lowre")
    with pytest.raises(ArgumentError, match="statistic 'max'"):
        trial.true_lives(0.2, statistic="max")


def test_variants() -> None:
    spec = shoulder_spec(ratio=1.0, cutters=3, at_each_speed=0)
    assert len(spec.arms) == 2
    assert spec.ends == ()
    assert spec.median_life_min("side", "lower") == spec.median_life_min("layered", "lower")
    assert simulate_trial(spec, 1).rows["cutter"].nunique() == 6
