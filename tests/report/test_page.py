"""The page: what it holds, what it must not hold, and that it can be read without seeing it."""

from __future__ import annotations

import csv
import io
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any
from urllib.parse import unquote

import pytest

from wearlab.core.errors import Refusal
from wearlab.logbook.trial import Trial
from wearlab.report.analysis import analyse
from wearlab.report.build import build_report
from wearlab.report.downloads import csv_text
from wearlab.report.record import FigureBlock, FindingsBlock, Paragraph, Report, TableBlock
from wearlab.report.render import MOST_ROWS, render_html
from wearlab.report.sections.changes import change_sentences

Html = Callable[..., str]
Reports = Callable[..., Report]
SAMPLES = [
    ("shoulder_demo", {}),
    ("shoulder_demo", {"units": "inch"}),
    ("nasa_milling", {}),
    ("nasa_milling", {"by": "work_material"}),
    ("taylor_T01", {"units": "inch"}),
]
every_sample = pytest.mark.parametrize(
    ("name", "options"), SAMPLES, ids=[f"{name}-{options}" for name, options in SAMPLES]
)


@every_sample
class TestEveryPage:
    def test_it_is_well_formed_and_ids_are_its_own(self, name: str, options: Any, html_of: Html, page_of: Any) -> None:
        page = page_of(html_of(name, **options))
        assert page.wrong == []
        assert page.open == []
        ids = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
        assert len(ids) == len(set(ids))
        known = set(ids)
        for _, attributes in page.tags:
            for reference in ("aria-labelledby", "href", "xlink:href"):
                for word in (
                    attributes.get(reference, "").split()
                    if reference == "aria-labelledby"
                    else [attributes.get(reference, "")]
                ):
                    if reference == "aria-labelledby" or word.startswith("#"):
                        assert word.lstrip("#") in known, word

    def test_no_script_and_nothing_from_outside(self, name: str, options: Any, html_of: Html, page_of: Any) -> None:
        html = html_of(name, **options)
        page = page_of(html)
        policies = [a["content"] for a in page.all("meta") if a.get("http-equiv") == "Content-Security-Policy"]
        assert len(policies) == 1
        assert "default-src 'none'" in policies[0]
        assert "script-src" not in policies[0]
        tags = {tag for tag, _ in page.tags}
        assert not tags & {"script", "iframe", "object", "embed", "link", "base", "form", "img", "video", "audio"}
        for tag, attributes in page.tags:
            assert not [key for key in attributes if key.startswith("on")], tag
            for key in ("src", "href", "xlink:href", "action", "srcset"):
                if key in attributes:
                    assert attributes[key].startswith(("#", "data:text/csv;", "data:image/png;")), attributes[key][:80]
        assert not re.search(r"url\((?!#)", html)
        assert "@import" not in html

    def test_no_missing_figure_is_printed(self, name: str, options: Any, html_of: Html, page_of: Any) -> None:
        text = page_of(html_of(name, **options)).text
        assert not re.search(r"\b(?:nan|NaN|None(?! of)|inf|-inf|NaT|<NA>)\b", text)
        assert "significant" not in text
        assert "no difference" not in text
        assert not re.search(r"\bprov(?:e|es|ed|en)\b", text)
        assert not re.search(r"\bp ?[=<] ?0?\.\d", text)
        assert not re.search(r"(?<![\d.])1 (?:cutters|lives|rows|readings|errors|warnings|notes)\b", text)

    def test_every_figure_has_a_title_and_a_description(
        self, name: str, options: Any, report_of: Reports, html_of: Html, page_of: Any
    ) -> None:
        figures = [block for block in report_of(name, **options).blocks() if isinstance(block, FigureBlock)]
        for figure in figures:
            drawing = page_of(figure.svg)
            assert drawing.tags[0][0] == "svg"
            assert drawing.tags[0][1]["role"] == "img"
            assert [tag for tag, _ in drawing.tags[1:3]] == ["title", "desc"]
            assert drawing.texts[0] == figure.title
            assert drawing.texts[1] == figure.description
            assert "<metadata" not in figure.svg
        assert html_of(name, **options).count("<figure") == len(figures)

    def test_tables_have_captions_and_scopes(self, name: str, options: Any, html_of: Html, page_of: Any) -> None:
        page = page_of(html_of(name, **options))
        assert len(page.all("caption")) == len(page.all("table")) > 3
        assert all(attributes.get("scope") in ("col", "row") for attributes in page.all("th"))

    def test_regions_are_named_each_by_its_own_name(self, name: str, options: Any, html_of: Html, page_of: Any) -> None:
        page = page_of(html_of(name, **options))
        captions = re.findall(r"<caption[^>]*>([^<]*)</caption>", html_of(name, **options))
        labels = [attributes["aria-label"] for attributes in page.all("div") if "aria-label" in attributes]
        assert len({*captions, *labels}) == len(captions) + len(labels)

    def test_headings_go_down_one_level_at_a_time(self, name: str, options: Any, html_of: Html, page_of: Any) -> None:
        levels = [int(tag[1]) for tag, _ in page_of(html_of(name, **options)).tags if re.fullmatch(r"h[1-6]", tag)]
        assert levels[0] == 1
        assert levels.count(1) == 1
        assert all(after - before <= 1 for before, after in pairwise(levels))

    def test_language_viewport_skip_link(self, name: str, options: Any, html_of: Html, page_of: Any) -> None:
        page = page_of(html_of(name, **options))
        assert page.all("html")[0]["lang"] == "en"
        assert any(a.get("name") == "viewport" for a in page.all("meta"))
        assert page.all("a")[0] == {"class": "skip", "href": "#main"}
        assert page.all("main")[0]["id"] == "main"

    def test_downloads_are_the_tables(
        self, name: str, options: Any, report_of: Reports, html_of: Html, page_of: Any
    ) -> None:
        report = report_of(name, **options)
        tables = {block.key: block.frame for block in report.blocks() if isinstance(block, TableBlock)}
        tables |= {
            block.key: block.table for block in report.blocks() if isinstance(block, FigureBlock) and not block.small
        }
        links = {a["download"]: a["href"] for a in page_of(html_of(name, **options)).all("a") if "download" in a}
        for key, frame in tables.items():
            text = unquote(links[f"{key}.csv"].removeprefix("data:text/csv;charset=utf-8,"))
            assert text == csv_text(frame)
            rows = list(csv.reader(io.StringIO(text)))
            assert rows[0] == list(frame.columns)
            assert len(rows) == len(frame) + 1

    def test_inch_pages_show_no_metric_speed(self, name: str, options: Any, html_of: Html, page_of: Any) -> None:
        text = page_of(html_of(name, **options)).text
        body = text.split("Where it comes from")[0].split("Derived tables")[0]
        if options.get("units") == "inch":
            body = body.split("What the check of the log found")[0]  # findings quote the log in its own units
            assert not re.search(r"\d (?:m/min|µm|cm³|mm/min)\b", body)
        else:
            assert not re.search(r"\d (?:sfm|thou|in³)\b", body)


