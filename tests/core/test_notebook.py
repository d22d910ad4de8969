"""Records are text in a terminal and a table in a notebook."""

from __future__ import annotations

import wearlab


def test_plain_and_html_repr() -> None:
    trial = wearlab.read_log(wearlab.sample_path("nasa_milling"))
    criterion = wearlab.parse_criterion("VB=0.3mm")
    lives = wearlab.tool_lives(trial, [criterion], ["cutting_time_min"])
    fit = wearlab.fit_tool_life(lives.to_frame(), trial.facts(), ["feed_per_rev", "axial_depth", "work_material"])
    curves = wearlab.wear_curves(trial)
    found = wearlab.compare_groups(trial, criterion, by="work_material")
    for record in (trial, lives, fit, curves, wearlab.wear_rates(curves), found):
        assert repr(record).startswith("<")
        assert "\n" not in repr(record)
        assert "<table" in record._repr_html_()


def test_public_names_are_sorted_and_importable() -> None:
    assert wearlab.__all__ == sorted(wearlab.__all__)
    for name in wearlab.__all__:
        assert getattr(wearlab, name) is not None, name
    assert wearlab.__version__.count(".") == 2
