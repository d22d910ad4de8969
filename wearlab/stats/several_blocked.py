"""Several groups with additive blocks or covariates: contrasts of one least-squares fit."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.tables import natural_sorted
from wearlab.stats.design import FloatArray, as_matrix, as_vector
from wearlab.stats.holm import holm
from wearlab.stats.line import LinearFit, fit_line
from wearlab.stats.several_groups import Contrast, SeveralGroups


def adjusted_contrasts(
    y: ArrayLike,
    group: Sequence[object],
    block: Sequence[object] | None = None,
    covariates: ArrayLike | None = None,
    standard: str | None = None,
) -> SeveralGroups:
    """Differences of groups adjusted for blocks and covariates, p values by Holm.

    Parameters
    ----------
    y : array_like, shape (n,)
        Values; logs where ratios are wanted.
    group : sequence, length n
        Group of each value.
    block : sequence, length n, optional
        Block of each value, an additive effect.
    covariates : array_like, shape (n, c), optional
        Further columns, such as hardness.
    standard : str, optional
        Compare every group with this one; all pairs when left out.

    Returns
    -------
    SeveralGroups
        With the method "holm_adjusted"; one common residual scatter.

    Raises
    ------
    ArgumentError
        When lengths differ or the standard is not a group.
    Refusal
        When there are fewer than two groups, or a group cannot be told apart from blocks and covariates.
    """
    values = as_vector(y, "y")
    labels = [str(one) for one in group]
    if len(labels) != len(values):
        raise ArgumentError(f"{len(labels)} groups", where="group", allowed=f"{len(values)}, one a value")
    names = natural_sorted(set(labels))
    if len(names) < 2:
        raise Refusal(f"{len(names)} groups", where="comparison of groups", allowed="at least two")
    if standard is not None and standard not in names:
        raise ArgumentError(f"standard {standard!r}", where="standard", allowed=", ".join(names))
    X, columns = _design(labels, names, block, covariates)
    fit = fit_line(X, values, columns)
    if standard is None:
        pairs = [(a, b) for k, a in enumerate(names) for b in names[k + 1 :]]
    else:
        pairs = [(name, standard) for name in names if name != standard]
    sizes = {name: labels.count(name) for name in names}
    return SeveralGroups(_contrasts(fit, pairs, names, sizes), "holm_adjusted", standard, ())


def _design(
    labels: list[str], names: list[str], block: Sequence[object] | None, covariates: ArrayLike | None
) -> tuple[FloatArray, list[str]]:
    """Groups first, so that a block or covariate tangled with them is the column that gets named."""
    parts = [np.array([[one == name for name in names] for one in labels], dtype=float)]
    columns = list(names)
    if block is not None:
        blocks = [str(one) for one in block]
        levels = natural_sorted(set(blocks))[1:]
        if len(blocks) != len(labels):
            raise ArgumentError(f"{len(blocks)} blocks", where="block", allowed=f"{len(labels)}, one a value")
        parts.append(
            np.array([[one == level for level in levels] for one in blocks], dtype=float).reshape(
                len(labels), -1
            )
        )
        columns += [f"block {level}" for level in levels]
    if covariates is not None:
        matrix, _ = as_matrix(covariates)
        parts.append(matrix - matrix.mean(axis=0))
        columns += [f"covariate {j + 1}" for j in range(matrix.shape[1])]
    return np.column_stack(parts), columns


def _contrasts(
    fit: LinearFit, pairs: list[tuple[str, str]], names: list[str], sizes: dict[str, int]
) -> tuple[Contrast, ...]:
    why = fit.why_missing
    if why is None and fit.df < 2:
        why = f"{fit.df} degree of freedom left: too few to judge the scatter by"
    weights = []
    for a, b in pairs:
        weight = np.zeros(len(fit.beta))
        weight[names.index(a)], weight[names.index(b)] = 1.0, -1.0
        weights.append(weight)
    raw = [math.nan if why else fit.p_value(weight) for weight in weights]
    return tuple(
        Contrast(
            a, b, fit.estimate(weight), math.nan if why else fit.standard_error(weight), float(fit.df), p,
            sizes[a], sizes[b], fit.sigma, "holm_adjusted", (float(len(pairs)),), why,
        )
        for (a, b), weight, p in zip(pairs, weights, holm(raw).tolist(), strict=True)
    )  # fmt: skip
