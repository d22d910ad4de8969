"""What deserves a caution before a cut is tried: numbers with the limit that they pass, and where the limit
comes from.
"""

from __future__ import annotations

from dataclasses import dataclass

from wearlab.milling.cut import Cut
from wearlab.milling.kinematics import runout_swing_mm

COMMON = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Caution:
    """One number beyond its limit.

    Attributes
    ----------
    code : str
        thin_chip, runout, overhang, flute_length, feed_range.
    value, limit : float
    source : str
        Of the limit.
    """

    code: str
    value: float
    limit: float
    source: str


def cautions(
    cut: Cut,
    *,
    flute_length_mm: float | None = None,
    runout_mm: float | None = None,
    edge_radius_mm: float = 0.01,
    high_speed_steel: bool = False,
) -> tuple[Caution, ...]:
    """Everything about a cut that passes a limit.

    * thin_chip: mean chip below the edge radius (0.005 to 0.02 mm on carbide), where the edge rubs instead of
      cutting;
    * runout: tooth-to-tooth swing of the chip load above a tenth of the feed per tooth;
    * overhang: more than 4 D, half of that in high-speed steel;
    * flute_length: axial depth beyond the flutes (geometry);
    * feed_range: feed per tooth above 0.03 D.

    >>> [c.code for c in cautions(Cut(10, 4, 1910, 0.05, 8, 0.1), runout_mm=0.02)]
    ['thin_chip', 'runout']
    """
    chip, feed = cut.mean_chip_mm, cut.feed_per_tooth_mm
    tests = [
        (chip < edge_radius_mm, Caution("thin_chip", chip, edge_radius_mm, COMMON)),
        (feed > 0.03 * cut.diameter_mm, Caution("feed_range", feed, 0.03 * cut.diameter_mm, COMMON)),
    ]
    if runout_mm is not None:
        swing = float(runout_swing_mm(runout_mm, cut.teeth))
        tests.append((swing > 0.1 * feed, Caution("runout", swing, 0.1 * feed, COMMON)))
    if cut.overhang_mm is not None:
        reach, limit = cut.overhang_mm / cut.diameter_mm, 2.0 if high_speed_steel else 4.0
        tests.append((reach > limit, Caution("overhang", reach, limit, COMMON)))
    if flute_length_mm is not None:
        depth = cut.axial_depth_mm
        tests.append((depth > flute_length_mm, Caution("flute_length", depth, flute_length_mm, "geometry")))
    return tuple(caution for beyond, caution in tests if beyond)
