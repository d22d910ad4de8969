"""A blank log: the columns that a trial usually needs."""

from __future__ import annotations

import csv
import io

from wearlab.logbook.columns import COLUMNS

USUAL = (
    "cutter",
    "role",
    "block",
    "bar",
    "machine",
    "day",
    "run_order",
    "cutter_material",
    "coating",
    "diameter_mm",
    "teeth",
    "helix_deg",
    "relief_deg",
    "overhang_mm",
    "runout_um",
    "work_material",
    "strategy",
    "cutting_speed_m_min",
    "feed_per_tooth_mm",
    "axial_depth_mm",
    "radial_width_mm",
    "direction",
    "coolant",
    "reading",
    "cutting_time_min",
    "parts",
    "measure",
    "zone",
    "flute",
    "height_mm",
    "side",
    "pin_mm",
    "value",
    "unit",
    "operator",
    "date",
    "end_reason",
    "note",
)
"""Columns of a blank log, in the order in which a bench fills them."""


def blank_log() -> str:
    """A blank log as CSV text.

    >>> blank_log().splitlines()[0].startswith("cutter,role,block")
    True
    """
    unknown = [name for name in USUAL if name not in COLUMNS]
    assert not unknown, unknown
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(USUAL)
    return out.getvalue()
