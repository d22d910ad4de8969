"""Convert the milling label file of the package pyphm 0.0.5 into a log in our columns.

Usage::

    python tests/reference/make_nasa_milling.py LABEL_FILE [OUTPUT]

LABEL_FILE is `milling_labels_with_tool_class.csv`, which the wheel of pyphm 0.0.5 carries in its folder
`pyphm/datasets/auxilary_metadata`. Without OUTPUT the log goes to the standard output. The same label file
always gives the same bytes: rows stay in the order of the label file, figures stay as they are written there.
"""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path

HEADER = (
    "cutter", "cutter_material", "teeth", "work_material", "work_group", "spindle_rpm", "feed_per_rev_mm",
    "axial_depth_mm", "reading", "cutting_time_min", "measure", "zone", "flute", "value", "unit",
)  # fmt: skip
WORK = {"1": ("cast iron", "K"), "2": ("stainless steel J45", "M")}
"""Material code of the label file -> grade and ISO 513 letter."""


def log_row(label: Mapping[str, str]) -> list[str]:
    """One row of the label file in our columns; a missing land stays blank."""
    material, group = WORK[label["material"]]
    return [
        f"case{int(label['case']):02d}", "carbide", "6", material, group, "826", label["feed"], label["DOC"],
        label["run"], label["time"], "VB", "", "", label["VB"], "mm",
    ]  # fmt: skip


def convert(labels: Iterable[str]) -> str:
    """Text of the log, from the lines of the label file."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADER)
    writer.writerows(log_row(label) for label in csv.DictReader(labels))
    return out.getvalue()


def main(arguments: list[str]) -> int:
    """Run the conversion from the command line."""
    if len(arguments) not in (1, 2):
        print(__doc__, file=sys.stderr)
        return 2
    text = convert(Path(arguments[0]).read_text(encoding="utf-8").splitlines())
    if len(arguments) == 2:
        Path(arguments[1]).write_text(text, encoding="utf-8", newline="")
    else:
        sys.stdout.write(text)
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
