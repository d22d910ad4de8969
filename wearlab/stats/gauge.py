"""Measurement study: parts by operators by repeats, and what one reading is worth.

Mean squares of the crossed layout, exact chi-square interval for the repeatability, modified-large-sample interval
(Burdick and Larsen, from memory; its coverage was simulated) for the gauge as a whole. A component that comes out
negative is shown as 0. Two operators say next to nothing about operators: the upper limit shows it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval, check_level
from wearlab.stats.design import FloatArray, as_vector
from wearlab.stats.one_way import FTest


@dataclass(frozen=True)
class CrossedStudy:
    """Analysis of variance of a complete crossed study.

    Attributes
    ----------
    parts, operators, repeats : int
        Size of the layout.
    ss_part, ss_operator, ss_interaction, ss_error : float
        Sums of squares.
    mean : float
        Mean of all readings.
    """

    parts: int
    operators: int
    repeats: int
    ss_part: float
    ss_operator: float
    ss_interaction: float
    ss_error: float
    mean: float

    @property
    def df(self) -> tuple[int, int, int, int]:
        """Degrees of freedom: part, operator, interaction, error."""
        p, o, r = self.parts, self.operators, self.repeats
        return p - 1, o - 1, (p - 1) * (o - 1), p * o * (r - 1)

    @property
    def mean_squares(self) -> tuple[float, float, float, float]:
        """Mean squares: part, operator, interaction, error; NaN without degrees of freedom."""
        sums = (self.ss_part, self.ss_operator, self.ss_interaction, self.ss_error)
        part, operator, interaction, error = (
            ss / df if df else math.nan for ss, df in zip(sums, self.df, strict=True)
        )
        return part, operator, interaction, error

    @property
    def interaction(self) -> FTest:
        """F test of the interaction of parts and operators against the repeats."""
        _, _, df, df_error = self.df
        why = None if df and self.ss_error > 0 else "no interaction or no scatter of repeats to judge it by"
        return FTest(self.ss_interaction, df, self.ss_error, df_error, why)

    def components(self, pooled: bool = False) -> Components:
        """Variance components.

        Parameters
        ----------
        pooled : bool
            Take the interaction into the error, as handbooks do when it is not seen.
        """
        p, o, r = self.parts, self.operators, self.repeats
        part, operator, interaction, error = self.mean_squares
        if o == 1:
            return Components(error, 0.0, 0.0, max((part - error) / r, 0.0), pooled)
        if pooled:
            error = (self.ss_interaction + self.ss_error) / (self.df[2] + self.df[3])
            interaction = error
        return Components(
            repeatability=error,
            interaction=max((interaction - error) / r, 0.0),
            operator=max((operator - interaction) / (p * r), 0.0),
            part=max((part - interaction) / (o * r), 0.0),
            pooled=pooled,
        )

    def repeatability_interval(self, level: float = 0.95) -> Interval:
        """Exact interval of the repeatability's standard deviation (chi-square)."""
        from scipy.special import chdtri

        check_level(level)
        df = self.df[3]
        tail = (1 - level) / 2
        low, high = (math.sqrt(self.ss_error / float(chdtri(df, one))) for one in (tail, 1 - tail))
        return Interval(low, high, level, "chi-square")

    def gauge_interval(self, level: float = 0.95) -> Interval:
        """Interval of the gauge's total variance: repeats, operators and their interaction (MLS)."""
        check_level(level)
        if self.operators == 1:
            return self.repeatability_interval(level).map(lambda sd: sd * sd)
        p, r = self.parts, self.repeats
        weights = (1 / (p * r), (p - 1) / (p * r), (r - 1) / r)
        terms = [w * ms for w, ms in zip(weights, self.mean_squares[1:], strict=True)]
        below, above = _mls_widths(terms, self.df[1:], level)
        total = sum(terms)
        return Interval(max(total - below, 0.0), total + above, level, "modified large sample")

    def operator_interval(self, level: float = 0.95) -> Interval:
        """Interval of the operators' variance (MLS for a difference of mean squares), 0 where it would be less."""
        if self.operators == 1:
            return Interval(0.0, math.inf, check_level(level), "one operator")
        return self._difference(1, 2, self.parts * self.repeats, level)

    def interaction_interval(self, level: float = 0.95) -> Interval:
        """Interval of the variance of parts by operators, as `operator_interval`."""
        if self.operators == 1:
            return Interval(0.0, math.inf, check_level(level), "one operator")
        return self._difference(2, 3, self.repeats, level)

    def part_interval(self, level: float = 0.95) -> Interval:
        """Interval of the variance between the parts, as `operator_interval`."""
        return self._difference(0, 3 if self.operators == 1 else 2, self.operators * self.repeats, level)

    def _difference(self, above: int, below: int, scale: float, level: float) -> Interval:
        squares, df = self.mean_squares, self.df
        low, high = _mls_difference(
            squares[above] / scale, squares[below] / scale, df[above], df[below], check_level(level)
        )
        return Interval(max(low, 0.0), max(high, 0.0), level, "modified large sample")


