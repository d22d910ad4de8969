"""The design matrix of a regression: checked once, its faults named by column, and put in a form that
rounds well.

A column that never varies, a column that repeats others, too few rows: each is refused by the column's name,
because "singular matrix" tells nobody which setting of the trial was never changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wearlab.core.errors import ArgumentError, Refusal

FloatArray = NDArray[np.float64]

DEPENDENT = 1e-9
"""A column whose part outside the columns before it is smaller than this share of it counts as dependent."""


@dataclass(frozen=True)
class Design:
    """A checked design matrix.

    Attributes
    ----------
    X : array, shape (n, p)
        The matrix as given, one row an observation.
    names : tuple of str
        Names of the columns.
    intercept : int or None
        Index of the constant column, if there is one.
    Z : array, shape (n, p)
        Centred (when there is an intercept) and scaled columns.
    back : array, shape (p, p)
        Coefficients of `X` are `back` times the coefficients of `Z`.
    """

    X: FloatArray
    names: tuple[str, ...]
    intercept: int | None
    Z: FloatArray
    back: FloatArray

    @property
    def n(self) -> int:
        """Number of rows."""
        return self.X.shape[0]

    @property
    def p(self) -> int:
        """Number of coefficients."""
        return self.X.shape[1]


def as_matrix(X: ArrayLike, names: Sequence[str] | None = None) -> tuple[FloatArray, tuple[str, ...]]:
    """Return a finite two-dimensional float matrix and a name for each of its columns.

    Parameters
    ----------
    X : array_like, shape (n, p)
        Design matrix, its constant column included.
    names : sequence of str, optional
        One name a column; "column 1" and so on when left out.

    Raises
    ------
    ArgumentError
        When the matrix is not two-dimensional, not finite, or the names do not match.
    """
    matrix = np.asarray(X, dtype=float)
    if matrix.ndim != 2 or matrix.shape[1] == 0:
        raise ArgumentError(
            f"an array of shape {matrix.shape}", where="X", allowed="two dimensions, one row an observation"
        )
    if names is None:
        names = [f"column {j + 1}" for j in range(matrix.shape[1])]
    if len(names) != matrix.shape[1]:
        raise ArgumentError(
            f"{len(names)} names for {matrix.shape[1]} columns", where="names", allowed="one name a column"
        )
    finite = bool(np.isfinite(matrix).all())
    for j, name in enumerate(() if finite else names):
        if not np.isfinite(matrix[:, j]).all():
            row = int(np.flatnonzero(~np.isfinite(matrix[:, j]))[0])
            raise ArgumentError(
                f"{matrix[row, j]} in row {row} of {name}", where="X", allowed="finite numbers"
            )
    return matrix, tuple(str(name) for name in names)


def as_vector(values: ArrayLike, name: str, length: int | None = None) -> FloatArray:
    """Return a finite one-dimensional float array.

    Raises
    ------
    ArgumentError
        When it is not one-dimensional, not finite, or not of the wanted length.
    """
    vector = np.asarray(values, dtype=float)
    if vector.ndim != 1:
        raise ArgumentError(f"an array of shape {vector.shape}", where=name, allowed="one dimension")
    if length is not None and len(vector) != length:
        raise ArgumentError(f"{len(vector)} values", where=name, allowed=f"{length}, one a row of X")
    with np.errstate(all="ignore"):
        # One pass without a second array; only a doubtful sum is looked at number by number.
        doubtful = not np.isfinite(vector.sum())
    if doubtful and not np.isfinite(vector).all():
        row = int(np.flatnonzero(~np.isfinite(vector))[0])
        raise ArgumentError(f"{vector[row]} in row {row}", where=name, allowed="finite numbers")
    return vector


def check_design(X: ArrayLike, names: Sequence[str] | None = None) -> Design:
    """Check a design matrix and prepare it for fitting.

    Parameters
    ----------
    X : array_like, shape (n, p)
        Design matrix, its constant column (if any) included.
    names : sequence of str, optional
        Names of the columns, used in refusals.

    Returns
    -------
    Design

    Raises
    ------
    ArgumentError
        When the matrix is not two-dimensional and finite.
    Refusal
        When there are fewer rows than columns, or a column is constant or depends on those before it.

    Examples
    --------
    >>> check_design([[1, 2.0], [1, 2.0], [1, 2.0]], ["intercept", "ln speed"])
    Traceback (most recent call last):
    wearlab.core.errors.Refusal: ln speed: the same value in all 3 rows; allowed: ...
    """
    matrix, labels = as_matrix(X, names)
    n, p = matrix.shape
    refuse_constant(matrix, labels)
    if n < p:
        raise Refusal(f"{n} rows for {p} coefficients ({', '.join(labels)})", allowed=f"at least {p}")
    intercept = _intercept(matrix)
    Z, back = _standardise(matrix, intercept)
    dependent = first_dependent(Z)
    if dependent is not None:
        raise Refusal(
            "repeats the columns before it",
            where=labels[dependent],
            allowed="columns that vary apart from each other",
            hint="leave it out or vary it apart from the others",
        )
    return Design(matrix, labels, intercept, Z, back)


def refuse_constant(matrix: FloatArray, labels: Sequence[str]) -> None:
    """Refuse a second constant column, or one of zeros, by its name."""
    constant = _constant_columns(matrix)
    seen = False
    for j in np.flatnonzero(constant).tolist():
        if seen or matrix[0, j] == 0.0:
            raise Refusal(
                f"the same value in all {len(matrix)} rows",
                where=labels[j],
                allowed="at least two different values",
                hint="leave it out or vary it",
            )
        seen = True


def first_dependent(matrix: FloatArray) -> int | None:
    """Index of the first column that depends on the columns before it, or None."""
    norms = np.linalg.norm(matrix, axis=0)
    scaled = matrix / np.where(norms > 0, norms, 1.0)
    diagonal = np.zeros(matrix.shape[1])
    triangle = np.abs(np.diag(np.linalg.qr(scaled, mode="r")))
    diagonal[: len(triangle)] = triangle
    weak = np.flatnonzero((diagonal < DEPENDENT) | (norms == 0))
    return int(weak[0]) if len(weak) else None


def _constant_columns(matrix: FloatArray) -> NDArray[np.bool_]:
    """Columns whose spread is no more than their own rounding."""
    spread = np.ptp(matrix, axis=0)
    size = np.abs(matrix).max(axis=0)
    return spread <= 8 * np.finfo(float).eps * size


def _intercept(matrix: FloatArray) -> int | None:
    constant = np.flatnonzero(_constant_columns(matrix))
    return int(constant[0]) if len(constant) else None


def _standardise(matrix: FloatArray, intercept: int | None) -> tuple[FloatArray, FloatArray]:
    """Centre the columns on their means when there is an intercept, and scale them to unit size."""
    p = matrix.shape[1]
    back = np.eye(p)
    Z = matrix.copy()
    if intercept is not None:
        level = matrix[0, intercept]
        others = np.arange(p) != intercept
        centre = matrix[:, others].mean(axis=0)
        Z[:, others] -= centre
        back[intercept, others] = -centre / level
    size = np.sqrt(np.mean(Z**2, axis=0))
    size = np.where(size > 0, size, 1.0)
    return Z / size, back / size
