"""The `compare` command on real files: groups, families, walls, one limit, and lines that fit a terminal."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from wearlab.cli.main import run
from wearlab.logbook.samples import sample_path

Capture = pytest.CaptureFixture[str]
DEMO = str(sample_path("shoulder_demo"))
HEAD = "cutter,strategy,coating,direction,hardness,hardness_scale,cutting_time_min,measure,value,unit,end_reason\n"


def call(arguments: list[str], capsys: Capture) -> tuple[int, str]:
    with pytest.raises(SystemExit) as end:
        run(arguments)
    return int(end.value.code or 0), capsys.readouterr().out


def ends(path: Path, lives: dict[str, list[float | str]]) -> str:
    """A log of ends; a life written as text is one of a cutter taken out still good."""
    rows = []
    for group, own in lives.items():
        for at, life in enumerate(own):
            coating, way, hardness = ("TiN", "none")[at % 2], ("climb", "conventional")[at // 2 % 2], 190 + 7 * at
            reason = "withdrawn" if isinstance(life, str) else "worn"
            rows.append(f"{group}{at},{group},{coating},{way},{hardness},HB,{life},end,,,{reason}\n")
    path.write_text(HEAD + "".join(rows), encoding="utf-8")
    return str(path)


THREE = {
    "A": [30.0, 28.0, 33.0, 27.5, 31.0, 29.0, 32.0, 30.5],
    "B": [45.0, 51.0, 47.0, 43.0, 49.0, 44.0, 52.0, 46.0],
    "C": [31.0, 34.0, 28.5, 30.0, 33.5, 29.5, 30.2, 32.8],
}


def fits(out: str) -> bool:
    return all(len(line) <= 80 for line in out.splitlines())


def test_the_demonstration(capsys: Capture) -> None:
    code, out = call(["compare", DEMO], capsys)
    assert code == 0
    assert fits(out), [line for line in out.splitlines() if len(line) > 80]
    for text in (
        "“side” cutters lasted longer than “layered” cutters: about 2.8 times as long",
        "metal left at the floor, side over layered: a real difference, but a small one",
        "growth of the metal left, side over layered: a clear difference",
        "held within each outcome and zone",
        "points larger on",
    ):
        assert text in " ".join(out.split()), text


def test_several_against_a_standard(tmp_path: Path, capsys: Capture) -> None:
    log = ends(tmp_path / "three.csv", THREE | {"D": [31.0]})
    code, out = call(["compare", log, "--standard", "A"], capsys)
    words = " ".join(out.split())
    assert code == 0
    assert fits(out)
    assert "2 pairs were compared in life" in words
    assert "(after Holm)" in words
    assert "As a description only: the four “A” cutters lasted 1.02 times as long as the one “D” cutter" in words
    code, out = call(["compare", log, "--json"], capsys)
    found = json.loads(out)
    assert [one["method"] for one in found["families"]] == ["games_howell"]
    assert [one["family"] for one in found["contrasts"]] == ["games_howell"] * 6
    assert [one["p_value"] is None for one in found["contrasts"]] == [False, False, True, False, True, True]


@pytest.mark.parametrize(
    ("more", "text"),
    [(["--by", "coating", "--only", "strategy=A"], "TiN over none"),
     (["--by", "direction", "--only", "strategy=B", "--only", "coating=TiN"], "climb over conventional"),
     (["--only", "coating=TiN", "--factors", "hardness"], "adjusted for hardness")],
)  # fmt: skip
def test_any_factor(tmp_path: Path, capsys: Capture, more: list[str], text: str) -> None:
    code, out = call(["compare", ends(tmp_path / "three.csv", THREE), *more], capsys)
    assert code == 0
    assert fits(out)
    assert text in " ".join(out.split())


def test_one_limit_is_said_as_one(tmp_path: Path, capsys: Capture) -> None:
    log = ends(tmp_path / "good.csv", {"A": ["40", "40", "40", "40"], "B": [20.0, 22.0, 19.0, 25.0]})
    code, out = call(["compare", log], capsys)
    words = " ".join(out.split())
    assert code == 0
    assert fits(out)
    assert "“A” cutters lasted longer than “B” cutters: at least 1.64 times as long" in words
    assert "ratio not known, 95 % interval 1.642 to no limit" in words
    found = json.loads(call(["compare", log, "--json"], capsys)[1])["contrasts"][0]
    assert (found["estimate"], found["high"], found["unbounded"], found["verdict"]) == (None, None, "high", "different")
    assert found["p_exact"] == found["p_value"] == pytest.approx(2 / 70)


def test_walls_alone_and_their_margin(tmp_path: Path, capsys: Capture) -> None:
    table = tmp_path / "walls.csv"
    arguments = ["compare", DEMO, "--outcome", "wall", "--wall-margin-um", "10", "--csv", str(table)]
    code, out = call(arguments, capsys)
    assert code == 0
    assert fits(out)
    (row,) = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    assert (row["outcome"], row["scale"], row["verdict"]) == ("wall", "difference", "different")
    code, out = call(["compare", DEMO, "--outcome", "wal"], capsys)
    assert code == 2


def test_inches(capsys: Capture) -> None:
    code, out = call(["compare", DEMO, "--units", "inch", "--outcome", "wall", "--outcome", "volume"], capsys)
    assert code == 0
    assert fits(out)
    assert "0.52 thou" in out or "0.5 thou" in out
    assert "in³" in out
