"""Columns that move together: variance inflation, condition number, constant columns, all by name."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.stats.design import FloatArray, as_matrix

WARN_INFLATION = 5.0
"""Variance inflation from which single coefficients are doubtful."""
REFUSE_INFLATION = 10.0
"""Variance inflation from which single coefficients are not given."""
REFUSE_CONDITION = 30.0
"""Scaled condition number from which single coefficients are not given."""


@dataclass(frozen=True)
class Collinearity:
    """How far the columns of a design can be told apart.

    Attributes
    ----------
    names : tuple of str
        Columns that vary, the constant left out.
    inflation : tuple of float
        Variance inflation factor of each; infinite for one that the others determine.
    condition : float
        Condition number of the varying columns, centred and scaled to unit length.
    constant : tuple of str
        Columns with the same value everywhere, the first (the intercept) left out.
    """

    names: tuple[str, ...]
    inflation: tuple[float, ...]
    condition: float
    constant: tuple[str, ...]

    @property
    def doubtful(self) -> tuple[str, ...]:
        """Columns whose variance inflation exceeds 5."""
        return tuple(n for n, v in zip(self.names, self.inflation, strict=True) if v > WARN_INFLATION)

    @property
    def hopeless(self) -> tuple[str, ...]:
        """Columns whose single coefficients should not be given."""
        if self.condition > REFUSE_CONDITION:
            return self.names if not self.doubtful else self.doubtful
        return tuple(n for n, v in zip(self.names, self.inflation, strict=True) if v > REFUSE_INFLATION)


def collinearity(X: ArrayLike, names: Sequence[str] | None = None) -> Collinearity:
    """Variance inflation factors and condition number of a design.

    Parameters
    ----------
    X : array_like, shape (n, p)
        Design matrix; a constant column is taken as the intercept.
    names : sequence of str, optional
        Names of the columns.

    Returns
    -------
    Collinearity

    Examples
    --------
    >>> found = collinearity([[1, 1, 2.1], [1, 2, 3.9], [1, 3, 6.2], [1, 4, 7.9]], ["intercept", "speed", "feed"])
    >>> [round(one, 1) for one in found.inflation], found.hopeless
    ([309.0, 309.0], ('speed', 'feed'))
    """
    matrix, labels = as_matrix(X, names)
    spread = np.ptp(matrix, axis=0)
    fixed = spread <= 8 * np.finfo(float).eps * np.abs(matrix).max(axis=0)
    constant = [labels[j] for j in np.flatnonzero(fixed).tolist()][1:] if fixed.any() else []
    moving = np.flatnonzero(~fixed)
    if not len(moving):
        return Collinearity((), (), 1.0, tuple(constant))
    centred = matrix[:, moving] - matrix[:, moving].mean(axis=0)
    unit = centred / np.linalg.norm(centred, axis=0)
    return Collinearity(
        tuple(labels[j] for j in moving.tolist()), _inflation(unit), _condition(unit), tuple(constant)
    )


def _inflation(unit: FloatArray) -> tuple[float, ...]:
    """One over the share of each unit column that the others leave."""
    factors = []
    for j in range(unit.shape[1]):
        others = np.delete(unit, j, axis=1)
        left = unit[:, j] - others @ np.linalg.lstsq(others, unit[:, j], rcond=None)[0]
        share = float(left @ left)
        factors.append(1.0 / share if share > 1e-14 else math.inf)
    return tuple(factors)


def _condition(unit: FloatArray) -> float:
    values = np.linalg.svd(unit, compute_uv=False)
    rank_lost = len(values) < unit.shape[1] or values[-1] <= 1e-12 * values[0]
    return math.inf if rank_lost else float(values[0] / values[-1])
