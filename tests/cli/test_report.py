"""`wearlab report` through the command line: beside an earlier trial, other factors, a held exponent, inches."""

from __future__ import annotations

import html
import json
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from wearlab.cli.main import run
from wearlab.logbook.samples import sample_path
from wearlab.simulate.files import write_shoulder

Wearlab = Callable[..., tuple[int, str, str]]
DEMO = sample_path("shoulder_demo")
NASA = sample_path("nasa_milling")


@pytest.fixture
def wearlab(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Wearlab:
    """Run a command in an empty folder: exit code, standard output, standard error."""
    monkeypatch.chdir(tmp_path)

    def call(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as stop:
            run([str(one) for one in arguments])
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return int(stop.value.code or 0), out, err

    return call


@pytest.fixture(scope="module")
def earlier(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Another trial of the same design, cut from another seed."""
    return next(path for path in write_shoulder(tmp_path_factory.mktemp("earlier"), 7) if path.suffix == ".csv")


def record(wearlab: Wearlab, *arguments: object) -> dict[str, Any]:
    code, out, err = wearlab("report", *arguments, "--json")
    assert code == 0, err
    return json.loads(out)


def section(made: dict[str, Any], key: str) -> dict[str, Any]:
    return next(one for one in made["sections"] if one["key"] == key)


def table(made: dict[str, Any], key: str) -> pd.DataFrame:
    blocks = [block for one in made["sections"] for block in one["blocks"] if block.get("key") == key]
    return pd.DataFrame(blocks[0]["rows"]) if blocks else pd.DataFrame()


def sentences(made: dict[str, Any], key: str) -> str:
    return " ".join(text for block in section(made, key)["blocks"] for text in block.get("sentences", []))


class TestAgainst:
    def test_a_change_stands_with_its_interval(self, wearlab: Wearlab, earlier: Path) -> None:
        made = record(wearlab, DEMO, "--against", earlier)
        rows = table(made, "against-figures").set_index("figure")
        ratio = rows.loc["ratio"]
        assert ratio["change"] == pytest.approx(ratio["now"] / ratio["before"])
        # Zou and Donner (2008): each limit from the near limit of one interval and the far limit of the other.
        gap = math.log(ratio["change"])
        low = gap - math.hypot(
            math.log(ratio["now"] / ratio["now_low"]), math.log(ratio["before_high"] / ratio["before"])
        )
        high = gap + math.hypot(
            math.log(ratio["now_high"] / ratio["now"]), math.log(ratio["before"] / ratio["before_low"])
        )
        assert (ratio["change_low"], ratio["change_high"]) == pytest.approx((math.exp(low), math.exp(high)))
        n = rows.loc["exponent"]
        assert n["change"] == pytest.approx(n["now"] - n["before"])
        assert n["change_low"] < n["change"] < n["change_high"]
        said = sentences(made, "against")
        assert "so that no change is shown, and none inside that range is ruled out" in said
        assert "overlap" not in json.dumps(section(made, "against"))
        assert "21 names of cutters are in both logs with other readings" in said

    def test_lives_of_each_practice_say_which_side_moved(self, wearlab: Wearlab, earlier: Path, tmp_path: Path) -> None:
        log = pd.read_csv(earlier, dtype=str, keep_default_na=False)
        side = log["strategy"] == "side"
        for clock in [name for name in ("cutting_time_min", "volume_cm3", "parts", "cut_length_m") if name in log]:
            slower = pd.to_numeric(log.loc[side, clock]) / 3
            log.loc[side, clock] = slower.map("{:.4f}".format)
        worse = tmp_path / "worse.csv"
        log.to_csv(worse, index=False)
        worse.with_suffix(".toml").write_text(earlier.with_suffix(".toml").read_text("utf-8"), encoding="utf-8")
        made = record(wearlab, DEMO, "--against", worse)
        rows = table(made, "against-figures")
        lives = rows[rows["figure"] == "life"].set_index("groups")
        assert lives.loc["side", "change_low"] > 1.0  # three times shorter lives in the earlier trial
        assert lives.loc["layered", "change_low"] < 1.0 < lives.loc["layered", "change_high"]
        said = sentences(made, "against")
        assert "more than the scatter of both trials explains" in said
        assert "the verdict of the earlier trial was" in said.lower()

    def test_the_same_log_with_a_corrected_reading(self, wearlab: Wearlab, tmp_path: Path) -> None:
        log = pd.read_csv(DEMO, dtype=str, keep_default_na=False)
        lands = log.index[(log["measure"] == "VB") & (log["cutter"] == "E2")]
        log.loc[lands[-1], "value"] = str(round(float(log.loc[lands[-1], "value"]) * 1.1, 4))
        log = log.drop(index=log.index[log["cutter"] == "E3"][-1:])
        corrected = tmp_path / "before.csv"
        log.to_csv(corrected, index=False)
        corrected.with_suffix(".toml").write_text(DEMO.with_suffix(".toml").read_text("utf-8"), encoding="utf-8")
        made = record(wearlab, DEMO, "--against", corrected, "--margin", 1.3)
        rows = table(made, "against-readings").set_index("cutter")
        assert rows.loc["E2", "corrected"] == 1
        assert set(rows.index) == {"E2", "E3"}
        said = sentences(made, "against")
        assert "21 cutters are in both" in said
        assert "cutters are the same ones, so a figure moved by what is set or logged otherwise" in said.lower()
        assert "readings of 2 cutters" in said
        figures = table(made, "against-figures")
        assert figures["change_low"].isna().all()
        assert figures["why_missing"].str.contains("not independent").all()

    def test_another_end_of_life_and_other_settings_are_named(
        self, wearlab: Wearlab, earlier: Path, tmp_path: Path
    ) -> None:
        toml = earlier.with_suffix(".toml").read_text("utf-8")
        assert "lower:VB.mean=0.2mm" in toml
        other = tmp_path / "other.csv"
        other.write_text(earlier.read_text("utf-8"), encoding="utf-8")
        changed = toml.replace("lower:VB.mean=0.2mm", "lower:VB.mean=0.25mm").replace("margin = 1.25", "margin = 1.5")
        other.with_suffix(".toml").write_text(changed, encoding="utf-8")
        made = record(wearlab, DEMO, "--against", other)
        differ = table(made, "against-conditions").set_index("what")
        assert differ.loc["the end of life", "before"].startswith("lower:VB.mean=0.25mm")
        assert "a life ends otherwise" in sentences(made, "against").lower()
        assert table(made, "against-figures")["why_missing"].str.contains("life ends otherwise").all()
        both = record(wearlab, DEMO, "--against", other, "--criterion", "lower:VB.mean=0.2mm")
        assert "a life ends alike in both" in sentences(both, "against").lower()

    def test_conditions_stand_in_the_readers_unit(self, wearlab: Wearlab, earlier: Path, tmp_path: Path) -> None:
        log = pd.read_csv(earlier, dtype=str, keep_default_na=False)
        log["overhang_mm"], log["machine"] = "50.8", "Mill 9"
        other = tmp_path / "other.csv"
        log.to_csv(other, index=False)
        code, _, err = wearlab("report", DEMO, "--against", other, "--units", "inch", "--out", "page.html")
        assert code == 0, err
        text = html.unescape((tmp_path / "page.html").read_text("utf-8"))
        row = re.search(r"<tr><th[^>]*>cutters and cut</th><td[^>]*>overhang</td><td[^>]*>([^<]*)</td>", text)
        assert row is not None
        assert row[1] == "2 in"
        assert "machine" in text[text.index('id="table-against-conditions"') :]

    def test_a_file_that_is_not_there(self, wearlab: Wearlab) -> None:
        code, _, err = wearlab("report", DEMO, "--against", "gone.csv")
        assert code == 2
        assert "gone.csv" in err


class TestFactors:
    def test_a_factor_enters_the_equation_and_the_record(self, wearlab: Wearlab) -> None:
        rule = ("--criterion", "VB=0.3mm", "--by", "work_material")
        made = record(wearlab, NASA, *rule, "--factors", "feed_per_tooth,axial")
        used = made["provenance"]["settings"]["factors"]
        assert used == ["feed_per_tooth", "axial"]
        names = set(table(made, "equation")["name"])
        assert {"exponent_feed_per_tooth_mm", "exponent_axial_depth_mm"} <= names

    def test_an_unknown_factor_is_said_with_what_there_is(self, wearlab: Wearlab) -> None:
        code, _, err = wearlab("report", NASA, "--factors", "colour")
        assert code == 2
        assert "colour" in err


class TestHold:
    def test_a_held_exponent_is_used_and_said(self, wearlab: Wearlab) -> None:
        made = record(wearlab, DEMO, "--hold", "n=0.125")
        assert made["provenance"]["settings"]["held_exponent"] == 0.125
        parameters = table(made, "equation").set_index("name")
        assert parameters.loc["n", "estimate"] == 0.125
        assert parameters.loc["n", "why_missing"] == "held, not fitted"

    @pytest.mark.parametrize("typed", ["m=0.25", "n=fast", "0.25x"])
    def test_what_cannot_be_held(self, wearlab: Wearlab, typed: str) -> None:
        code, _, err = wearlab("report", DEMO, "--hold", typed)
        assert code == 2
        assert "--hold" in err


class TestOperators:
    def test_initials_stay_out_unless_asked_for(self, wearlab: Wearlab, tmp_path: Path) -> None:
        log = pd.read_csv(DEMO, dtype=str, keep_default_na=False)
        log.loc[log["cutter"] == "E2", "operator"] = "Q.Z."
        path = tmp_path / "named.csv"
        log.to_csv(path, index=False)
        path.with_suffix(".toml").write_text(DEMO.with_suffix(".toml").read_text("utf-8"), encoding="utf-8")
        for extra in ((), ("--operators",)):
            code, _, err = wearlab("report", path, "--out", "page.html", "--force", *extra)
            assert code == 0, err
            text = (tmp_path / "page.html").read_text("utf-8")
            assert ("Q.Z." in text) == bool(extra)
        made = record(wearlab, path, "--operators")
        rows = table(made, "operators").set_index("initials")
        assert rows.loc["Q.Z.", "cutters"] == 1
        assert rows["readings"].sum() == len(log[log["measure"] != "end"])
        assert "must not be used to rank people" in json.dumps(section(made, "provenance"))
