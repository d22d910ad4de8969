"""Cutting speed of least cost and of highest rate from a Taylor law, kept inside what was tested.

The optimum is flat: a fifth to either side costs a few per cent. So the record holds the curve and the range of speeds
that cost little more, and a speed outside the tested range is never given without saying so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import Interval, check_level
from wearlab.core.tables import plain
from wearlab.fit.factors import SPEED
from wearlab.fit.laws import life_at, speed_for
from wearlab.fit.tool_life import ToolLifeFit

if TYPE_CHECKING:
    import pandas as pd

WITHIN = 0.05
"""Share above the least cost that counts as flat."""
REACH = 2.0
"""The curve runs from the optimum over this to the optimum times this."""
TESTED = "inside the tested range"


@dataclass(frozen=True, slots=True)
class Optimum:
    """One optimum of the law as it stands, whether or not it was tested there.

    Attributes
    ----------
    life_min, speed_m_min : float
        Tool life and cutting speed of the optimum.
    usable_m_min : float
        The same speed, clamped to the tested range and to the limit of maker and machine.
    brand : str
        "inside the tested range", or what keeps it from there.
    """

    life_min: float
    speed_m_min: float
    usable_m_min: float
    brand: str

    @property
    def tested(self) -> bool:
        """Whether the optimum itself lies inside what was tested and is allowed."""
        return self.brand == TESTED

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return plain(
            {
                "life_min": self.life_min,
                "speed_m_min": self.speed_m_min,
                "usable_m_min": self.usable_m_min,
                "tested": self.tested,
                "brand": self.brand,
            }
        )


@dataclass(frozen=True, repr=False)
class SpeedChoice:
    """Speeds of least cost and highest rate.

    Attributes
    ----------
    n, c_m_min : float
        Constants of V T^n = C.
    least_cost, highest_rate : Optimum
    tested : (float, float)
        Speeds that the trial covered.
    limit_m_min : float
        Limit of maker and machine; infinite where none was given.
    flat_low, flat_high : float
        Speeds between which the cost stays within `within` of the least.
    speeds : ndarray
        Of the curve.
    cost_minutes, change_minutes : float
        An edge and its change in machine minutes; the change alone.
    draws : ndarray
        Least-cost speeds of plausible laws; empty where there are none.
    why_missing : str
        Why there is no interval.
    least_cost_money : float
        Money a part for metal and cutters at the least-cost speed, approach and idle time and failures left out; NaN
        where the length of cut in a part is not known.
    """

    n: float
    c_m_min: float
    least_cost: Optimum
    highest_rate: Optimum
    tested: tuple[float, float]
    limit_m_min: float
    within: float
    flat_low: float
    flat_high: float
    cost_minutes: float
    change_minutes: float
    speeds: np.ndarray
    draws: np.ndarray
    why_missing: str = ""
    least_cost_money: float = math.nan

    def interval(self, level: float = 0.95) -> Interval:
        """Interval of the least-cost speed; unbounded where `why_missing` says why."""
        check_level(level)
        if not len(self.draws):
            return Interval(-math.inf, math.inf, level, "none")
        low, high = np.quantile(self.draws, [0.5 - level / 2, 0.5 + level / 2])
        return Interval(float(low), float(high), level, f"{len(self.draws)} posterior draws of the law")

    def to_frame(self) -> pd.DataFrame:
        """The curve: speed, tool life, cost and time a cm3 over their least, money a part, whether it was tested."""
        import pandas as pd

        v = self.speeds
        lives = (self.c_m_min / v) ** (1.0 / self.n)
        cost = relative_cost(v, self.n, self.c_m_min, self.cost_minutes)
        time = relative_cost(v, self.n, self.c_m_min, self.change_minutes)
        tested = (v >= self.tested[0] * (1 - 1e-9)) & (v <= self.tested[1] * (1 + 1e-9))
        return pd.DataFrame(
            {
                "speed_m_min": v,
                "life_min": lives,
                "relative_cost": cost,
                "relative_time": time,
                "cost_per_part": cost * self.least_cost_money,
                "tested": tested,
            }
        )

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return plain(
            {
                "n": self.n,
                "C": self.c_m_min,
                "least_cost": self.least_cost.to_dict(),
                "highest_rate": self.highest_rate.to_dict(),
                "tested": list(self.tested),
                "limit_m_min": self.limit_m_min,
                "within": self.within,
                "flat_low": self.flat_low,
                "flat_high": self.flat_high,
                "least_cost_money": self.least_cost_money,
                "curve": self.to_frame().to_dict("records"),
                "why_missing": self.why_missing or None,
            }
        )

    def __repr__(self) -> str:
        best = self.least_cost
        return f"<SpeedChoice: least cost at {best.speed_m_min:.4g} m/min ({best.life_min:.4g} min); {best.brand}>"


def least_cost_life(n: float, change_min: float, edge_cost: float, machine_per_min: float) -> float:
    """Tool life of least cost, T = (1/n - 1)(t_change + C_edge / c_machine), in minutes.

    Parameters
    ----------
    n : float
        Taylor exponent, between 0 and 1.
    change_min : float
        Minutes to change the cutter.
    edge_cost : float
        Money for one edge.
    machine_per_min : float
        Money for one minute of the machine.

    Notes
    -----
    M. P. Groover, Fundamentals of Modern Manufacturing, chapter on machining economics (from memory); attributed there
    to W. Gilbert. It holds neither feed nor length of cut.

    Examples
    --------
    >>> round(least_cost_life(0.25, 3.0, 28.0, 1.2), 6)
    79.0
    """
    if not machine_per_min > 0:
        raise ArgumentError(f"{machine_per_min:g}", where="machine_per_min", allowed="above 0")
    return _exponent(n) * (change_min + edge_cost / machine_per_min)


def highest_rate_life(n: float, change_min: float) -> float:
    """Tool life of the highest rate of parts, T = (1/n - 1) t_change, in minutes.

    >>> highest_rate_life(0.25, 3.0)
    9.0
    """
    return _exponent(n) * change_min


def relative_cost(speed_m_min: ArrayLike, n: float, c_m_min: float, lost_minutes: float) -> np.ndarray:
    """Cost of a cm3 at a speed over that at the best speed, engagement and feed per tooth held.

    Parameters
    ----------
    speed_m_min : array_like
    n, c_m_min : float
        Constants of V T^n = C, T in minutes.
    lost_minutes : float
        An edge and its change in machine minutes, t_change + C_edge / c_machine (for the time alone: t_change).

    Examples
    --------
    >>> best = speed_for(79.0, 0.25, 180.0)
    >>> relative_cost([0.8 * best, best, 1.2 * best], 0.25, 180.0, 79.0 / 3).round(4).tolist()
    [1.0655, 1.0, 1.057]
    """
    v = np.asarray(speed_m_min, dtype=float)
    if not lost_minutes > 0:
        raise ArgumentError(f"{lost_minutes:g}", where="lost_minutes", allowed="above 0")

    def cost(speed: Any) -> Any:
        return (1.0 + lost_minutes * (speed / c_m_min) ** (1.0 / n)) / speed

    return np.asarray(cost(v) / cost(speed_for(_exponent(n) * lost_minutes, n, c_m_min)))


def least_cost_money(n: float, speed_m_min: float, machine_per_min: float, metres_per_part: float) -> float:
    """Money a part for metal and cutters at the least-cost speed: there cutters cost n / (1 - n) of the metal time.

    >>> round(least_cost_money(0.25, 60.0, 1.2, 540.0), 6)
    14.4
    """
    return machine_per_min * metres_per_part / speed_m_min / (1.0 - n)


def choose_speeds(
    n: float,
    c_m_min: float,
    *,
    machine_per_min: float,
    change_min: float,
    edge_cost: float,
    tested: tuple[float, float],
    limit_m_min: float = math.inf,
    within: float = WITHIN,
    points: int = 41,
) -> SpeedChoice:
    """Speeds of least cost and of highest rate from the constants of V T^n = C.

    Parameters
    ----------
    n, c_m_min : float
        Constants of the law, life in minutes.
    machine_per_min, change_min, edge_cost : float
        Money a machine minute, minutes a change, money an edge.
    tested : (float, float)
        Speeds that were tested.
    limit_m_min : float
        Limit of the cutter's maker, the holder or the machine.
    within : float
        Share above the least cost that counts as flat.
    points : int
        Points of the curve.

    Raises
    ------
    Refusal
        The exponent does not lie between 0 and 1: the cost then has no least value.
    ArgumentError
        A figure is not positive.

    Examples
    --------
    >>> made = choose_speeds(0.25, 180.0, machine_per_min=1.2, change_min=3.0, edge_cost=28.0, tested=(50.0, 75.0))
    >>> round(made.least_cost.speed_m_min, 1), round(made.highest_rate.speed_m_min, 1), made.highest_rate.usable_m_min
    (60.4, 103.9, 75.0)
    """
    _check(c_m_min, change_min, edge_cost, tested, limit_m_min)
    lost = change_min + edge_cost / machine_per_min if machine_per_min > 0 else math.nan
    best = least_cost_life(n, change_min, edge_cost, machine_per_min)
    fast = highest_rate_life(n, change_min)
    cheapest = _optimum(best, n, c_m_min, tested, limit_m_min)
    speeds = np.geomspace(cheapest.speed_m_min / REACH, cheapest.speed_m_min * REACH, points)
    low, high = _flat(n, c_m_min, lost, within)
    return SpeedChoice(
        n, c_m_min, cheapest, _optimum(fast, n, c_m_min, tested, limit_m_min), tested, limit_m_min, within,
        low, high, lost, change_min, speeds, np.empty(0), "the constants were given, not fitted",
    )  # fmt: skip


def speeds_from_fit(
    fit: ToolLifeFit,
    *,
    machine_per_min: float,
    change_min: float,
    edge_cost: float,
    group: tuple[str, str] | None = None,
    limit_m_min: float = math.inf,
    metres_per_part: float = math.nan,
    draws: int = 4000,
    rng: np.random.Generator | int | None = None,
) -> SpeedChoice:
    """Speeds of least cost and of highest rate from a fitted tool-life equation.

    Parameters
    ----------
    fit : ToolLifeFit
        On the clock of minutes in the metal.
    machine_per_min, change_min, edge_cost, limit_m_min
        As in `choose_speeds`.
    group : (str, str), optional
        Column and group for which the constants hold, where the equation has groups; its own tested range counts.
    metres_per_part : float
        Minutes in the metal of a part times the cutting speed, which stays as it is when the speed alone is changed.
    draws : int
        Draws of the law behind the interval.
    rng : Generator or int, optional

    Raises
    ------
    Refusal
        The equation has no speed, is on another clock, or gives no exponent between 0 and 1.
    """
    if fit.clock != "cutting_time_min":
        raise Refusal(f"lives on the clock {fit.clock}", where="speeds", allowed="minutes in the metal")
    position = fit.slope_of(SPEED)
    if position is None and fit.held_n is None:
        raise Refusal("speed is no factor of the equation", where="speeds", hint="fit it with cutting_speed")
    row = fit.row({} if group is None else {group[0]: group[1]})
    if position is not None:
        row = row.copy()
        row[position] = 0.0
    n, c = _constants(fit.beta, row, position, fit.held_n)
    made = choose_speeds(
        n, c, machine_per_min=machine_per_min, change_min=change_min, edge_cost=edge_cost,
        tested=_tested(fit, group), limit_m_min=limit_m_min,
    )  # fmt: skip
    drawn, why = _speed_draws(fit, row, position, made.cost_minutes, draws, rng)
    money = least_cost_money(n, made.least_cost.speed_m_min, machine_per_min, metres_per_part)
    return replace(made, draws=drawn, why_missing=why, least_cost_money=money)


def _exponent(n: float) -> float:
    if not 0.0 < n < 1.0:
        raise Refusal(
            f"a Taylor exponent of {n:g}",
            where="speeds",
            allowed="between 0 and 1: else the cost has no least value",
            hint="look at the fit: speeds too close together, or lives that do not fall with speed",
        )
    return 1.0 / n - 1.0


def _check(c: float, change: float, edge: float, tested: tuple[float, float], limit: float) -> None:
    for name, value in (("C", c), ("tested", tested[0]), ("limit_m_min", limit), ("change_min", change)):
        if not value > 0:
            raise ArgumentError(f"{value:g}", where=name, allowed="above 0")
    if edge < 0 or tested[1] < tested[0]:
        raise ArgumentError(f"edge {edge:g}, tested {tested}", where="speeds", allowed="edge from 0, low to high")


def _optimum(life: float, n: float, c: float, tested: tuple[float, float], limit: float) -> Optimum:
    speed = speed_for(life, n, c)
    usable = min(max(speed, tested[0]), tested[1], limit)
    brand = TESTED
    if speed > limit:
        brand = f"above the limit of {limit:g} m/min"
    elif not tested[0] * (1 - 1e-9) <= speed <= tested[1] * (1 + 1e-9):
        brand = f"not tested there: {tested[0]:g} to {tested[1]:g} m/min was"
        if tested[0] == tested[1]:
            brand = f"not tested there: {tested[0]:g} m/min only was"
    return Optimum(life_at(speed, n, c), speed, usable, brand)


def _flat(n: float, c: float, lost: float, within: float) -> tuple[float, float]:
    """Speeds at which the cost is `within` above its least."""
    from scipy.optimize import brentq

    best = speed_for(_exponent(n) * lost, n, c)

    def above(log_speed: float) -> float:
        return float(relative_cost(math.exp(log_speed), n, c, lost)) - 1.0 - within

    centre = math.log(best)
    low = brentq(above, centre - 5.0, centre, xtol=1e-12)
    high = brentq(above, centre, centre + 5.0, xtol=1e-12)
    return math.exp(low), math.exp(high)


def _constants(beta: np.ndarray, row: np.ndarray, position: int | None, held: float | None) -> tuple[float, float]:
    """n and C from the coefficients, the speed's own entry of the row being 0."""
    slope = -1.0 / held if held is not None else float(beta[position])  # type: ignore[index]
    if slope >= 0:
        raise Refusal(f"life rises with speed (slope {slope:.3g})", where="speeds")
    return -1.0 / slope, math.exp(-float(row @ beta) / slope)


def _tested(fit: ToolLifeFit, group: tuple[str, str] | None) -> tuple[float, float]:
    used = fit.used
    if group is not None and group[0] in used:
        used = used[used[group[0]].astype(str) == str(group[1])]
    return float(used[SPEED].min()), float(used[SPEED].max())


def _speed_draws(
    fit: ToolLifeFit, row: np.ndarray, position: int | None, lost: float, draws: int, rng: Any
) -> tuple[np.ndarray, str]:
    """Least-cost speeds of plausible laws."""
    from wearlab.decide.posterior import draw_coefficients

    if fit.regression is None:
        return np.empty(0), fit.why_no_interval
    beta, _ = draw_coefficients(fit.regression, draws, rng)
    slope = np.full(len(beta), -1.0 / fit.held_n) if fit.held_n is not None else beta[:, position]  # type: ignore[index]
    usable = slope < -1.0
    if usable.mean() < 0.975:
        return np.empty(0), "the exponent is not bounded well enough by these lives"
    n = -1.0 / slope[usable]
    log_c = -(beta[usable] @ row) / slope[usable]
    return np.exp(log_c - n * np.log((1.0 / n - 1.0) * lost)), ""
