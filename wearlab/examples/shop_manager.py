"""The shop manager: the shop's own prices -> which practice costs less, how sure that is, and the card for the machine.

Run it: `python -m wearlab.examples.shop_manager`. The trial is the invented one of the demonstration.
"""

from __future__ import annotations

from pathlib import Path

import wearlab

PRICES = {"machine_per_min": 1.2, "change_min": 4.0, "scrap": 40.0, "failure": 150.0, "edge_price": 38.0}


def main() -> None:
    """Price the practices of a trial, and write the standard of the cheapest."""
    trial = wearlab.read_log(wearlab.sample_path("shoulder_demo"))
    decision = wearlab.decide_practices(trial, costs=PRICES)
    for one in decision.to_frame().itertuples():
        sure = f"cheapest in {100 * one.chance_best:.0f} of 100 plausible cases"
        print(f"{one.group}: {one.cost_per_part:.2f} a part, {sure}; change after {one.change_parts:.0f} parts")
    print(f"Run {decision.choice}: {decision.verdict.replace('_', ' ')}.")

    standard = wearlab.standard_of(trial, decision)
    Path("card.html").write_text(wearlab.render_card(standard), encoding="utf-8")
    print(f"Wrote card.html, the one page for {standard.practice}")


if __name__ == "__main__":
    main()
