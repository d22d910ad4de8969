"""Headless Chromium opens the pages: console, network, accessibility, widths, paper, anchors, downloads.

Needs chromium and chromedriver (Debian packages chromium and chromium-driver). Without them the tests are skipped and
say so; where CI is set they fail instead.
"""

from __future__ import annotations

import base64
import io
import json
import os
import shutil
from collections.abc import Callable, Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pandas as pd
import pytest

from wearlab.report.downloads import csv_text
from wearlab.report.record import FigureBlock, Report, TableBlock

BROWSER = os.environ.get("CHROMIUM") or shutil.which("chromium") or ""
DRIVER = os.environ.get("CHROMEDRIVER") or shutil.which("chromedriver") or ""
MISSING = [
    name
    for name, held in (
        ("chromium", Path(BROWSER).is_file()),
        ("chromedriver", Path(DRIVER).is_file()),
        ("selenium", find_spec("selenium") is not None),
        ("axe-core-python", find_spec("axe_core_python") is not None),
    )
    if not held
]
FLAGS = (
    "--headless=new --no-sandbox --disable-gpu --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --disable-dev-shm-usage"
)
PAGES = ("demonstration", "nasa_milling", "hostile")
WIDTHS = (360, 768, 1440)
SMALLEST_PX, SMALLEST_PRINT_PX, MOST_OVER_PX = 9.5, 8.0, 6.0
"""Least height of the letters in a drawing, in pixels of the screen and of paper (8 pixels are 6 points), and how far
a text may run over its edge: another machine's font is wider."""
DRAWN = """return [...document.querySelectorAll('figure')].map(figure => [figure.id,
  [...figure.querySelectorAll('svg.drawing')].map(one => {
    const box = one.getBoundingClientRect(), scale = box.width / one.viewBox.baseVal.width;
    const sizes = [...one.querySelectorAll('text')].map(text => parseFloat(getComputedStyle(text).fontSize) * scale);
    const over = [...one.querySelectorAll('text')].map(text => text.getBoundingClientRect()).map(
      text => Math.max(box.left - text.left, text.right - box.right, text.bottom - box.bottom, box.top - text.top));
    return [box.left, box.right, box.width, box.height, Math.min(...sizes), Math.max(...over)];
  }).filter(box => box[2] > 0)])"""
"""Per figure: left, right, width and height of each drawing that is shown, its smallest letters, and how far a text
of it reaches beyond its edge."""


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    if MISSING:
        text = f"no browser test: {', '.join(MISSING)} not installed"
        if os.environ.get("CI"):
            pytest.fail(text)
        pytest.skip(text)
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = BROWSER
    for flag in FLAGS.split():
        options.add_argument(flag)
    options.add_argument(f"--user-data-dir={tmp_path_factory.mktemp('profile')}")
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    driver.set_page_load_timeout(60)
    yield driver
    driver.quit()


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory, html_of: Callable[..., str], hostile_html: str) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    texts = {
        "demonstration": html_of("shoulder_demo"),
        "nasa_milling": html_of("nasa_milling", criteria=("VB=0.3mm",), by="work_material"),
        "hostile": hostile_html,
    }
    for name, text in texts.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    return {name: folder / f"{name}.html" for name in texts}


def _requests(driver: Any) -> list[str]:
    messages = [json.loads(entry["message"])["message"] for entry in driver.get_log("performance")]
    return [one["params"]["request"]["url"] for one in messages if one["method"] == "Network.requestWillBeSent"]


def _open(driver: Any, path: Path, width: int = 1440) -> None:
    driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 500},
    )
    driver.get(path.as_uri())


@pytest.mark.parametrize("page", PAGES)
def test_quiet_and_offline(browser: Any, files: dict[str, Path], page: str) -> None:
    browser.get("about:blank")
    browser.get_log("browser")
    browser.get_log("performance")
    _open(browser, files[page])
    assert browser.get_log("browser") == []
    asked = _requests(browser)
    assert files[page].as_uri() in asked  # the listening works
    assert [url for url in asked if url != files[page].as_uri() and not url.startswith("data:")] == []


def test_a_request_would_be_seen(browser: Any, tmp_path: Path) -> None:
    page = tmp_path / "asks.html"
    page.write_text("<img src='other.png'><script>console.error('said')</script>", encoding="utf-8")
    browser.get_log("performance")
    _open(browser, page)
    assert any(url.endswith("other.png") for url in _requests(browser))
    assert any("said" in entry["message"] for entry in browser.get_log("browser"))