@dataclass(frozen=True)
class Components:
    """Variance components of a measurement study, none below 0.

    Attributes
    ----------
    repeatability, operator, interaction, part : float
        Variances.
    pooled : bool
        Whether the interaction was taken into the repeatability.
    """

    repeatability: float
    interaction: float
    operator: float
    part: float
    pooled: bool

    @property
    def gauge(self) -> float:
        """Variance of one reading of one part by one operator chosen at random."""
        return self.repeatability + self.interaction + self.operator

    @property
    def total(self) -> float:
        """Variance of all readings."""
        return self.gauge + self.part


@dataclass(frozen=True)
class AverageAndRange:
    """Measurement study by averages and ranges (AIAG).

    Attributes
    ----------
    equipment, appraiser, gauge, part, total : float
        Standard deviations.
    mean_range, appraiser_range, part_range : float
        What they come from.
    """

    equipment: float
    appraiser: float
    gauge: float
    part: float
    total: float
    mean_range: float
    appraiser_range: float
    part_range: float

    @property
    def distinct_categories(self) -> float:
        """1.41 times parts over gauge, before it is cut to a whole number."""
        return 1.41 * self.part / self.gauge if self.gauge > 0 else math.inf


def crossed_study(part: Sequence[object], operator: Sequence[object], value: ArrayLike) -> CrossedStudy:
    """Analysis of variance of a crossed study with equal repeats.

    Parameters
    ----------
    part, operator : sequence, length n
        Part and operator of each reading.
    value : array_like, shape (n,)
        Readings.

    Returns
    -------
    CrossedStudy

    Raises
    ------
    ArgumentError
        When lengths differ or a reading is not finite.
    Refusal
        When the study is not complete with at least two repeats, or has one part only.

    Examples
    --------
    >>> study = crossed_study([1, 1, 1, 1, 2, 2, 2, 2], list("aabbaabb"), [1.0, 1.2, 1.1, 1.5, 2.0, 2.1, 2.4, 2.2])
    >>> [round(one, 3) for one in study.mean_squares]
    [1.901, 0.101, 0.001, 0.031]
    """
    table = _table(part, operator, value)
    p, o, r = table.shape
    origin = float(table.flat[0])
    moved = table - origin
    grand = moved.mean()
    cells, by_part, by_operator = moved.mean(axis=2), moved.mean(axis=(1, 2)), moved.mean(axis=(0, 2))
    left = cells - by_part[:, None] - by_operator[None, :] + grand
    return CrossedStudy(
        p, o, r,
        ss_part=float(o * r * np.sum((by_part - grand) ** 2)),
        ss_operator=float(p * r * np.sum((by_operator - grand) ** 2)),
        ss_interaction=float(r * np.sum(left**2)),
        ss_error=float(np.sum((moved - cells[:, :, None]) ** 2)),
        mean=origin + float(grand),
    )  # fmt: skip