class TestTheFirstScreen:
    def test_the_verdict_comes_first_in_words(self, report_of: Reports) -> None:
        first = report_of("shoulder_demo").sections[0]
        assert first.reader == "manager"
        sentences = [block.to_dict() for block in first.blocks if block.to_dict()["kind"] == "sentence"]
        assert sentences[0]["heading"] == "A clear difference"
        assert sentences[0]["text"].startswith(
            "“side” cutters lasted longer than “layered” cutters: about 2.8 times as long"
        )
        cards = [block.to_dict()["heading"] for block in first.blocks if block.to_dict()["kind"] == "paragraph"]
        assert cards == [
            "Money", "When to change the cutter", "What it rests on", "What it could have missed",
            "What is not settled", "Before you act",
        ]  # fmt: skip

    def test_without_costs_the_age_that_most_outlast_stands_for_the_change(self, report_of: Reports) -> None:
        first = report_of("nasa_milling", criteria=("VB=0.3mm",), by="work_material").sections[0]
        said = next(block for block in first.blocks if getattr(block, "heading", "") == "When to change the cutter")
        assert isinstance(said, Paragraph)
        assert re.match(r"9 of 10 cutters in “cast iron” should last longer than [\d.]+ min; that is 90 % sure\.",
                        said.sentences[0])  # fmt: skip
        assert said.sentences[-1].startswith("At what age a change costs least is not known")

    @pytest.mark.parametrize(("speeds", "promised"), [((60, 110), False), ((60, 60), True), ((60, 60.3), True)])
    def test_no_age_is_promised_of_cutters_that_ran_at_several_speeds(
        self, trial_of: Callable[..., Trial], speeds: tuple[float, float], promised: bool
    ) -> None:
        """Lives at two speeds pooled are those of a cutter at neither; a speed within 1 % is the same one."""
        rows = [
            {"cutter": f"{group}{speed}{at}", "strategy": group, "cutting_speed_m_min": speeds[speed],
             "cutting_time_min": round(life * (1 + 0.1 * at), 3), "measure": "end", "value": "", "unit": "",
             "end_reason": "worn"}
            for group, life in (("layered", 40.0), ("side", 52.0)) for speed in (0, 1) for at in range(5)
        ]  # fmt: skip
        texts = change_sentences(analyse(trial_of(rows)))
        assert any(text.startswith("9 of 10 “side” cutters should last longer than") for text in texts) == promised
        none = (
            "No age is given for “layered” cutters and “side” cutters: these cutters ran at more than one cutting "
            "speed; ask `wearlab fit` for a life at one."
        )
        assert (none in texts) != promised

    def test_the_demonstration_promises_an_age_at_the_speed_that_both_practices_met(
        self, analysis_of: Callable[..., Any]
    ) -> None:
        found = replace(analysis_of("shoulder_demo"), decision=Refusal("no costs are stated"))
        assert change_sentences(found)[0].startswith("9 of 10 “layered” cutters should last longer than")

    def test_one_practice_alone_still_tells_life_cost_and_change(self, report_of: Reports) -> None:
        first = report_of("shoulder_demo", only=("strategy=side",)).sections[0]
        said = " ".join(str(block.to_dict()) for block in first.blocks)
        assert "one practice only: side" in said
        assert "“side” costs" in said
        assert "“side”: change the cutter every" in said
        assert "reached the limit" in said

    def test_it_uses_no_word_of_statistics(self, report_of: Reports) -> None:
        words = str(report_of("shoulder_demo").sections[0].to_dict()["blocks"])
        for word in ("confidence", "interval", "censored", "hypothesis", "lognormal", "p-value", "median", "sigma"):
            assert word not in words

    def test_a_log_without_practices_says_what_else_could_be_compared(self, report_of: Reports) -> None:
        blocks = [block.to_dict() for block in report_of("nasa_milling").sections[0].blocks]
        assert blocks[0]["heading"] == "No comparison"
        assert "does not record the practice" in blocks[0]["text"]
        assert blocks[0]["text"].endswith("Its cutters differ in work material.")
        assert "--" not in str(blocks)
        assert "try --by work_material" in str(report_of("nasa_milling").to_dict()["sections"][1])

    def test_costs_that_are_missing_are_asked_for(self, report_of: Reports) -> None:
        first = str(report_of("nasa_milling", by="work_material").sections[0].to_dict())
        assert "the shop has not stated: money for one minute of the machine" in first
        said = str(report_of("shoulder_demo").sections[0].to_dict())
        assert "cheapest in 99 of 100 plausible cases" in said
        assert "Change the cutter every 89 parts" in said

    def test_the_title_is_the_trials_question(self, report_of: Reports) -> None:
        assert report_of("shoulder_demo").title.startswith("Three layers at full width")
        assert report_of("nasa_milling", by="work_material").title == (
            "Which lasts longer: cutters in “cast iron” or cutters in “stainless steel J45”?"
        )


