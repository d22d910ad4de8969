"""A witness slot cut by a worn cutter: width and walls by height, and where pins stop."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wearlab.milling.wear_to_size import recession_mm
from wearlab.simulate.land import Floats
from wearlab.simulate.spec import TrialSpec


def nodes_mm(spec: TrialSpec) -> Floats:
    """Heights between which the profile of the slot is straight."""
    ends = np.array([zone.to_mm for zone in spec.zones[:-1]])
    inner = np.stack([ends - spec.witness.transition_mm, ends], axis=-1).ravel()
    return np.concatenate([[0.0], inner, [spec.witness.depth_mm]])


def recession_at_nodes_mm(land_mm: Floats, spec: TrialSpec) -> Floats:
    """Recession of the edge at the nodes.

    Parameters
    ----------
    land_mm : ndarray, shape (..., zones)
        True flute-mean land of each zone.
    """
    recession = recession_mm(land_mm, spec.shop.relief_deg, spec.shop.rake_deg)
    return np.repeat(recession, 2, axis=-1)


def at_heights_mm(at_nodes: Floats, heights_mm: ArrayLike, spec: TrialSpec) -> Floats:
    """A profile that is straight between the nodes, at other heights (the last axis)."""
    nodes, heights = nodes_mm(spec), np.asarray(heights_mm, dtype=float)
    right = np.clip(np.searchsorted(nodes, heights, side="right"), 1, len(nodes) - 1)
    part = (heights - nodes[right - 1]) / (nodes[right] - nodes[right - 1])
    return at_nodes[..., right - 1] * (1 - part) + at_nodes[..., right] * part


def width_at_nodes_mm(recession: Floats, spec: TrialSpec) -> Floats:
    """Width of the slot at the nodes: both walls are cut by the same edge."""
    witness = spec.witness
    return witness.width_mm - 2 * recession - witness.deflection_left_mm - witness.deflection_right_mm


def hang_up_mm(width_at_nodes: Floats, pins_mm: ArrayLike, spec: TrialSpec) -> Floats:
    """Greatest height at which the slot is narrower than the pin: 0 = reaches the floor, depth = does not
    enter.

    Parameters
    ----------
    width_at_nodes : ndarray, shape (..., nodes)
    pins_mm : array_like, shape (pins,)

    Returns
    -------
    ndarray, shape (..., pins)
    """
    nodes = nodes_mm(spec)
    spare = width_at_nodes[..., None, :] - np.asarray(pins_mm, dtype=float)[:, None]
    tight = spare < 0
    last = len(nodes) - 1 - np.argmax(tight[..., ::-1], axis=-1)  # the highest node that is too narrow
    below = np.minimum(last, len(nodes) - 2)[..., None]
    s0, s1 = (np.take_along_axis(spare, at, axis=-1)[..., 0] for at in (below, below + 1))
    z0, z1 = nodes[below[..., 0]], nodes[below[..., 0] + 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        between = z0 + (z1 - z0) * -s0 / (s1 - s0)
    stops = np.where(tight[..., -1], spec.witness.depth_mm, between)
    return np.where(tight.any(axis=-1), stops, 0.0)
