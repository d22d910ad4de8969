"""A small clean log that every test of the logbook may spoil in its own way."""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from wearlab.logbook.findings import Finding
from wearlab.logbook.read import read_log
from wearlab.logbook.trial import Trial

FACTS = {
    "cutter_material": "carbide", "diameter_mm": "12", "teeth": "2", "work_material": "42CrMo4",
    "strategy": "layered", "cutting_speed_m_min": "70", "feed_per_tooth_mm": "0.05", "axial_depth_mm": "3",
    "radial_width_mm": "12",
}  # fmt: skip


def _clean_rows() -> list[dict[str, str]]:
    """Two cutters, four looks, two flutes; wear rises evenly; the first data line is file line 2."""
    return [
        {"cutter": cutter, **FACTS, "reading": str(look), "cutting_time_min": str(5 * look), "measure": "VB",
         "zone": "lower", "flute": str(flute), "value": f"{0.05 * look + 0.003 * flute + start:.3f}", "unit": "mm"}
        for cutter, start in (("E1", 0.011), ("E2", 0.019))
        for look in range(1, 5)
        for flute in (1, 2)
    ]  # fmt: skip


@dataclass
class Log:
    """Rows of cells as typed; `spoil` changes one cell, `text` writes the file."""

    rows: list[dict[str, str]] = field(default_factory=_clean_rows)

    def copy(self) -> Log:
        return Log(copy.deepcopy(self.rows))

    def spoil(self, line: int, **cells: str) -> Log:
        """Change cells of a file line (the first row is line 2)."""
        other = self.copy()
        other.rows[line - 2].update(cells)
        return other

    def everywhere(self, **cells: str) -> Log:
        """Put the same cells into every row."""
        return Log([{**row, **cells} for row in self.rows])

    def without(self, *columns: str) -> Log:
        return Log([{name: cell for name, cell in row.items() if name not in columns} for row in self.rows])

    def only(self, *lines: int) -> Log:
        return Log([dict(self.rows[line - 2]) for line in lines])

    def again(self, line: int, **cells: str) -> Log:
        """Write a line a second time, at the end of the file."""
        other = self.copy()
        other.rows.append({**self.rows[line - 2], **cells})
        return other

    def header(self) -> list[str]:
        return list(dict.fromkeys(name for row in self.rows for name in row))

    def text(self, delimiter: str = ",", header: dict[str, str] | None = None) -> str:
        words = header or {}
        names = self.header()
        lines = [delimiter.join(words.get(name, name) for name in names)]
        lines += [delimiter.join(row.get(name, "") for name in names) for row in self.rows]
        return "\n".join(lines) + "\n"


Reader = Callable[..., Trial]


@pytest.fixture
def log() -> Log:
    return Log()


@pytest.fixture
def read(tmp_path: Path) -> Reader:
    """Write text or bytes to a file and read it as a log."""

    def read_text(content: str | bytes | Log, name: str = "log.csv", toml: str = "") -> Trial:
        path = tmp_path / name
        if isinstance(content, Log):
            content = content.text()
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        if toml:
            path.with_suffix(".toml").write_text(toml, encoding="utf-8")
        trial = read_log(path)
        assert trial.counts.rows_read == trial.counts.rows_used + trial.counts.rows_set_aside
        assert len(trial.quarantine) == trial.counts.rows_set_aside
        return trial

    return read_text


@pytest.fixture
def one() -> Callable[[Trial, str], Finding]:
    """The only finding with a code."""

    def only_finding(trial: Trial, code: str) -> Finding:
        found = [finding for finding in trial.findings if finding.code == code]
        assert len(found) == 1, [finding.text() for finding in trial.findings]
        return found[0]

    return only_finding
