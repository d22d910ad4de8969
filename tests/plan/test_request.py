"""The plan file: what it may say, and what is said when it says something else."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from wearlab.core.errors import ArgumentError, FileProblem
from wearlab.plan.example import EXAMPLE
from wearlab.plan.plan import Plan, make_plan, read_plan
from wearlab.plan.request import Request
from wearlab.plan.request_file import read_request, record_request, request_of

WRONG = [
    (
        "[trial]",
        "[trail]",
        r"section \[trail\].*did you mean trial",
    ),
    ("layers = 3", "layer = 3", "key 'layer' of practice layered.*did you mean layers"),
    ("diameter_mm = 12", "", "no diameter_mm.*cutter"),
    ("cutting_speed_m_min = 70", "", r"no cutting_speed_m_min in \[settings\]"),
    ('name = "side"', 'name = "sideways"', "practice 'sideways'.*did you mean side"),
    ('name = "side"', 'name = "layered"', "two practices of one name|key 'steps'"),
    ('standard = "layered"', 'standard = "layerd"', "standard 'layerd'.*did you mean layered"),
    ('rule = "feed_per_tooth"', 'rule = "feed"', "rule 'feed'.*feed_per_tooth"),
    ("margin = 1.25", "margin = 0.8", "size.margin = 0.8.*between 1 and 10"),
    ("margin = 1.25", 'margin = "a lot"', "margin = 'a lot'.*a number"),
    ("teeth = 4", "teeth = 4.5", "teeth = 4.5.*a whole number"),
    ('holders = ["H1", "H2"]', 'holders = "H1"', "holders = 'H1'.*a list of texts"),
    ("seed = 20260301", "seed = -1", "seed -1.*from 0"),
    ("[blocks]", "[blocks]\nholds = 1", "blocks.holds = 1.*2 or more"),
    ("correlation = 0.3", "correlation = 1.0", "scatter.correlation = 1.*between 0 and 1"),
    ('hardness_scale = "HB"', 'hardness_scale = "Brinell"', "hardness_scale = 'Brinell'.*HB, HV, HRC, HRB"),
    ("relief_deg = 10", "relief_deg = 80", "relief_deg = 80.*up to 30"),
    ('outcome = "life"', 'outcome = "price"', "size.outcome = 'price'.*life, rate"),
    ('[[practice]]\nname = "layered"', '[practice]\nname = "layered"', "not TOML|double brackets"),
    ("width_mm = 12", "width_mm = -12", "width_mm"),
]


@pytest.mark.parametrize(("old", "new", "message"), WRONG)
def test_a_wrong_plan_file_says_where_and_what_is_allowed(
    old: str, new: str, message: str, tmp_path: Path
) -> None:
    assert old in EXAMPLE
    path = tmp_path / "plan.toml"
    path.write_text(EXAMPLE.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(FileProblem, match=rf"(?si)plan.toml: .*({message})"):
        read_request(path)


def test_a_missing_section_points_to_the_example() -> None:
    with pytest.raises(ArgumentError, match=r"no section \[cutter\].*--example"):
        request_of({"feature": {}, "settings": {}})


def test_no_such_file(tmp_path: Path) -> None:
    with pytest.raises(FileProblem, match="cannot be read"):
        read_request(tmp_path / "none.toml")


def test_defaults_are_part_of_the_record(request_with: Callable[..., Request]) -> None:
    bare = EXAMPLE[: EXAMPLE.index("[zones]")]
    request = request_of(tomllib.loads(bare))
    assert request.scatter.cv == 0.35
    assert "Machinery's Handbook, 31st edition, p. 139" in request.scatter.source
    assert request.to_dict()["size"]["margin"] == 1.25
    stated = request_of(tomllib.loads(bare + "[scatter]\ncv = 0.2\n"))
    assert stated.scatter.source == "stated in the plan file"


def test_the_fingerprint_changes_with_anything_that_is_asked(request_with: Callable[..., Request]) -> None:
    one = request_with()
    assert one.fingerprint == request_with().fingerprint
    others = [request_with(seed=1), request_with(size={"margin": 1.3}), request_with(looks={"per_life": 6})]
    assert len({one.fingerprint, *(other.fingerprint for other in others)}) == 4


def test_a_written_plan_reads_back_whole(plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "a.plan.json"
    path.write_text(plan.json_text(), encoding="utf-8")
    back = read_plan(path)
    assert back.json_text() == plan.json_text()
    assert record_request(plan.request.to_dict()) == plan.request


def test_the_written_order_is_kept(plan: Plan, tmp_path: Path) -> None:
    """Whatever a later version would draw, the sheets are out."""
    text = plan.json_text().replace('"cutter": "E1",', '"cutter": "E99",', 1)
    (tmp_path / "a.plan.json").write_text(text, encoding="utf-8")
    assert read_plan(tmp_path / "a.plan.json").runs[0].cutter == "E99"


@pytest.mark.parametrize(
    ("text", "message"),
    [("{", "not JSON"), ("[]", "not a plan"), ('{"schema": "wearlab.plan/1"}', "not a whole plan")],
)
def test_other_files_are_no_plan(text: str, message: str, tmp_path: Path) -> None:
    (tmp_path / "x.json").write_text(text, encoding="utf-8")
    with pytest.raises(FileProblem, match=message):
        read_plan(tmp_path / "x.json")


def test_same_seed_same_plan_to_the_byte(request_with: Callable[..., Request]) -> None:
    one, two = make_plan(request_with(seed=5)), make_plan(request_with(seed=5))
    assert one.json_text() == two.json_text()
    assert make_plan(request_with(seed=6)).runs != one.runs


def test_one_practice_needs_a_number_of_cutters() -> None:
    alone = EXAMPLE.replace('[[practice]]\nname = "side"\nsteps = 3\nexpected_life_min = 110\n', "")
    with pytest.raises(ArgumentError, match="one practice, and no number of cutters"):
        make_plan(request_of(tomllib.loads(alone)))
    made = make_plan(request_of(tomllib.loads(alone.replace("# cutters = 6", "cutters = 4"))))
    assert len(made.runs) == 4
    assert made.power == ()


def test_every_remark_of_the_example_is_a_plan_too() -> None:
    """Sections and keys that the example offers as remarks are known, and make a plan when the marks are taken off."""
    lines = []
    for line in EXAMPLE.splitlines():
        bare = line.removeprefix("# ")
        lines.append(bare if bare.startswith("[") or " = " in bare else line)
    text = "\n".join(line for line in lines if not line.startswith(("units = ", "holds = ", "cv = ")))
    asked = request_of(tomllib.loads(text))
    assert asked.speeds is not None
    assert asked.walls.sides
    assert asked.blocks.machines == ("M1", "M2")
    assert asked.tolerance["tolerance_mm"] == 0.06
    assert make_plan(asked).speeds is not None
