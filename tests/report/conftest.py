"""Reports to look into: two samples, and a log full of hostile text; and a plain reader of pages."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from typing import Any

import pandas as pd
import pytest

from wearlab.logbook.read import read_log
from wearlab.logbook.trial import Trial
from wearlab.report.analysis import Analysis, analyse
from wearlab.report.build import build_report
from wearlab.report.record import Report
from wearlab.report.render import render_html

VOID = {"meta", "br", "img", "link", "input", "use", "path", "line", "rect", "circle"}
HIDDEN = {"style", "script"}


class Page(HTMLParser):
    """Tags, attributes, text and ids of a page."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.texts: list[str] = []
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)

    def handle_data(self, data: str) -> None:
        if data.strip() and not HIDDEN & set(self.open):
            self.texts.append(data)

    @property
    def text(self) -> str:
        return " ¦ ".join(" ".join(part.split()) for part in self.texts)

    def all(self, tag: str) -> list[dict[str, str]]:
        return [attributes for name, attributes in self.tags if name == tag]


@pytest.fixture(scope="session")
def page_of() -> Callable[[str], Page]:
    """A page read once."""
    return cache(Page)


@pytest.fixture(scope="session")
def analysis_of(sample: Callable[[str], Trial]) -> Callable[..., Analysis]:
    """An analysis of a sample, made once for each set of options."""
    made: dict[str, Analysis] = {}

    def get(name: str, units: str = "metric", **options: Any) -> Analysis:
        key = f"{name} {sorted(options.items())}"
        if key not in made:
            made[key] = analyse(sample(name), **options)
        return replace(made[key], units=units)

    return get


@pytest.fixture(scope="session")
def report_of(analysis_of: Callable[..., Analysis]) -> Callable[..., Report]:
    made: dict[str, Report] = {}

    def get(name: str, **options: Any) -> Report:
        key = f"{name} {sorted(options.items())}"
        if key not in made:
            made[key] = build_report(analysis_of(name, **options), command="wearlab report")
        return made[key]

    return get


@pytest.fixture(scope="session")
def html_of(report_of: Callable[..., Report]) -> Callable[..., str]:
    made: dict[str, str] = {}

    def get(name: str, **options: Any) -> str:
        key = f"{name} {sorted(options.items())}"
        if key not in made:
            made[key] = render_html(report_of(name, **options))
        return made[key]

    return get


HOSTILE = [
    "<script>alert(1)</script>",
    "=cmd|'/C calc'!A0",
    '$x^{2$ & <b>"bold"</b>',
    "</svg><img src=x onerror=alert(2)>",
]
"""Text that would do harm where it is not escaped: in the page, in a drawing, in a spreadsheet."""


@pytest.fixture(scope="session")
def hostile_html(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The page of a small log whose cutters, practices, zones, notes and question are hostile."""
    path = tmp_path_factory.mktemp("hostile") / "log.csv"
    pd.DataFrame(_hostile_rows()).to_csv(path, index=False)
    question = '[trial]\nquestion = "</title><script>alert(3)</script>?"\n'
    path.with_suffix(".toml").write_text(question, encoding="utf-8")
    return render_html(build_report(analyse(read_log(path)), command="wearlab report '<script>'"))


def _hostile_rows() -> list[dict[str, Any]]:
    rows = []
    for at in range(8):
        strategy = HOSTILE[at % 2]
        for look in range(1, 6):
            for zone in ("lower", HOSTILE[2]):
                rows.append(
                    {
                        "cutter": f"{HOSTILE[at % 4]}{at}",
                        "strategy": strategy,
                        "work_material": HOSTILE[3],
                        "cutting_speed_m_min": (60, 80)[(at // 2) % 2],
                        "reading": look,
                        "cutting_time_min": 5.0 * look,
                        "measure": "VB",
                        "zone": zone,
                        "value": round(0.07 * look * (1 + 0.3 * (at % 2) + 0.05 * at), 4),
                        "unit": "mm",
                        "operator": "Q.Z.",
                        "note": HOSTILE[0],
                    }
                )
    return rows
