"""Write the example answer of each command: `python tests/contract/make_examples.py` from the top of the project.

The examples are the contract of `--json`. Do not edit them by hand: run this, and look at what changed.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
from pathlib import Path

EXAMPLES: dict[str, list[str]] = {
    "check": ["check", "datasets/nasa_milling.csv"],
    "wear": ["wear", "datasets/groover_coated.csv", "--criterion", "VB=0.75mm"],
    "life": ["life", "datasets/nasa_milling.csv", "--criterion", "VB=0.3mm", "--clock", "min"],
    "life_flutes": [
        "life", "datasets/shoulder_demo.csv", "--criterion", "lower:VB=0.2mm", "--clock", "min", "--flutes",
    ],
    "fit": ["fit", "datasets/shoulder_demo.csv", "--only", "strategy=layered"],
    "fit_refused": ["fit", "datasets/nasa_milling.csv", "--criterion", "VB=0.3mm"],
    "compare": ["compare", "datasets/shoulder_demo.csv"],
    "compare_walls": ["compare", "datasets/shoulder_demo.csv", "--outcome", "wall", "--outcome", "wall_growth"],
    "exposure": ["exposure", "datasets/shoulder_demo.csv", "--standard", "layered"],
    "exposure_numbers": [
        "exposure", "--diameter-mm", "10", "--teeth", "4", "--feed-per-tooth-mm", "0.05", "--spindle-rpm", "1910",
        "--width-mm", "10", "--depth-mm", "8", "--length-mm", "120", "--centre-cutting",
        "--practice", "layered:layers=4", "--practice", "side:steps=4", "--practice", "plunge:pitch_mm=2",
    ],
    "wall": ["wall", "datasets/shoulder_demo.csv", "--only", "cutter=E1"],
    "decide": ["decide", "datasets/shoulder_demo.csv"],
    "card": ["card", "datasets/shoulder_demo.csv", "--pin", "12.54", "--hang-up", "0.5", "--date", "2026-11-25"],
    "plan": ["plan", "tests/contract/shoulder_plan.toml"],
}
"""Name of the example file and the command that makes it (without --json)."""


def answer(arguments: list[str]) -> str:
    """What a command prints with --json."""
    from wearlab.cli.main import run

    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.suppress(SystemExit):
        run([*arguments, "--json"])
    return out.getvalue()


if __name__ == "__main__":
    here = Path(__file__).parent
    os.chdir(here.parent.parent)
    for name, arguments in EXAMPLES.items():
        text = answer(arguments)
        json.loads(text)
        (here / f"{name}.json").write_text(text, encoding="utf-8")
        print(f"{name}: {len(text)} characters")