class TestWhatIsSaid:
    def test_a_refused_fit_is_shown_with_its_reason(self, report_of: Reports) -> None:
        section = next(one for one in report_of("nasa_milling", by="work_material").sections if one.key == "taylor")
        assert "speed never varied: 826 rev/min in every cutter" in str(section.to_dict())

    def test_published_rows_stand_there_although_the_fit_was_refused(self, report_of: Reports) -> None:
        """T14 to T16 of the published table: the rows for the cutter material, each with its source."""
        section = next(one for one in report_of("nasa_milling", by="work_material").sections if one.key == "published")
        text = str(section.to_dict())
        assert "gives no exponent of its own" in text
        assert "Kalpakjian" in text
        assert "Groover" in text
        assert "from memory" in text

    def test_published_tables_that_disagree_are_both_named_beside_our_n(self, html_of: Html, page_of: Any) -> None:
        text = page_of(html_of("shoulder_demo")).text
        assert "Our n of 0.28 lies below the published 0.4 to 0.6 (S. Kalpakjian" in text
        assert "Published tables disagree about the exponent" in text

    def test_rates_stand_beside_those_with_another_break_in(self, report_of: Reports) -> None:
        table = next(
            block
            for block in report_of("shoulder_demo").blocks()
            if isinstance(block, TableBlock) and block.key == "wear-rates"
        )
        assert {"rate", "rate_0", "rate_20"} <= set(table.frame.columns)

    def test_every_how_stands_in_the_workings(self, report_of: Reports) -> None:
        report = report_of("shoulder_demo")
        workings = str(next(one for one in report.sections if one.key == "method").to_dict())
        hows = [block.how for block in report.blocks() if isinstance(block, FigureBlock | TableBlock) and block.how]
        assert len(hows) > 5
        assert all(how in workings.replace("\\'", "'") for how in hows)

    def test_provenance_names_hash_versions_seed_and_command(self, report_of: Reports, sample: Any) -> None:
        facts = report_of("shoulder_demo").provenance
        assert facts["files"][0]["sha256"] == sample("shoulder_demo").sources[0].sha256
        assert facts["seed"] == 20261125
        assert facts["command"] == "wearlab report"
        assert {"python", "numpy", "pandas", "matplotlib"} <= set(facts["versions"])
        assert "date" not in facts

    def test_cautions_carry_their_sources(self, html_of: Html, page_of: Any) -> None:
        text = page_of(html_of("taylor_T01", units="inch")).text
        assert "Source: NIOSH publication 98-102" in text
        assert "29 CFR 1910.212(a)(1)" in text


