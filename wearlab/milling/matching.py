"""Which conditions of two practices are equal, which are not, and the settings that make a chosen one equal.

Equal removal rate alone makes no fair trial: at one feed per tooth a narrow side pass cuts a thinner chip
over a shorter arc than a full-width layer. Not everything can be matched; the rest has to be stated.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.milling.cut import Cut
from wearlab.milling.deflection import Tool, tip_deflection_um
from wearlab.milling.engagement import feed_for_mean_chip_mm, max_chip_mm
from wearlab.milling.force import cutting_power_kw, mean_tangential_force_n, specific_force_mpa
from wearlab.milling.kinematics import spindle_rpm

RULES = ("feed_per_tooth", "removal_rate", "mean_chip", "max_chip", "power")
"""What `match_settings` can hold equal besides the cutting speed."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """One quantity of two practices.

    `ratio` is a over b; `equal` is None, with `why_missing`, where one of them has no such quantity.
    """

    quantity: str
    a: float
    b: float
    ratio: float
    equal: bool | None
    why_missing: str


@dataclass(frozen=True, slots=True)
class Matched:
    """Every quantity that was compared, and the tolerance within which two count as equal."""

    comparisons: tuple[Comparison, ...]
    tolerance: float

    @property
    def matched(self) -> tuple[str, ...]:
        """Names of the quantities that are equal."""
        return tuple(c.quantity for c in self.comparisons if c.equal is True)

    @property
    def unmatched(self) -> tuple[str, ...]:
        """Names of the quantities that are not."""
        return tuple(c.quantity for c in self.comparisons if c.equal is False)

    @property
    def not_compared(self) -> tuple[str, ...]:
        """Names of the quantities that one of the two does not have."""
        return tuple(c.quantity for c in self.comparisons if c.equal is None)

    def of(self, quantity: str) -> Comparison:
        """One comparison by name.

        Raises
        ------
        ArgumentError
            When that quantity was not compared.
        """
        for comparison in self.comparisons:
            if comparison.quantity == quantity:
                return comparison
        names = ", ".join(c.quantity for c in self.comparisons)
        raise ArgumentError(f"quantity {quantity!r}", where="quantity", allowed=names)


@dataclass(frozen=True, slots=True)
class Strength:
    """Material and stiffness that power and deflection are worked out with; illustrative unless measured."""

    kc11_mpa: float = 1850.0
    mc: float = 0.22
    modulus_gpa: float = 600.0
    holder_um_per_n: float = 0.0


def cut_quantities(cut: Cut, strength: Strength | None = None) -> dict[str, float]:
    """Numbers of one cut that a fair trial may want equal.

    `power_kw` is illustrative in size but not in ratio; `tip_deflection_um` is that of the end face under the
    mean tangential force at half the axial depth, nan without an overhang.

    >>> q = cut_quantities(Cut(10, 4, 1910, 0.05, 8, 2.5))
    >>> round(q["power_kw"], 2), round(q["teeth_in_contact"], 2)
    (0.54, 1.25)
    """
    strength = strength or Strength()
    specific = specific_force_mpa(cut.mean_chip_mm, strength.kc11_mpa, strength.mc)
    power = float(cutting_power_kw(cut.removal_rate_cm3_min, specific))
    return {
        "cutting_speed_m_min": cut.cutting_speed_m_min,
        "feed_per_tooth_mm": cut.feed_per_tooth_mm,
        "feed_rate_mm_min": cut.feed_rate_mm_min,
        "removal_rate_cm3_min": cut.removal_rate_cm3_min,
        "mean_chip_mm": cut.mean_chip_mm,
        "max_chip_mm": cut.max_chip_mm,
        "engagement_angle_deg": cut.engagement_angle_deg,
        "teeth_in_contact": cut.teeth_in_contact,
        "power_kw": power,
        "tip_deflection_um": _deflection(cut, power, strength),
    }


def matched_conditions(
    a: Cut | Mapping[str, float],
    b: Cut | Mapping[str, float],
    *,
    tolerance: float = 0.01,
    strength: Strength | None = None,
) -> Matched:
    """Compare two cuts, or the quantities of two practices, one by one.

    Parameters
    ----------
    a, b : Cut or mapping of quantity to value
        A mapping may hold anything, such as the quantities of a practice with its volume and time.
    tolerance : float
        Two values count as equal when they differ by no more than this share of the larger.
    strength : Strength, optional
        For power and deflection of a `Cut`.

    Raises
    ------
    ArgumentError
        When the tolerance does not lie between 0 and 1.

    >>> layered, side = Cut(10, 4, 1910, 0.05, 2, 10), Cut(10, 4, 1910, 0.05, 8, 2.5)
    >>> matched_conditions(layered, side).unmatched
    ('mean_chip_mm', 'max_chip_mm', 'engagement_angle_deg', 'teeth_in_contact', 'power_kw')
    """
    if not 0 <= tolerance < 1:
        raise ArgumentError(f"{tolerance:g}", where="tolerance", allowed="0 to below 1, such as 0.01")
    first = cut_quantities(a, strength) if isinstance(a, Cut) else dict(a)
    second = cut_quantities(b, strength) if isinstance(b, Cut) else dict(b)
    names = [*first, *(name for name in second if name not in first)]
    nothing = float("nan")
    return Matched(
        tuple(
            _compare(name, first.get(name, nothing), second.get(name, nothing), tolerance) for name in names
        ),
        tolerance,
    )


def match_settings(
    reference: Cut,
    axial_depth_mm: float,
    radial_width_mm: float,
    rule: str = "feed_per_tooth",
    *,
    diameter_mm: float | None = None,
    teeth: int | None = None,
    mc: float = 0.22,
) -> Cut:
    """Conditions for another depth and width that share the cutting speed and one more quantity with the
    reference.

    Parameters
    ----------
    rule : {"feed_per_tooth", "removal_rate", "mean_chip", "max_chip", "power"}
        With equal section ap ae, `feed_per_tooth` gives equal removal rate as well.
    diameter_mm, teeth : optional
        Of another cutter; the spindle speed follows the diameter.
    mc : float
        Exponent of the specific force, for the rule `power`.

    Raises
    ------
    ArgumentError
        When the rule is unknown.
    Refusal
        When the width exceeds the cutter, so that no feed can match.

    >>> layered = Cut(10, 4, 1910, 0.05, 2, 10)
    >>> side = match_settings(layered, 8, 2.5, "mean_chip")
    >>> round(side.feed_per_tooth_mm, 4), round(side.removal_rate_cm3_min, 2)
    (0.0667, 10.19)
    """
    if rule not in RULES:
        raise ArgumentError(f"rule {rule!r}", where="rule", allowed=", ".join(RULES))
    diameter = reference.diameter_mm if diameter_mm is None else diameter_mm
    if radial_width_mm > diameter:
        raise Refusal(
            f"a width of {radial_width_mm:g} mm cannot be cut with a cutter of {diameter:g} mm",
            where="match_settings",
            hint="divide the width into passes",
        )
    trial = reference.with_(
        diameter_mm=diameter,
        teeth=reference.teeth if teeth is None else teeth,
        spindle_rpm=float(spindle_rpm(diameter, reference.cutting_speed_m_min)),
        axial_depth_mm=axial_depth_mm,
        radial_width_mm=radial_width_mm,
    )
    return trial.with_(feed_per_tooth_mm=_feed(reference, trial, rule, mc))


def _feed(reference: Cut, trial: Cut, rule: str, mc: float) -> float:
    """Feed per tooth of `trial` (which still has the reference's) that makes the rule's quantity equal."""
    now = reference.feed_per_tooth_mm
    if rule == "removal_rate":
        return now * reference.removal_rate_cm3_min / trial.removal_rate_cm3_min
    if rule == "mean_chip":
        return float(feed_for_mean_chip_mm(reference.mean_chip_mm, trial.radial_width_mm, trial.diameter_mm))
    if rule == "max_chip":
        return reference.max_chip_mm / float(max_chip_mm(1.0, trial.radial_width_mm, trial.diameter_mm))
    if rule == "power":
        # Power goes as Q h_m^-mc, both in proportion to the feed, hence as feed^(1 - mc).
        wanted = reference.removal_rate_cm3_min * reference.mean_chip_mm**-mc
        has = trial.removal_rate_cm3_min * trial.mean_chip_mm**-mc
        return now * (wanted / has) ** (1 / (1 - mc))
    return now


def _deflection(cut: Cut, power_kw: float, strength: Strength) -> float:
    if cut.overhang_mm is None:
        return math.nan
    tool = Tool(
        cut.diameter_mm,
        cut.overhang_mm,
        modulus_gpa=strength.modulus_gpa,
        holder_um_per_n=strength.holder_um_per_n,
    )
    force = mean_tangential_force_n(power_kw, cut.cutting_speed_m_min)
    return float(tip_deflection_um(tool, force, cut.axial_depth_mm / 2))


def _compare(name: str, a: float, b: float, tolerance: float) -> Comparison:
    absent = [side for side, value in (("a", a), ("b", b)) if math.isnan(value)]
    if absent:
        return Comparison(name, a, b, math.nan, None, f"{' and '.join(absent)} without a value")
    largest = max(abs(a), abs(b))
    equal = abs(a - b) <= tolerance * largest
    ratio = a / b if b else math.inf if a else 1.0
    return Comparison(name, a, b, ratio, equal, "")
