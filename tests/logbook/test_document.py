"""Documents made from the column dictionary do not drift from it."""

from __future__ import annotations

import json
from pathlib import Path

from wearlab.logbook.columns import COLUMNS, MEASURES
from wearlab.logbook.document import columns_markdown, measures_markdown, table_schema_descriptor
from wearlab.logbook.schema import log_schema

README = Path(__file__).parent.parent.parent / "README.md"


def _block(name: str) -> str:
    text = README.read_text(encoding="utf-8")
    return text.split(f"<!-- {name}:begin -->\n")[1].split(f"<!-- {name}:end -->")[0].strip()


def test_readme_holds_the_table_of_columns() -> None:
    assert _block("columns") == columns_markdown().strip(), "put columns_markdown() between the marks of the README"


def test_readme_holds_the_table_of_measures() -> None:
    assert _block("measures") == measures_markdown().strip(), "put measures_markdown() between the marks of the README"


def test_every_column_is_in_every_document() -> None:
    names = [field["name"] for field in table_schema_descriptor()["fields"]]
    assert names == list(COLUMNS)
    assert set(log_schema().columns) == set(COLUMNS)
    for name in COLUMNS:
        assert f"| `{name}` |" in columns_markdown()
    for name in MEASURES:
        assert f"| `{name}` |" in measures_markdown()


def test_table_schema_is_json_and_carries_the_limits() -> None:
    schema = json.loads(json.dumps(table_schema_descriptor()))
    fields = {field["name"]: field for field in schema["fields"]}
    assert fields["teeth"]["type"] == "integer"
    assert fields["axial_depth_mm"]["constraints"]["exclusiveMinimum"] == 0
    assert fields["side"]["constraints"]["enum"] == ["left", "right", "both"]
    assert "enum" not in fields["strategy"].get("constraints", {}), "a shop's own word is allowed"
    assert fields["axial_depth_mm"]["wearlab:also"] == ["axial_depth_in"]
