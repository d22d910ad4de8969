"""Rebuild the demonstration reports: python tests/report/make_reports.py [--picture]

Also read by the test that compares them. `--picture` takes the picture of the first screen with headless Chromium.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

REPORTS = Path(__file__).parents[2] / "reports"
NAMES = ("demonstration", "nasa_milling")


def make(name: str) -> str:
    """The page of one demonstration report."""
    from wearlab.logbook.read import read_log
    from wearlab.logbook.samples import sample_path
    from wearlab.report.analysis import analyse
    from wearlab.report.build import build_report
    from wearlab.report.render import render_html

    if name == "demonstration":
        # Copied as `wearlab demo` does, so that the file is named trial.csv in the report.
        with tempfile.TemporaryDirectory() as folder:
            shipped, log = sample_path("shoulder_demo"), Path(folder) / "trial.csv"
            shutil.copy(shipped, log)
            shutil.copy(shipped.with_suffix(".toml"), log.with_suffix(".toml"))
            return render_html(build_report(analyse(read_log(log)), command="wearlab demo"))
    analysis = analyse(read_log(sample_path("nasa_milling")), criteria=["VB=0.3mm"], by="work_material")
    command = "wearlab report nasa_milling.csv --criterion VB=0.3mm --by work_material"
    return render_html(build_report(analysis, command=command))


def picture(page: Path, target: Path) -> None:
    """The first screen, 1280 by 1000 pixels; not compared, since fonts differ from machine to machine."""
    browser = os.environ.get("CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
    flags = "--headless=new --no-sandbox --disable-gpu --no-first-run --disable-background-networking --hide-scrollbars"
    with tempfile.TemporaryDirectory() as profile:
        subprocess.run(
            [browser, *flags.split(), "--window-size=1280,1000", f"--user-data-dir={profile}",
             f"--screenshot={target}", page.as_uri()], check=True, capture_output=True, timeout=90,
        )  # fmt: skip


if __name__ == "__main__":
    REPORTS.mkdir(exist_ok=True)
    for each in NAMES:
        (REPORTS / f"{each}.html").write_text(make(each), encoding="utf-8", newline="\n")
        print(f"Wrote reports/{each}.html")
    if "--picture" in sys.argv:
        picture(REPORTS / "demonstration.html", REPORTS / "first-screen.png")
        print("Wrote reports/first-screen.png")
