"""The process engineer: a table in the shop's own words -> is it sound, how long do the cutters last, which practice.

Run it: `python -m wearlab.examples.process_engineer`. The trial is the invented one of the demonstration.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd

import wearlab

OWN_WORDS = {"Tool": "cutter", "Way": "strategy", "Minutes": "cutting_time_min", "Land": "value"}


def main() -> None:
    """Read a table, ask it, write the report."""
    # A table from wherever it comes: a spreadsheet, a measuring machine, a database. Here: the demonstration, renamed.
    table = pd.read_csv(wearlab.sample_path("shoulder_demo"), dtype={"cutter": str})
    table = table.rename(columns={ours: own for own, ours in OWN_WORDS.items()})

    trial = wearlab.trial_from_frame(table, {"trial": {"standard": "layered"}}, columns=OWN_WORDS, name="shoulder")
    print(trial)
    for finding in trial.findings:
        print(f"  {finding.severity}: {finding.found}")

    lives = wearlab.tool_lives(trial, "lower:VB.mean=0.2mm", "parts")
    print(lives.to_frame()[["cutter", "life", "status", "cause"]].to_string(index=False))

    comparison = wearlab.compare_groups(trial, "lower:VB.mean=0.2mm", "parts", outcomes=["life", "rate"])
    for one in comparison.contrasts:
        limits = one.interval
        print(f"{one.outcome}: {one.a} over {one.b} {one.estimate:.2f} ({limits.low:.2f} to {limits.high:.2f}): "
              f"{one.verdict}")  # fmt: skip

    answer = wearlab.analyse(trial, criteria=["lower:VB.mean=0.2mm"], clock="parts")
    Path("shoulder.html").write_text(wearlab.render_html(wearlab.build_report(answer)), encoding="utf-8")
    print("Wrote shoulder.html")


if __name__ == "__main__":
    main()
