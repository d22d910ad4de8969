"""The library as a notebook sees it: lazy public names, records that are one line of text and a table."""

from __future__ import annotations

import ast
import html
import inspect
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

import wearlab

FACTORS = ["feed_per_rev", "axial_depth", "work_material"]
STUDY = pd.DataFrame(
    [[part, who, again, 0.1 + 0.02 * part + 0.001 * ((7 * part + 3 * who + 5 * again) % 4)]
     for part in range(6) for who in range(3) for again in (1, 2)],
    columns=["part", "operator", "repeat", "value_mm"],
)  # fmt: skip


@cache
def nasa() -> Any:
    return wearlab.read_log(wearlab.sample_path("nasa_milling"))


@cache
def demo() -> Any:
    return wearlab.read_log(wearlab.sample_path("shoulder_demo"))


def fit() -> Any:
    return wearlab.fit_tool_life(wearlab.tool_lives(nasa(), "VB=0.3mm", "min"), nasa(), FACTORS)


RECORDS: dict[str, Callable[[], Any]] = {
    "read_log": nasa,
    "trial_from_frame": lambda: wearlab.trial_from_frame(pd.read_csv(wearlab.sample_path("groover_coated"))),
    "tool_lives": lambda: wearlab.tool_lives(nasa(), "VB=0.3mm"),
    "fit_tool_life": fit,
    "parameters": lambda: wearlab.parameters(fit()),
    "predict_life": lambda: wearlab.predict_life(fit(), {"feed_per_rev_mm": 0.5}, beyond=True),
    "next_cutter": lambda: wearlab.next_cutter(fit(), {}),
    "wear_curves": lambda: wearlab.wear_curves(nasa()),
    "wear_rates": lambda: wearlab.wear_rates(nasa(), "min"),
    "compare_groups": lambda: wearlab.compare_groups(nasa(), "VB=0.3mm", "min", by="work_material"),
    "trial_walls": lambda: wearlab.trial_walls(demo()),
    "exposure_of_trial": lambda: wearlab.exposure_of_trial(demo()),
    "decide_practices": lambda: wearlab.decide_practices(demo(), sensitivity=False, draws=1000),
    "measurement_study": lambda: wearlab.measurement_study(STUDY),
    "published_values": lambda: wearlab.published_values("exponent"),
}


@pytest.mark.parametrize("name", list(RECORDS))
def test_a_record_is_one_line_of_text_and_a_table(name: str) -> None:
    record = RECORDS[name]()
    assert "\n" not in repr(record)
    assert len(repr(record)) < 400
    shown = record._repr_html_()
    assert "<table" in shown
    assert shown.count("<tr") > 1


def test_a_report_is_a_page_in_a_frame_and_an_analysis_its_comparison() -> None:
    answer = wearlab.analyse(wearlab.read_log(wearlab.sample_path("taylor_T06")))
    assert "one strategy" in answer._repr_html_() or "not recorded" in answer._repr_html_(), "why there is none"
    report = wearlab.build_report(answer)
    frame = report._repr_html_()
    assert frame.startswith("<iframe title=")
    assert "sandbox" in frame.split("srcdoc")[0]
    assert frame.count("<") == 2, "the page is escaped inside its attribute"
    assert html.unescape(frame.split('srcdoc="')[1].rpartition('"></iframe>')[0]) == wearlab.render_html(report)
    compared = wearlab.analyse(nasa(), criteria=["VB=0.3mm"], by="work_material")
    assert "<table" in compared._repr_html_()


def test_what_a_user_typed_stands_in_a_notebook_as_text() -> None:
    table = pd.DataFrame({"cutter": ["<b>E1</b>"] * 2, "cutting_time_min": [1, 2], "value": [0.1, 0.2]})
    trial = wearlab.trial_from_frame(table.assign(measure="VB", unit="mm"), name="<script>")
    assert "<b>E1" not in trial._repr_html_()
    assert "<script" not in trial._repr_html_()
    assert "&lt;script&gt;" in trial._repr_html_()


def test_texts_and_short_names_ask_for_the_same_as_records() -> None:
    criterion = wearlab.parse_criterion("VB=0.3mm")
    by_record = wearlab.tool_lives(nasa(), [criterion], ["cutting_time_min"])
    by_text = wearlab.tool_lives(nasa(), "VB=0.3mm", "min")
    pd.testing.assert_frame_equal(by_text.to_frame(), by_record.to_frame())
    pd.testing.assert_frame_equal(by_text.select("VB=0.3mm", "min"), by_record.select(criterion, "cutting_time_min"))
    by_frames = wearlab.fit_tool_life(by_record.to_frame(), nasa().facts(), FACTORS)
    assert fit().beta.tolist() == by_frames.beta.tolist()
    one = wearlab.compare_groups(nasa(), criterion, "cutting_time_min", by="work_material")
    two = wearlab.compare_groups(nasa(), "VB=0.3mm", "min", by="work_material")
    assert one.to_dict() == two.to_dict()
    curves = wearlab.wear_curves(nasa())
    pd.testing.assert_frame_equal(
        wearlab.wear_rates(nasa(), "min").to_frame(), wearlab.wear_rates(curves, "cutting_time_min").to_frame()
    )


def test_without_a_criterion_the_first_of_the_trial_file_counts() -> None:
    assert wearlab.compare_groups(demo()).criterion == demo().settings.criteria[0].text


def test_a_fit_takes_lives_of_one_kind() -> None:
    several = wearlab.tool_lives(nasa(), ["VB=0.3mm", "VB=0.4mm"], "min")
    with pytest.raises(wearlab.ArgumentError, match=r"VB=0.3mm, VB=0.4mm.*one criterion on one clock.*select"):
        wearlab.fit_tool_life(several, nasa(), FACTORS)


def test_a_mistyped_clock_is_named_with_those_there_are() -> None:
    with pytest.raises(wearlab.ArgumentError, match=r"clock 'part'.*min, cm3, parts, m.*parts\?"):
        wearlab.tool_lives(nasa(), "VB=0.3mm", "part")


def test_public_names_are_sorted_and_importable() -> None:
    assert wearlab.__all__ == sorted(wearlab.__all__)
    for name in wearlab.__all__:
        assert getattr(wearlab, name) is not None, name
    assert wearlab.__version__.count(".") == 2
    assert set(wearlab.__all__) <= set(dir(wearlab))


def test_an_unknown_name_is_answered_with_those_there_are() -> None:
    with pytest.raises(AttributeError, match=r"no attribute 'read_lgo'.*read_log"):
        wearlab.read_lgo  # noqa: B018


def test_editors_see_what_is_found_at_run_time() -> None:
    """The imports for type checkers name exactly what `_NAMES` finds."""
    tree = ast.parse(Path(wearlab.__file__).read_text(encoding="utf-8"))
    block = next(node for node in tree.body if isinstance(node, ast.If))
    seen = {
        alias.asname or alias.name: (node.module, alias.name)
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert seen == wearlab._NAMES
    assert Path(wearlab.__file__).with_name("py.typed").exists()


@pytest.mark.parametrize("name", [name for name in wearlab.__all__ if inspect.isroutine(getattr(wearlab, name))])
def test_every_public_function_is_explained(name: str) -> None:
    function = getattr(wearlab, name)
    text = inspect.getdoc(function) or ""
    assert text, name
    if len(inspect.signature(function).parameters) > 1:
        assert "Parameters\n---" in text, name
    assert "" not in inspect.get_annotations(function), name