class TestHostileText:
    def test_it_stands_there_as_text(self, hostile_html: str, page_of: Any) -> None:
        html, page = hostile_html, page_of(hostile_html)
        tags = {tag for tag, _ in page.tags}
        assert not tags & {"script", "img", "b>"}
        assert "<script" not in html.lower()
        assert page.text.count("<script>alert(1)</script>") > 3
        assert "$x^{2$" in page.text
        assert page.wrong == []
        assert page.open == []

    def test_downloads_hold_no_formula(self, hostile_html: str, page_of: Any) -> None:
        page = page_of(hostile_html)
        seen = 0
        for link in [a["href"] for a in page.all("a") if "download" in a]:
            for row in csv.reader(io.StringIO(unquote(link.partition(",")[2]))):
                for cell in row:
                    seen += cell.startswith("'=cmd")
                    assert not cell.startswith(("=", "+", "@"))
                    assert not re.match(r"-(?!\d)", cell)
        assert seen > 0

    def test_initials_of_operators_stay_out(self, hostile_html: str) -> None:
        assert "Q.Z." not in hostile_html


class TestTheSameAgain:
    def test_the_same_record_gives_the_same_bytes(self, analysis_of: Any, html_of: Html) -> None:
        options = {"units": "inch"}
        again = render_html(build_report(analysis_of("taylor_T01", **options), command="wearlab report"))
        assert again == html_of("taylor_T01", **options)

    def test_another_process_gives_the_same_bytes(self, html_of: Html) -> None:
        code = (
            "import sys\n"
            "from wearlab.logbook.read import read_log\n"
            "from wearlab.logbook.samples import sample_path\n"
            "from wearlab.report.analysis import analyse\n"
            "from wearlab.report.build import build_report\n"
            "from wearlab.report.render import render_html\n"
            "analysis = analyse(read_log(sample_path('nasa_milling')), by='work_material')\n"
            "page = render_html(build_report(analysis, command='wearlab report'))\n"
            "sys.stdout.buffer.write(page.encode())\n"
        )
        done = subprocess.run(
            [sys.executable, "-c", code], capture_output=True, check=True, env=_other_hashes(), timeout=120
        )
        assert done.stdout.decode() == html_of("nasa_milling", by="work_material")

    def test_a_date_is_printed_only_where_one_is_given(self, analysis_of: Any) -> None:
        page = render_html(build_report(analysis_of("taylor_T01"), date="2026-03-14"))
        assert "Date as given: 2026-03-14." in page


def _other_hashes() -> dict[str, str]:
    import os

    return os.environ | {"PYTHONHASHSEED": "4321", "PYTHONPATH": os.pathsep.join(sys.path)}


def test_a_long_table_is_cut_on_the_page_and_says_so(report_of: Reports, html_of: Html, page_of: Any) -> None:
    report = report_of("shoulder_demo")
    longest = max(
        (block for block in report.blocks() if isinstance(block, TableBlock)), key=lambda block: len(block.frame)
    )
    assert len(longest.frame) > MOST_ROWS
    assert (
        f"The first {MOST_ROWS} of {len(longest.frame)} rows; all of them are in the download."
        in page_of(html_of("shoulder_demo")).text
    )


def test_findings_are_all_listed(report_of: Reports) -> None:
    block = next(one for one in report_of("nasa_milling").blocks() if isinstance(one, FindingsBlock))
    assert len(block.findings) == 10
