"""Reading a request from its file (TOML), or from the plan that was made of it (JSON)."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from types import UnionType
from typing import Any, get_args, get_origin, get_type_hints

from wearlab.core.errors import ArgumentError, FileProblem, WearlabError
from wearlab.core.tables import nearest
from wearlab.logbook.columns import COLUMNS
from wearlab.milling.matching import RULES
from wearlab.milling.practices import PRACTICES, Cutter, Feature
from wearlab.plan.inch import metric_sections
from wearlab.plan.request import (
    BlockRequest,
    InterimRequest,
    LookRequest,
    Money,
    PracticeRequest,
    Request,
    ScatterRequest,
    SizeRequest,
    SpeedRequest,
    StudyRequest,
    WallRequest,
)

_GEOMETRY = ("diameter_mm", "teeth", "helix_deg", "flute_length_mm", "overhang_mm", "core_mm")
_CUTTER = (
    "centre_cutting",
    "cutter_material",
    "coating",
    "corner_radius_mm",
    "corner_chamfer_mm",
    "relief_deg",
    "rake_deg",
    "cutter_batch",
    "runout_um",
)
_WORK = ("work_material", "work_group", "hardness", "hardness_scale", "coolant", "direction")
_TOLERANCE = ("tolerance_mm", "setting_error_mm", "deflection_mm", "gauge_uncertainty_mm", "zone")
_PRACTICE = ("feature", "cutter", "settings")


def _keys(kind: type) -> tuple[str, ...]:
    return tuple(one.name for one in fields(kind))


UNITS = ("metric", "inch")
"""Units of the sheets, and of what is typed."""
OUTCOMES = ("life", "rate", "wall")
"""What may decide."""
SECTIONS: dict[str, tuple[str, ...]] = {
    "trial": ("name", "question", "standard", "seed", "units"),
    "feature": ("width_mm", "depth_mm", "length_mm", "sides", "ends"),
    "cutter": (*_GEOMETRY, *_CUTTER),
    "work": _WORK,
    "settings": ("cutting_speed_m_min", "feed_per_tooth_mm", "plunge_feed_per_tooth_mm"),
    "match": ("rule",),
    "practice": (),
    "criterion": ("name", "text"),
    "tolerance": _TOLERANCE,
    "size": _keys(SizeRequest),
    "scatter": _keys(ScatterRequest),
    "blocks": _keys(BlockRequest),
    "speeds": _keys(SpeedRequest),
    "looks": _keys(LookRequest),
    "interim": _keys(InterimRequest),
    "study": _keys(StudyRequest),
    "walls": _keys(WallRequest),
    "money": _keys(Money),
    "zones": (),
}
"""Sections of the file and their keys."""


def read_request(path: str | Path) -> Request:
    """Read what is asked of a plan.

    Parameters
    ----------
    path : str or pathlib.Path
        A file in the form that `wearlab.plan.example` shows.

    Raises
    ------
    FileProblem
        The file is no TOML, lacks what no plan can do without, or has a section, key or value that is not known.
    """
    path = Path(path)
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise FileProblem(
            f"not TOML ({error})", where=str(path), hint="mend the line that is named"
        ) from None
    except OSError as error:
        raise FileProblem(
            f"cannot be read ({error.strerror})", where=str(path), hint="check the name and the folder"
        ) from None
    try:
        return request_of(data, default_name=path.stem)
    except WearlabError as error:
        raise FileProblem(error.message(), where=str(path)) from None


def request_of(data: Mapping[str, Any], default_name: str = "trial") -> Request:
    """A request from the sections of its file.

    Raises
    ------
    ArgumentError
        A section, key or value is missing or not known.

    Examples
    --------
    >>> import tomllib
    >>> from wearlab.plan.example import EXAMPLE
    >>> request = request_of(tomllib.loads(EXAMPLE))
    >>> [practice.name for practice in request.practices], request.scatter.cv
    (['layered', 'side'], 0.35)
    """
    data = metric_sections(data)
    _check_sections(data)
    trial, settings = data.get("trial", {}), _need(data, "settings")
    cutter = _need(data, "cutter")
    try:
        made = Request(
            name=str(trial.get("name", default_name)),
            question=str(trial.get("question", "")),
            standard=str(trial.get("standard", "")),
            seed=int(trial.get("seed", 20260101)),
            units=str(trial.get("units", "metric")),
            feature=_made(Feature, _need(data, "feature"), "feature"),
            cutter=_cutter(cutter),
            cutting_speed_m_min=float(_value(settings, "cutting_speed_m_min", "settings")),
            feed_per_tooth_mm=float(_value(settings, "feed_per_tooth_mm", "settings")),
            plunge_feed_per_tooth_mm=settings.get("plunge_feed_per_tooth_mm"),
            practices=tuple(_practice(one) for one in _tables(data, "practice")),
            cutter_facts={name: cutter[name] for name in _CUTTER if name in cutter},
            work_facts=dict(data.get("work", {})),
            rule=str(data.get("match", {}).get("rule", "feed_per_tooth")),
            criteria=tuple(
                (str(one.get("name", one["text"])), str(one["text"])) for one in _tables(data, "criterion")
            ),
            tolerance=dict(data.get("tolerance", {})),
            zones={name: (float(ends[0]), float(ends[1])) for name, ends in data.get("zones", {}).items()},
            speeds=_made(SpeedRequest, data["speeds"], "speeds") if "speeds" in data else None,
            size=_made(SizeRequest, data.get("size", {}), "size"),
            scatter=_scatter(data.get("scatter", {})),
            blocks=_made(BlockRequest, data.get("blocks", {}), "blocks"),
            looks=_made(LookRequest, data.get("looks", {}), "looks"),
            interim=_made(InterimRequest, data.get("interim", {}), "interim"),
            study=_made(StudyRequest, data.get("study", {}), "study"),
            walls=_made(WallRequest, data.get("walls", {}), "walls"),
            money=_made(Money, data.get("money", {}), "money"),
        )
        _check(made)
    except (TypeError, ValueError, KeyError, IndexError, AttributeError) as error:
        if isinstance(error, WearlabError):
            raise
        raise ArgumentError(f"a value of the wrong kind ({error})", where="plan") from None
    return made


def record_request(data: Mapping[str, Any]) -> Request:
    """A request from the form in which a written plan keeps it (`Request.to_dict`).

    >>> import tomllib
    >>> from wearlab.plan.example import EXAMPLE
    >>> request = request_of(tomllib.loads(EXAMPLE))
    >>> record_request(request.to_dict()) == request
    True
    """
    kinds = {
        "feature": Feature,
        "cutter": Cutter,
        "size": SizeRequest,
        "scatter": ScatterRequest,
        "blocks": BlockRequest,
        "looks": LookRequest,
        "interim": InterimRequest,
        "study": StudyRequest,
        "walls": WallRequest,
        "money": Money,
    }
    made: dict[str, Any] = dict(data)
    for name, kind in kinds.items():
        made[name] = _made(kind, data[name], name)
    made["speeds"] = None if data["speeds"] is None else _made(SpeedRequest, data["speeds"], "speeds")
    made["practices"] = tuple(PracticeRequest(**one) for one in data["practices"])
    made["criteria"] = tuple((one[0], one[1]) for one in data["criteria"])
    made["zones"] = {name: (ends[0], ends[1]) for name, ends in data["zones"].items()}
    return Request(**made)


def _check_sections(data: Mapping[str, Any]) -> None:
    for section, content in data.items():
        if section not in SECTIONS:
            raise ArgumentError(
                f"section [{section}]", allowed=", ".join(SECTIONS), hint=nearest(section, list(SECTIONS))
            )
        for table in content if isinstance(content, list) else [content]:
            if not isinstance(table, Mapping):
                raise ArgumentError(f"{section} = {table!r}", allowed=f"a section [{section}]")
            for key in table:
                if SECTIONS[section] and key not in SECTIONS[section]:
                    raise ArgumentError(
                        f"key {key!r} in [{section}]",
                        allowed=", ".join(SECTIONS[section]),
                        hint=nearest(key, SECTIONS[section]),
                    )


def _need(data: Mapping[str, Any], section: str) -> Mapping[str, Any]:
    if section not in data:
        raise ArgumentError(
            f"no section [{section}]",
            where="plan",
            allowed=", ".join(SECTIONS[section]),
            hint="`wearlab plan --example` prints a whole plan file",
        )
    found: Mapping[str, Any] = data[section]
    return found


def _value(table: Mapping[str, Any], key: str, section: str) -> Any:
    if key not in table:
        raise ArgumentError(f"no {key} in [{section}]", where="plan", hint="a plan cannot do without it")
    return table[key]


def _tables(data: Mapping[str, Any], section: str) -> list[Mapping[str, Any]]:
    found = data.get(section, [])
    if isinstance(found, Mapping):
        raise ArgumentError(f"[{section}] once", where="plan", allowed=f"[[{section}]], in double brackets")
    return list(found)


def _made(kind: type, table: Mapping[str, Any], section: str) -> Any:
    """A record from a section; lists become tuples, missing keys its defaults."""
    hints = get_type_hints(kind)
    for key, cell in table.items():
        if key in hints and not _fits(cell, hints[key]):
            raise ArgumentError(
                f"{key} = {cell!r}",
                where=f"[{section}]",
                allowed=_WORDS.get(hints[key], "a value of another kind"),
            )
    try:
        return kind(**{key: tuple(cell) if isinstance(cell, list) else cell for key, cell in table.items()})
    except TypeError as error:
        missing = str(error).rpartition("argument")[2].strip(" s:'\"") or str(error)
        raise ArgumentError(
            f"no {missing}", where=f"[{section}]", allowed=", ".join(SECTIONS[section])
        ) from None


_WORDS: dict[Any, str] = {
    int: "a whole number",
    float: "a number",
    str: "text",
    bool: "true or false",
    int | None: "a whole number",
    float | None: "a number",
    tuple[str, ...]: 'a list of texts, such as ["A", "B"]',
    tuple[float, ...]: "a list of numbers, such as [1, 2.5]",
    tuple[int, ...]: "a list of whole numbers, such as [3, 4]",
    bool | None: "true or false",
}


def _fits(cell: Any, hint: Any) -> bool:
    """Whether a value is of the kind that a field asks for; whole numbers pass for numbers."""
    if isinstance(hint, UnionType):
        return any(_fits(cell, one) for one in get_args(hint))
    if get_origin(hint) is tuple:
        return isinstance(cell, (list, tuple)) and all(_fits(one, get_args(hint)[0]) for one in cell)
    if hint is float:
        return isinstance(cell, (int, float)) and not isinstance(cell, bool)
    if hint is int:
        return isinstance(cell, int) and not isinstance(cell, bool)
    return isinstance(cell, hint)


def _cutter(table: Mapping[str, Any]) -> Cutter:
    given = {key: table[key] for key in _GEOMETRY if key in table}
    if "centre_cutting" in table:
        given["centre_cutting"] = table["centre_cutting"] in ("yes", True)
    made: Cutter = _made(Cutter, given, "cutter")
    return made


def _scatter(table: Mapping[str, Any]) -> ScatterRequest:
    given = dict(table)
    if "cv" in given and "source" not in given:
        given["source"] = "stated in the plan file"
    made: ScatterRequest = _made(ScatterRequest, given, "scatter")
    return made


def _practice(table: Mapping[str, Any]) -> PracticeRequest:
    if "name" not in table:
        raise ArgumentError("a [[practice]] without a name", where="plan", allowed=", ".join(PRACTICES))
    name = str(table["name"])
    kind = str(table.get("kind", name))
    if kind not in PRACTICES:
        raise ArgumentError(
            f"practice {kind!r}",
            where="plan",
            allowed=", ".join(PRACTICES),
            hint=nearest(kind, list(PRACTICES)) or "an own word needs kind = one of these",
        )
    allowed = [key for key in _keys(PRACTICES[kind]) if key not in _PRACTICE]
    options = {key: cell for key, cell in table.items() if key not in ("name", "kind", "expected_life_min")}
    for key in options:
        if key not in allowed:
            raise ArgumentError(
                f"key {key!r} of practice {name}",
                where="plan",
                hint=nearest(key, allowed),
                allowed=", ".join(["name", "kind", "expected_life_min", *allowed]),
            )
    life = table.get("expected_life_min")
    return PracticeRequest(name, kind, options, None if life is None else float(life))


def _check(request: Request) -> None:
    names = [one.name for one in request.practices]
    if not names:
        raise ArgumentError("no [[practice]]", where="plan", allowed=", ".join(PRACTICES))
    if len(set(names)) < len(names):
        raise ArgumentError(
            "two practices of one name",
            where="plan",
            hint="give one of them a name of its own and kind = ...",
        )
    if request.standard and request.standard not in names:
        raise ArgumentError(
            f"standard {request.standard!r}",
            where="plan",
            allowed=", ".join(names),
            hint=nearest(request.standard, names),
        )
    if request.rule not in RULES:
        raise ArgumentError(
            f"rule {request.rule!r}",
            where="[match]",
            allowed=", ".join(RULES),
            hint=nearest(request.rule, RULES),
        )
    if request.units not in UNITS:
        raise ArgumentError(f"units {request.units!r}", where="[trial]", allowed=", ".join(UNITS))
    if request.seed < 0:
        raise ArgumentError(f"seed {request.seed}", where="plan", allowed="a whole number from 0")
    if request.blocks.holds is not None and request.blocks.holds < 2 <= len(names):
        raise ArgumentError(
            f"blocks.holds = {request.blocks.holds}",
            where="plan",
            allowed="2 or more, or left out",
            hint="a block that holds one run compares nothing",
        )
    if request.speeds is not None and request.speeds.practice not in names:
        raise ArgumentError(
            f"practice {request.speeds.practice!r}", where="[speeds]", allowed=", ".join(names)
        )
    _check_numbers(request)
    _check_facts(request)


def _check_numbers(request: Request) -> None:
    size, scatter, looks = request.size, request.scatter, request.looks
    limits = (
        ("size.margin", size.margin, 1.0, 10.0),
        ("size.ratio", size.ratio, 1.0, 100.0),
        ("size.level", size.level, 0.5, 1.0),
        ("size.power", size.power, 0.05, 1.0),
        ("scatter.cv", scatter.cv, 0.0, 3.0),
        ("scatter.correlation", scatter.correlation, -1e-12, 1.0),
        ("scatter.drop_out", scatter.drop_out, -1e-12, 0.9),
        ("scatter.taylor_n", scatter.taylor_n, 0.0, 2.0),
        ("looks.first", looks.first, 0.0, 0.5),
        ("looks.per_life", looks.per_life, 2, 41),
        ("looks.minutes", looks.minutes, -1e-12, 240.0),
        ("looks.gauge_mm", looks.gauge_mm, -1e-12, 0.5),
        ("interim.give_up_below", request.interim.give_up_below, -1e-12, 0.5),
        ("settings.cutting_speed_m_min", request.cutting_speed_m_min, 0.0, 5000.0),
        ("settings.feed_per_tooth_mm", request.feed_per_tooth_mm, 0.0, 5.0),
    )
    for name, value, low, high in limits:
        if not low < value < high:
            raise ArgumentError(
                f"{name} = {value:g}", where="plan", allowed=f"between {max(low, 0):g} and {high:g}"
            )
    if size.outcome not in OUTCOMES:
        raise ArgumentError(f"size.outcome = {size.outcome!r}", where="plan", allowed=", ".join(OUTCOMES))
    _check_walls(request)
    if size.cutters is not None and not 1 <= size.cutters <= 500:
        raise ArgumentError(f"size.cutters = {size.cutters}", where="plan", allowed="1 to 500 a practice")
    study = request.study
    if study.parts < 2 or study.repeats < 2 or not study.operators:
        raise ArgumentError(
            f"a study of {study.parts} parts, {len(study.operators)} people and {study.repeats} repeats",
            where="[study]",
            allowed="at least 2 parts, 1 person, 2 repeats",
        )


def _check_walls(request: Request) -> None:
    size = request.size
    for name, value in (("size.wall_um", size.wall_um), ("size.wall_sd_um", size.wall_sd_um)):
        if value is None and size.outcome == "wall":
            raise ArgumentError(
                f"no {name}",
                where="plan",
                hint="where walls decide, state the difference of wall error worth acting on (wall_um) and its scatter "
                "between cutters (wall_sd_um)",
            )
        if value is not None and not 0.0 < value < 5000.0:
            raise ArgumentError(f"{name} = {value:g}", where="plan", allowed="between 0 and 5000")
    if size.outcome == "wall" and request.interim.at_blocks:
        raise ArgumentError(
            "interim looks where walls decide",
            where="[interim]",
            allowed="outcome life or rate",
            hint="look at the end only",
        )


def _check_facts(request: Request) -> None:
    """Facts go into the log as they are, so they keep the log's own rules."""
    for name, cell in {**request.cutter_facts, **request.work_facts}.items():
        column = COLUMNS[name]
        if column.choices and not column.open_choice and cell not in column.choices:
            raise ArgumentError(
                f"{name} = {cell!r}",
                where="plan",
                allowed=column.allowed(),
                hint=nearest(str(cell), column.choices),
            )
        if column.numeric and not (
            isinstance(cell, (int, float)) and _within(float(cell), column.low, column.high)
        ):
            raise ArgumentError(f"{name} = {cell!r}", where="plan", allowed=column.allowed())


def _within(value: float, low: float | None, high: float | None) -> bool:
    return (low is None or value >= low) and (high is None or value <= high)
