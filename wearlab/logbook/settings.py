"""What belongs to the whole trial, from the optional trial file (TOML) beside the log.

The file is NAME.toml beside NAME.csv, else trial.toml in the same folder. Every key is optional; every default is
part of the record, so that a report can state it.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from wearlab.core.errors import FileProblem, WearlabError
from wearlab.core.tables import nearest
from wearlab.logbook.columns import COLUMNS, MEASURES
from wearlab.logbook.criterion import Criterion, parse_criterion
from wearlab.logbook.table import header_key

_SECTIONS: dict[str, tuple[str, ...]] = {
    "trial": ("question", "standard", "seed", "plan"),
    "decision": ("outcome", "margin", "level"),
    "match": ("rule",),
    "zones": (),
    "wear": ("break_in",),
    "wall": ("tolerance_um",),
    "counting": ("part",),
    "cost": (
        "currency",
        "machine_per_min",
        "change_min",
        "scrap",
        "failure",
        "drill",
        "parts_per_year",
        "edge_price",
        "regrinds",
        "regrind_price",
        "salvage",
        "idle_min",
        "swap_min",
        "demoted_parts",
    ),
    "columns": (),
    "criterion": ("name", "text"),
    "response": ("name", "unit", "direction"),
}


@dataclass(frozen=True, slots=True)
class Response:
    """A declared response beyond wear and walls: spindle load, roughness, burr."""

    name: str
    unit: str
    direction: str = "rises"


@dataclass(frozen=True)
class TrialSettings:
    """Everything from the trial file, or its defaults.

    Attributes
    ----------
    margin : float
        Smallest ratio worth acting on; 1.25 unless stated.
    level : float
        Confidence level.
    break_in : float
        Part of a cutter's age that the wear rate leaves out at the start.
    zones : dict of str to (float, float)
        Limits of each zone above the end face, mm.
    plan : str
        File of the plan that the trial was made from, by its name in the same folder.
    given : frozenset of str
        Keys that the file really states, as section.key.
    """

    file: str = ""
    question: str = ""
    standard: str = ""
    seed: int = 20260101
    criteria: tuple[Criterion, ...] = ()
    outcome: str = ""
    margin: float = 1.25
    level: float = 0.95
    match_rule: str = ""
    zones: dict[str, tuple[float, float]] = field(default_factory=dict)
    break_in: float = 0.10
    wall_tolerance_um: float | None = None
    part: str = ""
    cost: dict[str, Any] = field(default_factory=dict)
    responses: dict[str, Response] = field(default_factory=dict)
    columns: dict[str, str] = field(default_factory=dict)
    plan: str = ""
    given: frozenset[str] = frozenset()

    def response_directions(self) -> dict[str, str]:
        """Declared responses and the way they run."""
        return {name: response.direction for name, response in self.responses.items()}


def settings_beside(log: Path) -> TrialSettings:
    """Settings from the trial file that belongs to a log; defaults where there is none.

    Raises
    ------
    FileProblem
        The file is no TOML, or has a section, key or value that is not known.
    """
    own = settings_file(log)
    return TrialSettings() if own is None else read_settings(own)


def settings_file(log: Path) -> Path | None:
    """The trial file that belongs to a log, if there is one."""
    candidates = (log.parent / f"{log.stem}.toml", log.parent / "trial.toml")
    return next((candidate for candidate in candidates if candidate.is_file()), None)


def read_settings(path: str | Path) -> TrialSettings:
    """Read one trial file; see `settings_beside`."""
    path = Path(path)
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise FileProblem(f"not TOML ({error})", where=str(path), hint="mend the line that is named") from None
    except OSError as error:
        raise FileProblem(f"cannot be read ({error.strerror})", where=str(path)) from None
    return settings_from(data, path)


def settings_from(data: dict[str, Any], path: Path) -> TrialSettings:
    """Settings from what a trial file, or the sheet of the trial in a workbook, states.

    Raises
    ------
    FileProblem
        A section, key or value is not known.
    """
    _check_keys(data, path)
    try:
        return _settings(data, path)
    except WearlabError as error:
        raise FileProblem(error.message(), where=str(path)) from None
    except (TypeError, ValueError, KeyError, AttributeError) as error:
        raise FileProblem(f"a value of the wrong kind ({error})", where=str(path)) from None


def _check_keys(data: dict[str, Any], path: Path) -> None:
    for section, content in data.items():
        if section not in _SECTIONS:
            raise FileProblem(f"section [{section}]", where=str(path), allowed=", ".join(_SECTIONS),
                              hint=nearest(section, list(_SECTIONS)))  # fmt: skip
        keys = _SECTIONS[section]
        for table in content if isinstance(content, list) else [content]:
            if not isinstance(table, dict):
                raise FileProblem(f"{section} = {table!r}", where=str(path), allowed=f"a section [{section}]")
            for key in table:
                if keys and key not in keys:
                    raise FileProblem(f"key {key!r} in [{section}]", where=str(path), allowed=", ".join(keys),
                                      hint=nearest(key, keys))  # fmt: skip


def _settings(data: dict[str, Any], path: Path) -> TrialSettings:
    def get(section: str, key: str, default: Any) -> Any:
        return data.get(section, {}).get(key, default)

    responses = _responses(data.get("response", []))
    directions = {name: response.direction for name, response in responses.items()}
    criteria = tuple(
        parse_criterion(item["text"], directions).as_planned(item.get("name", item["text"]))
        for item in data.get("criterion", [])
    )
    tolerance = get("wall", "tolerance_um", None)
    margin, level = float(get("decision", "margin", 1.25)), float(get("decision", "level", 0.95))
    break_in = float(get("wear", "break_in", 0.10))
    _in_range("decision.margin", margin, 1.0, 10.0)
    _in_range("decision.level", level, 0.5, 1.0)
    _in_range("wear.break_in", break_in, -1e-12, 0.9)
    return TrialSettings(
        file=path.name,
        question=str(get("trial", "question", "")),
        standard=str(get("trial", "standard", "")),
        seed=int(get("trial", "seed", 20260101)),
        criteria=criteria,
        outcome=str(get("decision", "outcome", "")),
        margin=margin,
        level=level,
        match_rule=str(get("match", "rule", "")),
        zones={name: (float(ends[0]), float(ends[1])) for name, ends in data.get("zones", {}).items()},
        break_in=break_in,
        wall_tolerance_um=None if tolerance is None else float(tolerance),
        part=str(get("counting", "part", "")),
        cost=dict(data.get("cost", {})),
        responses=responses,
        columns=_columns(data.get("columns", {})),
        plan=str(get("trial", "plan", "")),
        given=frozenset(
            f"{section}.{key}" for section, table in data.items() if isinstance(table, dict) for key in table
        ),
    )


DIRECTIONS = ("rises", "falls", "two-sided")


def _responses(items: list[dict[str, Any]]) -> dict[str, Response]:
    responses: dict[str, Response] = {}
    for item in items:
        name, direction = str(item.get("name", "")).strip(), str(item.get("direction", "rises"))
        if not name:
            raise FileProblem("a [[response]] without a name", allowed="a word for the column measure")
        if name.lower() in {word.lower() for word in (*MEASURES, *responses)}:
            raise FileProblem(
                f"response {name!r}",
                allowed="a word that is no measure of the log, and each once",
                hint="measures of the log need no declaration" if name in MEASURES else "",
            )
        if direction not in DIRECTIONS:
            raise FileProblem(
                f"response {name!r} with direction {direction!r}",
                allowed=", ".join(DIRECTIONS),
                hint=nearest(direction, DIRECTIONS),
            )
        responses[name] = Response(name, str(item.get("unit", "")), direction)
    return responses


def _in_range(name: str, value: float, low: float, high: float) -> None:
    if not low < value < high:
        raise FileProblem(f"{name} = {value:g}", allowed=f"between {low:g} and {high:g}")


def _columns(mapping: dict[str, str]) -> dict[str, str]:
    for word, name in mapping.items():
        if name not in COLUMNS and header_key(name) not in COLUMNS:
            from wearlab.logbook.columns import ALSO

            if name not in ALSO:
                raise FileProblem(f"[columns] {word!r} = {name!r}", allowed="a column of the log",
                                  hint=nearest(name, [*COLUMNS, *ALSO]))  # fmt: skip
    return {header_key(word): name for word, name in mapping.items()}
