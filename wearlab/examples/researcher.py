"""The researcher: a published table of wear -> lives, an equation in several factors, a guarded prediction, tables.

Run it: `python -m wearlab.examples.researcher`. The log is the milling wear table of NASA and UC Berkeley.
"""

from __future__ import annotations

import wearlab


def main() -> None:
    """Fit an equation, look at its constants, and ask it only what was tested."""
    trial = wearlab.read_log(wearlab.sample_path("nasa_milling"))
    lives = wearlab.tool_lives(trial, "VB=0.3mm", "min")
    fit = wearlab.fit_tool_life(lives, trial, ["feed_per_rev", "axial_depth", "work_material"])
    print(fit.method)
    print(wearlab.parameters(fit).to_frame()[["name", "estimate", "low", "high"]].to_string(index=False))

    tested = {"feed_per_rev_mm": 0.4, "axial_depth_mm": 1.0, "work_material": "cast iron"}
    life = wearlab.predict_life(fit, tested)
    print(f"median life at a feed of 0.4 mm a revolution, 1 mm deep, in cast iron: {life.life:.1f} min "
          f"({life.interval.low:.1f} to {life.interval.high:.1f}); {life.brand}")  # fmt: skip
    try:
        wearlab.predict_life(fit, tested | {"feed_per_rev_mm": 2.0})
    except wearlab.Refusal as refusal:
        print(f"at 2 mm a revolution: no answer, {refusal.found}")
    try:
        wearlab.fit_tool_life(lives, trial)
    except wearlab.Refusal as refusal:
        print(f"Taylor's exponent: no answer, {refusal.found}")

    lives.to_frame().to_csv("lives.csv", index=False)
    wearlab.wear_rates(trial, "min", limit_mm=0.3).to_frame().to_csv("rates.csv", index=False)
    print("Wrote lives.csv and rates.csv")


if __name__ == "__main__":
    main()