@pytest.mark.parametrize("page", PAGES)
def test_axe_finds_nothing(browser: Any, files: dict[str, Path], page: str) -> None:
    import axe_core_python

    folder = Path(axe_core_python.__file__).parent
    source = next(folder.rglob("axe*.js")).read_text(encoding="utf-8")
    _open(browser, files[page])
    browser.execute_script(source)
    browser.set_script_timeout(60)
    found = browser.execute_async_script(
        "const done = arguments[0]; axe.run({resultTypes: ['violations']}).then(done, e => done({error: String(e)}));"
    )
    assert "error" not in found, found
    assert found["passes"]
    assert [(one["id"], one["nodes"][0]["html"][:200]) for one in found["violations"]] == []


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("page", PAGES)
def test_figures_are_seen_at_every_width(browser: Any, files: dict[str, Path], page: str, width: int) -> None:
    _open(browser, files[page], width)
    browser.execute_script("document.querySelectorAll('details').forEach(one => one.open = true)")
    figures = browser.execute_script(DRAWN)
    assert figures
    for name, drawings in figures:
        assert len(drawings) == 1, name  # the wide one or the one for a phone, never both and never none
        left, right, wide, high, least, over = drawings[0]
        assert 0 <= left < right <= width + 1, name  # whole, without moving anything sideways
        assert wide >= 150, name
        assert high >= 30, name
        assert least >= SMALLEST_PX, name
        assert over <= MOST_OVER_PX, name
    assert browser.execute_script("return document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("page", PAGES)
def test_every_figure_goes_on_paper_once(browser: Any, files: dict[str, Path], page: str) -> None:
    _open(browser, files[page], 700)  # A4 less its margins, in the pixels of print
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        figures = browser.execute_script(DRAWN)
        reach = browser.execute_script("return document.documentElement.scrollWidth")
        kept = browser.execute_script(
            "const of = (what, name) => [...new Set([...document.querySelectorAll(what)].map("
            "one => getComputedStyle(one)[name]))];"
            "return [of('thead', 'display'), of('tr', 'breakInside'), of('.part', 'breakBefore'), "
            "of('figure', 'breakInside'), of('caption', 'breakAfter')]"
        )
    finally:
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert figures
    for name, drawings in figures:
        assert len(drawings) == 1, name
        assert 0 <= drawings[0][0] < drawings[0][1] <= 701, name
        assert drawings[0][4] >= SMALLEST_PRINT_PX, name
    assert reach <= 701
    # Heads repeated on every sheet, no row and no figure cut in two, each part on a sheet of its own.
    assert kept == [["table-header-group"], ["avoid"], ["page"], ["avoid"], ["avoid"]]


@pytest.mark.parametrize("page", PAGES)
def test_anchors_lead_somewhere(browser: Any, files: dict[str, Path], page: str) -> None:
    _open(browser, files[page])
    lost = browser.execute_script(
        "return [...document.querySelectorAll('a[href^=\"#\"]')].filter("
        "one => !document.getElementById(decodeURIComponent(one.hash.slice(1)))).map(one => one.hash)"
    )
    assert lost == []
    last = browser.find_elements("css selector", 'a[href="#provenance"]')[-1]
    browser.execute_script("arguments[0].click()", last)
    assert browser.current_url.endswith("#provenance")
    top = browser.execute_script("return document.getElementById('provenance').getBoundingClientRect().top")
    assert top < 900


@pytest.mark.parametrize("page", PAGES)
def test_prints_to_paper(browser: Any, files: dict[str, Path], page: str) -> None:
    _open(browser, files[page])
    for size in ((8.27, 11.69), (8.5, 11.0)):  # A4 and Letter, inches
        made = browser.execute_cdp_cmd("Page.printToPDF", {"paperWidth": size[0], "paperHeight": size[1]})
        pdf = base64.b64decode(made["data"])
        assert pdf.startswith(b"%PDF")
        assert pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page ") >= 2


def test_downloads_equal_the_tables(browser: Any, files: dict[str, Path], report_of: Callable[..., Report]) -> None:
    _open(browser, files["demonstration"])
    links = browser.execute_script(
        "return [...document.querySelectorAll('a.download')].map(one => [one.download, one.href])"
    )
    texts = {name: _decoded(address) for name, address in links}
    blocks = [one for one in report_of("shoulder_demo").blocks() if isinstance(one, TableBlock | FigureBlock)]
    seen = 0
    for block in blocks:
        frame = block.frame if isinstance(block, TableBlock) else block.table
        if f"{block.key}.csv" in texts:
            text = texts[f"{block.key}.csv"]
            assert text == csv_text(frame)
            assert len(pd.read_csv(io.StringIO(text))) == len(frame)
            seen += 1
    assert seen >= 10


def _decoded(address: str) -> str:
    head, _, body = address.partition(",")
    return base64.b64decode(body).decode("utf-8") if head.endswith(";base64") else unquote(body)