def average_and_range(
    part: Sequence[object], operator: Sequence[object], value: ArrayLike
) -> AverageAndRange:
    """Measurement study by averages and ranges.

    Parameters
    ----------
    part, operator : sequence, length n
        Part and operator of each reading.
    value : array_like, shape (n,)
        Readings.

    Returns
    -------
    AverageAndRange

    Raises
    ------
    Refusal
        As in `crossed_study`.

    Notes
    -----
    AIAG, Measurement Systems Analysis, 4th ed. (from memory). The constants are computed from the distribution of the
    range and rounded to the four decimals of the printed tables, which are part of the method.
    """
    table = _table(part, operator, value)
    p, o, r = table.shape
    mean_range = float(np.ptp(table, axis=2).mean())
    by_operator, by_part = table.mean(axis=(0, 2)), table.mean(axis=(1, 2))
    equipment = mean_range * _many_ranges(r)
    appraiser_range, part_range = float(np.ptp(by_operator)), float(np.ptp(by_part))
    between = (appraiser_range * _single_range(o)) ** 2 if o > 1 else 0.0
    appraiser = math.sqrt(max(between - equipment**2 / (p * r), 0.0))
    gauge = math.hypot(equipment, appraiser)
    parts = part_range * _single_range(p)
    return AverageAndRange(
        equipment, appraiser, gauge, parts, math.hypot(gauge, parts), mean_range, appraiser_range, part_range
    )


def _table(part: Sequence[object], operator: Sequence[object], value: ArrayLike) -> FloatArray:
    """Readings as parts by operators by repeats."""
    readings = as_vector(value, "value", len(part))
    parts, part_at = np.unique([str(one) for one in part], return_inverse=True)
    operators, operator_at = np.unique([str(one) for one in operator], return_inverse=True)
    cell = part_at * len(operators) + operator_at
    counts = np.bincount(cell, minlength=len(parts) * len(operators))
    if len(parts) < 2:
        raise Refusal("one part only", where="measurement study", allowed="at least two parts")
    if counts.min() != counts.max() or counts.min() < 2:
        raise Refusal(
            f"between {counts.min()} and {counts.max()} readings of a part by an operator",
            where="measurement study",
            allowed="the same number, at least two, for every part and operator",
        )
    order = np.argsort(cell, kind="stable")
    return readings[order].reshape(len(parts), len(operators), -1)


def _mls_widths(terms: list[float], df: Sequence[int], level: float) -> tuple[float, float]:
    """Distances of the MLS limits from a sum of scaled mean squares."""
    from scipy.special import chdtri

    tail = (1 - level) / 2
    below = sum(((1 - n / float(chdtri(n, tail))) * term) ** 2 for term, n in zip(terms, df, strict=True))
    above = sum(((n / float(chdtri(n, 1 - tail)) - 1) * term) ** 2 for term, n in zip(terms, df, strict=True))
    return math.sqrt(below), math.sqrt(above)


def _mls_difference(
    plus: float, minus: float, df_plus: int, df_minus: int, level: float
) -> tuple[float, float]:
    """MLS limits of a difference of two scaled mean squares (Ting and others, from memory)."""
    from scipy.special import chdtri, fdtri

    tail = (1 - level) / 2
    g1, h2 = 1 - df_plus / float(chdtri(df_plus, tail)), df_minus / float(chdtri(df_minus, 1 - tail)) - 1
    h1, g2 = df_plus / float(chdtri(df_plus, 1 - tail)) - 1, 1 - df_minus / float(chdtri(df_minus, tail))
    f_high, f_low = float(fdtri(df_plus, df_minus, 1 - tail)), float(fdtri(df_plus, df_minus, tail))
    cross_low = ((f_high - 1) ** 2 - (g1 * f_high) ** 2 - h2**2) / f_high
    cross_high = ((1 - f_low) ** 2 - (h1 * f_low) ** 2 - g2**2) / f_low
    low = (g1 * plus) ** 2 + (h2 * minus) ** 2 + cross_low * plus * minus
    high = (h1 * plus) ** 2 + (g2 * minus) ** 2 + cross_high * plus * minus
    centre = plus - minus
    return centre - math.sqrt(max(low, 0.0)), centre + math.sqrt(max(high, 0.0))


def _many_ranges(n: int) -> float:
    """Standard deviation over the mean of many ranges of n values (1 / d2)."""
    return round(1.0 / _range_moments(n)[0], 4)


def _single_range(n: int) -> float:
    """Standard deviation over one range of n values (1 / d2*, d2* the root mean square range)."""
    return round(1.0 / math.sqrt(_range_moments(n)[1]), 4)


def _range_moments(n: int) -> tuple[float, float]:
    """First and second moment of the range of n standard normal values."""
    from wearlab.stats.simultaneous import normal_range_sf

    w = np.linspace(0.0, 16.0, 4001)
    beyond = np.array(normal_range_sf(w, n))
    return float(np.trapezoid(beyond, w)), float(np.trapezoid(2 * w * beyond, w))
