"""The demonstration trial: a shoulder taken in layers or from the side. Invented, simulated.

A step 12 mm wide, 9 mm deep and 100 mm long in alloy steel, with a 12 mm carbide end mill of four teeth.
Layered: three passes of 3 x 12 mm. Side: three passes of 9 x 4 mm. Removal rate, speed and feed per tooth
are the same.

What is taken to be true of it: in the lower zone the side practice lasts 2.75 times as long. That lies
inside the band that edge exposure predicts for three steps at a width of one diameter: 2.552 by sliding
distance, which is pi / arccos(1/3), to 3 by chip cut per mm of edge. All figures are our own; none was
measured."""

from __future__ import annotations

import math

from wearlab.simulate.spec import Arm, PlannedEnd, Practice, Shop, TrialSpec, Truth, Zone

SEED = 20261125
"""Seed of the shipped trial, fixed before its results were looked at."""

ZONES = (Zone("corner", 0.0, 0.5), Zone("lower", 0.5, 3.0), Zone("middle", 3.0, 6.0), Zone("upper", 6.0, 9.0))

SHOP = Shop(
    diameter_mm=12.0,
    teeth=4,
    relief_deg=10.0,
    rake_deg=6.0,
    feed_per_tooth_mm=0.05,
    width_mm=12.0,
    depth_mm=9.0,
    length_mm=100.0,
    cells=(
        ("cutter_batch", "lot 1"),
        ("machine", "mill 1"),
        ("holder", "holder 1"),
        ("cutter_material", "carbide"),
        ("coating", "TiAlN"),
        ("flute_length_mm", 26),
        ("overhang_mm", 38),
        ("helix_deg", 35),
        ("cutter_price", 48),
        ("work_material", "alloy steel 42CrMo4 +QT"),
        ("work_group", "P"),
        ("hardness", 290),
        ("hardness_scale", "HB"),
        ("feature_sides", "one"),
        ("coolant", "air"),
    ),
)

LOWER_LIFE_MIN = 40.0
"""True median life of the lower zone in layers at 70 m/min, to a land of 0.20 mm."""
LIFE_RATIO = 2.75
"""True ratio of lower-zone lives, side to layered."""
LOOKS = (0.08, 0.22, 0.40, 0.58, 0.76, 0.94, 1.12, 1.35)
_EDGE = ("corner", "lower")
_ALL = ("corner", "lower", "middle", "upper")


def shoulder_spec(
    *,
    ratio: float = LIFE_RATIO,
    cutters: int = 6,
    speeds_m_min: tuple[float, ...] = (55.0, 85.0, 105.0),
    at_each_speed: int = 3,
    n: float = 0.25,
    sigma: float = 0.20,
    ends: bool = True,
) -> TrialSpec:
    """The demonstration trial, or a variant of it.

    Parameters
    ----------
    ratio : float
        True ratio of lower-zone lives, side to layered; the other zones of the side practice go with it.
    cutters : int
        Cutters a side at the reference speed, one of each practice a block.
    speeds_m_min : tuple of float
        Further speeds of the layered practice.
    at_each_speed : int
        Cutters at each of them, in blocks of their own; 0 = none.
    n, sigma : float
        Exponent of the tool-life equation, and scatter of ln life between cutters.
    ends : bool
        Whether two cutters are withdrawn still good and one chips (needs five cutters a side).

    Examples
    --------
    >>> spec = shoulder_spec()
    >>> round(spec.minutes_a_part(spec.arms[0]), 4), spec.shop.part_cm3
    (0.8078, 10.8)
    """
    truth = Truth(n=n, sigma=sigma)
    side = LOWER_LIFE_MIN * ratio
    practices = (
        Practice(
            "layered", 3.0, 12.0, 3, "both", (0.85 * LOWER_LIFE_MIN, LOWER_LIFE_MIN, math.inf, math.inf)
        ),
        Practice("side", 9.0, 4.0, 3, "climb", (0.80 * side, side, 1.05 * side, 1.15 * side)),
    )
    v0 = truth.reference_speed_m_min
    arms = [
        Arm("layered", v0, cutters, 1, LOWER_LIFE_MIN, _ALL, witness=True),
        Arm("side", v0, cutters, 1, side, _ALL, witness=True),
    ]
    if at_each_speed:
        arms += [
            Arm("layered", v, at_each_speed, cutters + 1, LOWER_LIFE_MIN * (v / v0) ** (-1 / n), _EDGE)
            for v in speeds_m_min
        ]
    return TrialSpec(
        name="shoulder demonstration (invented, simulated)",
        shop=SHOP,
        zones=ZONES,
        practices=practices,
        arms=tuple(arms),
        looks=LOOKS,
        truth=truth,
        ends=_ends() if ends and cutters >= 5 else (),
    )


def _ends() -> tuple[PlannedEnd, ...]:
    """Ends that were settled beforehand and have nothing to do with wear."""
    return (
        PlannedEnd(0, 3, 4, "withdrawn", "cutter needed for another job, still good"),
        PlannedEnd(1, 5, 4, "withdrawn", "bar used up, cutter still good"),
        PlannedEnd(1, 2, 5, "chipped", "corner of one flute chipped"),
    )
