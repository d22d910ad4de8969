"""Three hypotheses of how a wear land grows, what each says of tool life, and how well a trial can tell them
apart.

* contact time: the land grows with the minutes in the metal;
* sliding: with the metres slid;
* chip: with the volume cut by a mm of edge.

They are hypotheses to test, not laws. All speak of a land of one form: a sharp corner that chips follows
none.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.milling.arrays import Floats, positive
from wearlab.milling.engagement import engagement_angle
from wearlab.milling.exposure import HYPOTHESES, EdgeExposure, ZoneExposure, predicted_band


@dataclass(frozen=True, slots=True)
class Separation:
    """How far apart two hypotheses lie for one pair of conditions, zone by zone.

    `log_distance` is |ln(ratio under first / ratio under second)|: what a trial must resolve on the log scale
    of wear rate or life.
    """

    first: str
    second: str
    zones: tuple[str, ...]
    log_distance: Floats


def growth(exposure: EdgeExposure | ZoneExposure, hypothesis: str, clock: str = "cm3") -> Floats:
    """Growth of the land under a hypothesis, in the unit of its exposure, per unit of a clock.

    Raises
    ------
    ArgumentError
        When hypothesis or clock is unknown.
    """
    return exposure.per(clock)[_field(hypothesis).removesuffix("_cm3")]


def life_ratio(
    a: EdgeExposure | ZoneExposure, b: EdgeExposure | ZoneExposure, hypothesis: str, clock: str = "cm3"
) -> Floats:
    """Ratio of tool life a/b that a hypothesis predicts: the wear ratio turned over.

    >>> from wearlab.milling.exposure import zone_exposure
    >>> zone = {"lower": (0.4, 2.0)}
    >>> side, layered = (zone_exposure(ap, ae, 0.05, 4, 10, 1910, zone) for ap, ae in ((8, 2.5), (2, 10)))
    >>> life_ratio(side, layered, "chip").tolist()
    [4.0]
    """
    _field(hypothesis)
    return predicted_band(b, a, clock).by_hypothesis[hypothesis]


def life_exponent_in_width(
    hypothesis: str, narrow_mm: ArrayLike, wide_mm: ArrayLike, diameter_mm: ArrayLike, clock: str = "min"
) -> Floats:
    """Exponent of tool life in the radial width between two widths, at fixed depth, feed per tooth and speed.

    In minutes: contact time and sliding make life go as 1/phi_e, chip per edge as 1/ae (exponent -1). In cm3
    one more power of the width comes in, and under the chip hypothesis life does not depend on the width.

    Parameters
    ----------
    clock : {"min", "cm3"}

    Raises
    ------
    ArgumentError
        When hypothesis or clock is unknown, or a width is not above 0 or exceeds the diameter.

    >>> round(float(life_exponent_in_width("sliding", 1, 7, 10)), 2)
    -0.58
    """
    _field(hypothesis)
    if clock not in ("min", "cm3"):
        raise ArgumentError(f"clock {clock!r}", where="clock", allowed="min, cm3")
    narrow, wide = positive("narrow_mm", narrow_mm), positive("wide_mm", wide_mm)
    span = np.log(wide / narrow)
    if hypothesis == "chip":
        per_minute = -np.ones(np.broadcast_shapes(span.shape, np.shape(diameter_mm)))
    else:
        per_minute = (
            -np.log(engagement_angle(wide, diameter_mm) / engagement_angle(narrow, diameter_mm)) / span
        )
    return per_minute + (1.0 if clock == "cm3" else 0.0)


def separations(a: EdgeExposure | ZoneExposure, b: EdgeExposure | ZoneExposure) -> tuple[Separation, ...]:
    """How well a trial of condition a against condition b tells each pair of hypotheses apart.

    Zones that only one of the two touches read nan: there all hypotheses agree.
    """
    band = predicted_band(a, b)
    names = list(HYPOTHESES)
    pairs = [(x, y) for i, x in enumerate(names) for y in names[i + 1 :]]
    return tuple(
        Separation(x, y, band.zones, _log_distance(band.by_hypothesis[x], band.by_hypothesis[y]))
        for x, y in pairs
    )


def consistent_hypotheses(
    a: EdgeExposure | ZoneExposure,
    b: EdgeExposure | ZoneExposure,
    low: Sequence[float],
    high: Sequence[float],
) -> dict[str, tuple[bool, ...]]:
    """Which hypotheses a measured ratio of wear a/b, from `low` to `high` in each zone, leaves standing.

    Raises
    ------
    ArgumentError
        When the limits are not one pair a zone.

    >>> from wearlab.milling.exposure import zone_exposure
    >>> zone = {"lower": (0.4, 2.0)}
    >>> layered, side = (zone_exposure(ap, ae, 0.05, 4, 10, 1910, zone) for ap, ae in ((2, 10), (8, 2.5)))
    >>> consistent_hypotheses(layered, side, [3.5], [5.0])
    {'contact_time': (False,), 'sliding': (False,), 'chip': (True,)}
    """
    band = predicted_band(a, b)
    if not len(low) == len(high) == len(band.zones):
        raise ArgumentError(
            f"{len(low)} and {len(high)} limits", where="low", allowed=f"{len(band.zones)}, one a zone"
        )
    return {
        name: tuple(bool(x <= r <= y) for x, r, y in zip(low, ratio, high, strict=True))
        for name, ratio in band.by_hypothesis.items()
    }


def _field(hypothesis: str) -> str:
    if hypothesis not in HYPOTHESES:
        raise ArgumentError(f"hypothesis {hypothesis!r}", where="hypothesis", allowed=", ".join(HYPOTHESES))
    return HYPOTHESES[hypothesis]


def _log_distance(x: Floats, y: Floats) -> Floats:
    usable = (x > 0) & (y > 0) & np.isfinite(x) & np.isfinite(y)
    ratio = np.divide(x, y, out=np.full(np.shape(x), math.nan), where=usable)
    return np.abs(np.log(ratio))
