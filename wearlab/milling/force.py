"""Specific cutting force, power and torque.

Every material value here is illustrative: tables of specific force differ by a factor of two and more between
sources, and a worn edge needs more than a new one. Ratios between practices are far better than the figures.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import nearest
from wearlab.milling.arrays import Floats, between, positive
from wearlab.milling.tables import table_rows

KW_PER_HP = 0.745699872
"""Mechanical horsepower, 550 ft lbf/s."""


@dataclass(frozen=True, slots=True)
class SpecificForce:
    """Specific force of a material, kc = kc1.1 h^-mc, with where it comes from."""

    material: str
    iso_group: str
    kc11_mpa: float
    mc: float
    illustrative: bool
    source: str
    how_known: str


def materials() -> tuple[SpecificForce, ...]:
    """Every row of `specific_force.csv`."""
    return tuple(
        SpecificForce(
            row["material"], row["iso_group"], float(row["kc11_mpa"]), float(row["mc"]),
            row["illustrative"] == "yes", row["source"], row["how_known"],
        )
        for row in table_rows("specific_force.csv")
    )  # fmt: skip


def specific_force_of(material: str) -> SpecificForce:
    """The row of one material.

    Raises
    ------
    ArgumentError
        When no row bears that name.

    >>> specific_force_of("alloy steel").kc11_mpa
    1850.0
    """
    rows = {row.material.lower(): row for row in materials()}
    return rows[_known(material, [row.material for row in rows.values()])]


def energy_range_j_mm3(material: str) -> tuple[float, float]:
    """Published range of the specific cutting energy of a family of materials, an order-of-size check only.

    Steels span a factor of four and more, so a power worked out from one value is rough.

    Raises
    ------
    ArgumentError
        When no row of `specific_energy.csv` bears that name.

    >>> energy_range_j_mm3("steels")
    (2.0, 9.3)
    """
    rows = {row["material"]: row for row in table_rows("specific_energy.csv")}
    row = rows[_known(material, list(rows))]
    return float(row["low_j_mm3"]), float(row["high_j_mm3"])


def _known(material: str, names: list[str]) -> str:
    """The name in small letters when it is one of `names`, else the error that lists them."""
    if material.lower() in (name.lower() for name in names):
        return material.lower()
    raise ArgumentError(
        f"material {material!r}", where="material", allowed=", ".join(names), hint=nearest(material, names)
    )


def specific_force_mpa(
    chip_mm: ArrayLike, kc11_mpa: ArrayLike, mc: ArrayLike, rake_deg: ArrayLike = 0.0
) -> Floats:
    """Specific cutting force kc = kc1.1 h^-mc (1 - gamma/100), h in mm (Kienzle's form, from memory).

    The rake correction, 1 % a degree from the rake of the table, is a rule of thumb (from memory).

    >>> round(float(specific_force_mpa(0.0318, 1850, 0.22)))
    3950
    """
    chip = positive("chip_mm", chip_mm)
    rake = between("rake_deg", rake_deg, -45, 45)
    return positive("kc11_mpa", kc11_mpa) * chip ** -between("mc", mc, 0, 1) * (1 - rake / 100)


def cutting_power_kw(removal_rate_cm3_min: ArrayLike, specific_force_mpa: ArrayLike) -> Floats:
    """Power at the cutter, P = Q kc / 60 000 (Q in cm3/min, kc in MPa = J/cm3).

    >>> round(float(cutting_power_kw(7.64, 3947)), 2)
    0.5
    """
    return (
        positive("removal_rate_cm3_min", removal_rate_cm3_min)
        * positive("specific_force_mpa", specific_force_mpa)
        / 6e4
    )


def power_from_energy_kw(removal_rate_mm3_s: ArrayLike, specific_energy_j_mm3: ArrayLike) -> Floats:
    """Power from a specific cutting energy in J/mm3 (W s/mm3), as most textbooks have it.

    >>> float(power_from_energy_kw(1000, 3))
    3.0
    """
    rate = positive("removal_rate_mm3_s", removal_rate_mm3_s)
    return rate * positive("specific_energy_j_mm3", specific_energy_j_mm3) / 1000


def torque_n_m(power_kw: ArrayLike, spindle_rpm: ArrayLike) -> Floats:
    """Torque at the spindle, P / (2 pi n).

    >>> round(float(torque_n_m(16, 100)), 1)
    1527.9
    """
    return positive("power_kw", power_kw) * 6e4 / (2 * math.pi * positive("spindle_rpm", spindle_rpm))


def mean_tangential_force_n(power_kw: ArrayLike, cutting_speed_m_min: ArrayLike) -> Floats:
    """Force along the cutting speed, averaged over a turn: P / vc.

    >>> round(float(mean_tangential_force_n(0.5, 60)))
    500
    """
    return positive("power_kw", power_kw) * 6e4 / positive("cutting_speed_m_min", cutting_speed_m_min)


def energy_from_hp_min_in3(unit_power_hp_min_in3: ArrayLike) -> Floats:
    """Specific energy in J/mm3 from unit power in hp min/in3.

    >>> round(float(energy_from_hp_min_in3(1)), 4)
    2.7303
    """
    return np.asarray(unit_power_hp_min_in3, dtype=np.float64) * KW_PER_HP * 6e4 / 16387.064


def motor_power(cutter_power: ArrayLike, efficiency: ArrayLike) -> Floats:
    """Power that the motor must give when the drive passes on a share `efficiency` of it.

    >>> round(float(motor_power(20.6, 0.6)), 2)
    34.33
    """
    return positive("cutter_power", cutter_power) / positive(
        "efficiency", between("efficiency", efficiency, 0, 1)
    )
