"""Published lives through the public commands, from a log on paper to the printed constants; the source stands beside.

Stress tests of other fields obey the same power law: their stress stands in the column of the cutting speed.
"""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest

from wearlab.cli.main import run
from wearlab.logbook.samples import sample_path

PUBLISHED = Path(__file__).parent.parent / "reference" / "published"
Answer = Callable[..., dict[str, Any]]


@pytest.fixture
def fit(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Answer:
    """`wearlab fit` on lives written as a log, or on a log that is there."""

    def call(log: Path | Mapping[str, Sequence[float]], *arguments: str) -> dict[str, Any]:
        path = log if isinstance(log, Path) else _write(tmp_path / "log.csv", log)
        with pytest.raises(SystemExit) as stop:
            run(["fit", str(path), *arguments, "--json"])
        out, err = capsys.readouterr()
        assert (stop.value.code or 0, err) == (0, "")
        answer: dict[str, Any] = json.loads(out)
        answer["by_name"] = {one["name"]: one for one in answer["parameters"]}
        return answer

    return call


def _write(path: Path, columns: Mapping[str, Sequence[float]]) -> Path:
    """One cutter a row, worn out at `minutes`; `failed` 0 = taken out still good."""
    rows = [dict(zip(columns, cells, strict=True)) for cells in zip(*columns.values(), strict=True)]
    settings = [name for name in columns if name not in ("minutes", "failed")]
    lines = [",".join(["cutter", *settings, "cutting_time_min", "measure", "end_reason"])]
    for at, row in enumerate(rows, start=1):
        reason = "worn" if row.get("failed", 1) else "budget"
        cells = [repr(row[name]) for name in settings]
        lines.append(",".join([f"E{at}", *cells, repr(row["minutes"]), "end", reason]))
    path.write_text("\n".join(lines) + "\n")
    return path


def _table(name: str, stress: str, time: str, failed: str = "") -> dict[str, list[float]]:
    with (PUBLISHED / f"{name}.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    made = {"cutting_speed_m_min": [float(row[stress]) for row in rows], "minutes": [float(row[time]) for row in rows]}
    return made | ({"failed": [float(row[failed]) for row in rows]} if failed else {})


def _constants(answer: dict[str, Any], *names: str) -> list[float]:
    return [answer["by_name"][name]["estimate"] for name in names]


def test_t01(fit: Answer) -> None:
    """Groover, Fundamentals of Modern Manufacturing, worked example on tool life (from memory): n 0.223, C 229."""
    n, c = _constants(fit(sample_path("taylor_T01")), "n", "C")
    assert (n, c) == (pytest.approx(0.223, abs=5e-4), pytest.approx(229, abs=0.5))


def test_t03(fit: Answer) -> None:
    """Groover, 5th ed., problem in ch. 22 (answers from memory): from wear curves n 0.614, C 637."""
    n, c = _constants(fit(sample_path("groover_coated"), "--criterion", "VB=0.75mm"), "n", "C")
    assert (n, c) == (pytest.approx(0.614, abs=5e-4), pytest.approx(637.29, abs=0.01))


def test_t04(fit: Answer) -> None:
    """Textbook-style problem on a question-and-answer page (seen): n 0.233, cut off after three decimals."""
    n, c = _constants(fit({"cutting_speed_m_min": [180, 110], "minutes": [4.25, 35]}), "n", "C")
    assert (n, c) == (pytest.approx(0.233, abs=1e-3), pytest.approx(252.4, abs=0.05))


def test_t05(fit: Answer) -> None:
    """P. C. Sharma, A Textbook of Production Engineering, Exa 14.1 (seen in an open companion): 18 min at 24 m/min."""
    answer = fit(sample_path("taylor_T05"), "--hold", "n=0.125", "--at", "cutting_speed=24", "--beyond")
    assert answer["predictions"][0]["life"] == pytest.approx(18.02, abs=5e-3)
    assert _constants(answer, "C") == [pytest.approx(34.449, abs=5e-4)]


def test_t06(fit: Answer) -> None:
    """P. C. Sharma, Exa 14.7 (seen in an open companion): n 0.224, C 68.4, V60 27.37."""
    n, c, v60 = _constants(fit(sample_path("taylor_T06")), "n", "C", "v60")
    assert (n, c, v60) == (
        pytest.approx(0.224, abs=5e-4), pytest.approx(68.4, abs=0.05), pytest.approx(27.37, abs=0.01),
    )  # fmt: skip


@pytest.mark.parametrize(("n", "times"), [(0.5, 4.0), (0.25, 16.0)], ids=["T07", "T09"])
def test_t07_t09(fit: Answer, n: float, times: float) -> None:
    """Kalpakjian & Schmid, Manufacturing Engineering and Technology, Example 20.2 (seen): n 0.5, +300 % at half the
    speed; a question-and-answer page (seen): n 0.25, sixteen times."""
    log = {"cutting_speed_m_min": [200], "minutes": [7.5]}
    answer = fit(log, "--hold", f"n={n}", "--at", "cutting_speed=100", "--beyond")
    assert answer["predictions"][0]["life"] / 7.5 == pytest.approx(times, rel=1e-12)


def test_t11(fit: Answer) -> None:
    """GATE-style set (seen): 60 m/min 81 min, 90 m/min 36 min: n 0.5, C 540, +300 % at half the speed."""
    log = {"cutting_speed_m_min": [60, 90], "minutes": [81, 36]}
    answer = fit(log, "--at", "cutting_speed=30", "--beyond")
    assert _constants(answer, "n", "C") == pytest.approx([0.5, 540], rel=1e-10)
    assert answer["predictions"][0]["life"] / 81 - 1 == pytest.approx(3.0, rel=1e-10)


def test_e01(fit: Answer) -> None:
    """EML 4321 homework 11, spring 2011, course solution (seen): p 2.41, q 1.26, C 3.672e6 with unrounded exponents."""
    log = {
        "cutting_speed_m_min": [300, 400, 400], "feed_per_rev_mm": [0.2, 0.2, 0.3], "minutes": [30, 15, 9],
    }  # fmt: skip
    answer = fit(log, "--factors", "cutting_speed,feed_per_rev")
    p, q, constant = _constants(answer, "exponent_cutting_speed_m_min", "exponent_feed_per_rev_mm", "intercept")
    assert (-p, -q) == (pytest.approx(2.41, abs=5e-3), pytest.approx(1.26, abs=5e-3))
    assert math.exp(constant) == pytest.approx(3.672e6, rel=5e-4)


def _power_law(answer: dict[str, Any]) -> list[float]:
    slope = answer["by_name"]["exponent_cutting_speed_m_min"]
    return [
        *_constants(answer, "intercept"),
        slope["estimate"],
        slope["std_error"],
        answer["by_name"]["sigma"]["estimate"],
    ]


def test_a01(fit: Answer) -> None:
    """Insulating fluid, Nelson 1972 and 1990, Lawless 1982 (from memory: 64.84, -17.73, 1.288, se 1.607); R survreg."""
    answer = fit(_table("nelson_fluid", "kV", "minutes"), "--scatter", "weibull", "--judge")
    assert _power_law(answer) == pytest.approx([64.847, -17.730, 1.607, 1.2877], abs=1e-3)
    assert _constants(answer, "n") == [pytest.approx(0.0564, abs=5e-5)]
    laws = {one["distribution"]: one["log_likelihood"] for one in answer["judgement"]["other_laws"]}
    assert laws["weibull"] == pytest.approx(-300.817, abs=1e-3)
    assert laws["lognormal"] == pytest.approx(-303.602, abs=1e-3)


def test_a02(fit: Answer) -> None:
    """The 41 of those rows that R survival ships (survreg, survival 3.5-3)."""
    answer = fit(_table("ifluid", "voltage", "time"), "--scatter", "weibull")
    assert _power_law(answer) == pytest.approx([65.304, -17.870, 1.937, 1.1993], abs=1e-3)


def test_a03(fit: Answer) -> None:
    """The 76 rows, lognormal: least squares, s 1.5582, 95 % interval of the slope -20.077 to -12.704 (R 4.2.2)."""
    answer = fit(_table("nelson_fluid", "kV", "minutes"))
    slope = answer["by_name"]["exponent_cutting_speed_m_min"]
    found = [*_constants(answer, "intercept"), slope["estimate"], slope["low"], slope["high"], answer["sigma"]]
    assert found == pytest.approx([59.446, -16.391, -20.077, -12.704, 1.5582], abs=1e-3)


def test_a13(fit: Answer) -> None:
    """M. Modarres, data shipped with reliability 0.9.0; its fitter and R survreg agree."""
    intercept, slope, error, sigma = _power_law(fit(_table("load", "load", "life"), "--scatter", "weibull"))
    assert [intercept, slope, error, 1 / sigma] == pytest.approx([17.1584, -1.9619, 0.2274, 2.614], abs=1e-3)


def test_a15(fit: Answer) -> None:
    """Hirose 1993, film at 5 to 15 kV, 3 of 44 still good (R boot; survreg)."""
    answer = fit(_table("hirose", "volt", "time", "cens"), "--scatter", "weibull")
    assert (answer["lives"], answer["censored"]) == (44, 3)
    assert _power_law(answer) == pytest.approx([19.640, -6.876, 0.272, 0.8793], abs=1e-3)


def test_g02(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """AIAG, Measurement Systems Analysis, ANOVA report (from memory): with the interaction, which comes out below 0,
    taken into the repeats: 0.199933, 0.226838, 0.302373, 1.042327; REML answers that of its own accord."""
    with (PUBLISHED / "aiag_gauge.csv").open(newline="") as file:
        rows = [[row["part"], row["appraiser"], row["value"], "mm"] for row in csv.DictReader(file)]
    path = tmp_path / "study.csv"
    path.write_text("\n".join(map(",".join, [["part", "operator", "value", "unit"], *rows])) + "\n")
    with pytest.raises(SystemExit):
        run(["wear", str(sample_path("groover_coated")), "--study", str(path), "--json"])
    made = {one["component"]: one for one in json.loads(capsys.readouterr().out)["study"]["components"]}
    found = [made[name]["reml_mm"] for name in ("repeatability", "operator", "gauge", "part")]
    assert found == pytest.approx([0.199933, 0.226838, 0.302373, 1.042327], abs=2e-6)
    assert made["interaction"]["anova_mm"] == made["interaction"]["reml_mm"] == 0.0
