"""The demonstration reports in reports/ are what the program makes today."""

from __future__ import annotations

import importlib.util
import re
import warnings
from pathlib import Path
from types import ModuleType

import pytest

from wearlab.report.sections.provenance import PACKAGES, _version

MAKER = Path(__file__).with_name("make_reports.py")


def _maker() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_reports", MAKER)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def stated(html: str) -> dict[str, str]:
    """Versions as the table of software states them."""
    table = html[html.index('id="table-versions"') if 'id="table-versions"' in html else html.index(">Software<") :]
    cells = re.findall(r"<t[dh][^>]*>([^<]*)</t[dh]>", table[: table.index("</table>")])
    return dict(zip(cells[::2], cells[1::2], strict=False))


@pytest.mark.parametrize("name", ["demonstration", "nasa_milling"])
def test_report_is_rebuilt(name: str) -> None:
    held = (MAKER.parents[2] / "reports" / f"{name}.html").read_text(encoding="utf-8")
    made = _maker().make(name)
    assert re.findall(r"<h2[^>]*>.*?</h2>", held) == re.findall(r"<h2[^>]*>.*?</h2>", made)
    versions, now = stated(held), stated(made)
    assert set(PACKAGES) <= set(versions)
    assert now["numpy"] == _version("numpy")
    if versions == now:
        assert held == made, f"reports/{name}.html is out of date: python tests/report/make_reports.py"
        return
    other = {one: (versions.get(one), now.get(one)) for one in now if versions.get(one) != now.get(one)}
    warnings.warn(RebuiltElsewhere(f"{name}: headings compared alone, other versions: {other}"), stacklevel=1)


class RebuiltElsewhere(Warning):
    """The report was made with other versions, so that its bytes cannot be compared."""
