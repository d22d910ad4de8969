"""`wearlab card`: the page, its brands, its refusals; nothing loaded from elsewhere."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest

from wearlab.cli.main import run
from wearlab.logbook.samples import sample_path

Wearlab = Callable[..., tuple[int, str, str]]
DEMO = str(sample_path("shoulder_demo"))


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


def plain(html: str) -> str:
    """Text of a page without tags and styles."""
    html = re.sub(r"<style>.*?</style>", "", html, flags=re.S)
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def page(wearlab: Wearlab, tmp_path: Path, *arguments: object) -> str:
    fixed = ("--draws", 300, "--date", "2026-04-01", "--out", "card.html", "--force")
    code, _, err = wearlab("card", DEMO, *fixed, *arguments)
    assert code == 0, err
    return (tmp_path / "card.html").read_text(encoding="utf-8")


def test_the_page_holds_what_a_standard_needs(wearlab: Wearlab, tmp_path: Path) -> None:
    text = plain(page(wearlab, tmp_path, "--pin", 12.5, "--hang-up", 0.5, "--look-every", 10, "--may-exceed", "A. B."))
    for words in (
        "12 mm wide, 9 mm deep, 100 mm long, one wall", "42CrMo4 +QT", "class P", "290 HB",
        "Change the cutter every", "Running beyond it is up to: A. B.", "look every 10 parts and change it from",
        "cutting speed 70 m/min 70 m/min only", "runout at most 9 µm", "Not recorded in the log: allowance on the wall",
        "pin 12.5 mm may stop at most 0.5 mm above the floor", "When a check fails", "Log every early change",
        "shoulder demonstration (invented, simulated)", "2026-03-02 to 2026-03-30", "Look at it again at:",
        "manual, local law and codes", "responsible engineer",
    ):  # fmt: skip
        assert words in text
    assert "NOT TESTED" not in text
    assert re.search(r"\b[0-9a-f]{64}\b", text)


def test_nothing_is_loaded_and_no_script_runs(wearlab: Wearlab, tmp_path: Path) -> None:
    html = page(wearlab, tmp_path)
    found: list[str] = []

    class Tags(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            found.extend([tag, *(name for name, _ in attrs)])

    Tags().feed(html)
    assert not {"script", "link", "img", "iframe", "src", "href", "onclick"} & set(found)
    assert "url(" not in html
    assert "http" not in html


@pytest.mark.parametrize(("paper", "css"), [("A4", "size: A4 portrait"), ("letter", "size: letter portrait")])
def test_paper(wearlab: Wearlab, tmp_path: Path, paper: str, css: str) -> None:
    assert css in page(wearlab, tmp_path, "--paper", paper)


def test_black_and_white_only(wearlab: Wearlab, tmp_path: Path) -> None:
    colours = set(re.findall(r"#[0-9a-fA-F]{3,6}", page(wearlab, tmp_path)))
    for colour in colours:
        digits = colour[1:] if len(colour) == 4 else colour[1::2]
        assert len(set(digits)) == 1, colour


def test_numbers_outside_are_refused_and_no_file_is_left(wearlab: Wearlab, tmp_path: Path) -> None:
    code, out, _ = wearlab("card", DEMO, "--draws", 300, "--set", "cutting_speed_m_min=80", "--out", "card.html")
    assert code == 0
    assert "No answer: standard: outside what was tested: cutting speed 80 m/min (tested: 70 m/min only)" in (
        " ".join(out.split())
    )
    assert "_" not in out
    assert not (tmp_path / "card.html").exists()


def test_a_pin_that_the_trial_did_not_hold_says_so(wearlab: Wearlab, tmp_path: Path) -> None:
    """At its worst the larger pin never went in at all before the change was due; the smaller one reached the floor."""
    sooner = "In the trial it stopped higher than that before the change was due: expect to change sooner."
    assert sooner in plain(page(wearlab, tmp_path, "--pin", 12.54, "--hang-up", 0.5))
    assert sooner not in plain(page(wearlab, tmp_path, "--pin", 12.5, "--hang-up", 0.5, "--force"))


def test_the_brand_stands_on_the_page(wearlab: Wearlab, tmp_path: Path) -> None:
    text = plain(page(wearlab, tmp_path, "--set", "cutting_speed_m_min=80", "--not-tested"))
    assert "NOT TESTED, or beyond what the trial supports: cutting speed 80 m/min (tested: 70 m/min only)" in text
    assert text.count("NOT TESTED") >= 4


def test_a_speed_in_inches_and_its_brand_in_inches(wearlab: Wearlab, tmp_path: Path) -> None:
    text = plain(page(wearlab, tmp_path, "--units", "inch", "--set", "cutting_speed_m_min=80", "--not-tested"))
    assert "cutting speed 262 sfm (tested: 230 sfm only)" in text
    assert " mm" not in text.split("Cautions")[0].replace("(0.2 mm)", "")


def test_json_is_the_content_and_writes_no_file(wearlab: Wearlab, tmp_path: Path) -> None:
    code, out, _ = wearlab("card", DEMO, "--draws", 300, "--json", "--practice", "layered")
    facts = json.loads(out)
    assert code == 0
    assert facts["schema"] == "wearlab.card/1"
    assert facts["practice"] == "layered"
    assert {"members", "pin", "evidence", "review", "reactions", "cautions", "not_tested"} <= set(facts)
    assert list(tmp_path.iterdir()) == []


def test_a_refusal_in_json(wearlab: Wearlab) -> None:
    code, out, _ = wearlab("card", DEMO, "--draws", 300, "--interval", 500, "--json")
    assert code == 0
    assert "outside what was tested" in json.loads(out)["refusal"]["reason"]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--set", "speed=3"], "setting of the standard"),
        (["--set", "cutting_speed_m_min"], "COLUMN=NUMBER"),
        (["--set", "cutting_speed_m_min=fast"], "COLUMN=NUMBER"),
        (["--practice", "plunge"], "no practice 'plunge'"),
        (["--interval", "0"], "1 or more"),
    ],
)
def test_bad_arguments_exit_2(wearlab: Wearlab, arguments: list[str], message: str) -> None:
    code, _, err = wearlab("card", DEMO, "--draws", 300, *arguments)
    assert code == 2
    assert message in " ".join(err.split())


def test_words_from_the_log_are_escaped(wearlab: Wearlab, tmp_path: Path) -> None:
    log = tmp_path / "evil.csv"
    text = Path(DEMO).read_text(encoding="utf-8").replace("alloy steel 42CrMo4 +QT", "<b>steel</b>")
    log.write_text(text, encoding="utf-8")
    (tmp_path / "evil.toml").write_text(Path(DEMO).with_suffix(".toml").read_text(encoding="utf-8"), encoding="utf-8")
    wearlab("card", log, "--draws", 300, "--out", "card.html")
    html = (tmp_path / "card.html").read_text(encoding="utf-8")
    assert "&lt;b&gt;steel&lt;/b&gt;" in html
    assert "<b>steel</b>" not in html
