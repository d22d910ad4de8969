"""The column dictionary: the one place that says what a column of the log means.

Schema, template, documentation, messages and unit conversion are all made from it. To add a column, add one
entry to `COLUMNS`; the tests then ask for its meaning, its scope and what is lost without it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "number", "integer", "choice", "date"]
Need = Literal["required", "expected", "optional"]
Scope = Literal["trial", "cutter", "condition", "run", "reading"]

CLOCKS: tuple[str, ...] = ("cutting_time_min", "volume_cm3", "parts", "cut_length_m")
"""Cumulative counters of use since the cutter was new; a reading needs at least one."""

CLOCK_NAMES: dict[str, str] = {
    "min": "cutting_time_min",
    "cm3": "volume_cm3",
    "parts": "parts",
    "m": "cut_length_m",
}
"""Short names by which a clock is asked for."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the log.

    Attributes
    ----------
    name, meaning : str
        Header word and what it stands for.
    kind : str
        text, number, integer, choice or date.
    scope : str
        What the value belongs to; everything but `reading` must be the same in all rows of one cutter.
    need : str
        required: without it the row is no reading; expected: one warning that names what is lost; optional.
    unit : str
        Unit of a number.
    low, high : float or None
        Limits that a number must keep (included, unless `above`).
    above : bool
        The low limit itself is not allowed.
    choices : tuple of str
        Allowed words of a choice; a choice with `open_choice` accepts others, with a note.
    also : tuple of (str, float)
        Names under which the same quantity may be given in another unit, and the factor to this unit.
    family : str
        Related quantities of which any sufficient one is enough (speed, feed, clock).
    lost : str
        What cannot be had without an expected column, as the end of a sentence that begins "Without it".
    """

    name: str
    meaning: str
    kind: Kind = "text"
    scope: Scope = "reading"
    need: Need = "optional"
    unit: str = ""
    low: float | None = None
    high: float | None = None
    above: bool = False
    choices: tuple[str, ...] = ()
    open_choice: bool = False
    also: tuple[tuple[str, float], ...] = ()
    family: str = ""
    lost: str = ""

    @property
    def numeric(self) -> bool:
        """Whether cells hold numbers."""
        return self.kind in ("number", "integer")

    def allowed(self) -> str:
        """The limits or words, for messages."""
        if self.choices:
            words = ", ".join(self.choices)
            return f"{words}, or the shop's own word" if self.open_choice else words
        if self.kind == "date":
            return "a date such as 2026-03-14"
        if not self.numeric:
            return "text"
        kind = "a whole number" if self.kind == "integer" else "a number"
        unit = f" {self.unit}" if self.unit else ""
        floor = f"{'above' if self.above else 'from'} {self.low:.10g}{unit}" if self.low is not None else ""
        ceiling = f"up to {self.high:.10g}{unit}" if self.high is not None else ""
        return " ".join(part for part in (kind, floor, ceiling) if part)


def _mm(name: str, meaning: str, scope: Scope, low: float = 0.0, high: float = 5000.0, **more: object) -> Column:
    """A length in mm that may also be given in inches."""
    inch = name.removesuffix("_mm") + "_in"
    return Column(name, meaning, "number", scope, unit="mm", low=low, high=high, also=((inch, 25.4),), **more)  # type: ignore[arg-type]


STRATEGIES = (
    "layered",
    "side",
    "full_slot",
    "plunge",
    "predrilled",
    "ramp",
    "helical",
    "trochoidal",
    "finish",
    "mixed",
)
END_REASONS = ("worn", "size", "chipped", "broken", "withdrawn", "budget", "pulled_out", "lost")
ZONES = ("end", "corner", "lower", "middle", "upper", "notch")
WEAR_FORMS = (
    "uniform", "non-uniform", "localised", "chipping", "flaking", "cracks", "built-up edge", "catastrophic failure",
)  # fmt: skip

_CUTTER = (
    Column("cutter", "one physical cutter, one sharpening; read as text", scope="cutter", need="required"),
    Column("set", "cutters that made the same parts together; blank = the cutter alone", scope="run"),
    Column("role", "what the cutter did", "choice", "run", choices=("rough", "finish", "both", "drill")),
    Column("block", "what the run shared with others by design", scope="run"),
    Column("bar", "bar or heat of the work material", scope="run"),
    Column("cutter_batch", "maker's lot or invoice date", scope="run"),
    Column("machine", "machine that ran it", scope="run"),
    Column("day", "day or shift of the run", scope="run"),
    Column("holder", "tool holder", scope="run"),
    Column("run_order", "order in which it was really run", "integer", "run", low=1, high=1e6),
    Column(
        "cutter_material", "body of the cutter", "choice", "cutter", "expected", open_choice=True,
        choices=("HSS", "HSS-E", "PM-HSS", "carbide", "cermet", "ceramic", "CBN", "PCD"),
        lost="no published range of the Taylor exponent can be set beside the fit",
    ),
    Column(
        "coating", "coating of the cutter", "choice", "cutter", open_choice=True,
        choices=("none", "TiN", "TiCN", "TiAlN", "AlTiN", "AlCrN", "DLC", "diamond", "other"),
    ),
    _mm("diameter_mm", "cutting diameter DC", "cutter", 0.1, 500, above=False, need="expected",
        lost="there is no cutting speed from rev/min, no engagement and no edge exposure"),
    Column("teeth", "effective peripheral teeth", "integer", "cutter", "expected", low=1, high=40,
           lost="there is no feed per tooth from other feeds, and nobody knows whether every flute was read"),
    _mm("flute_length_mm", "usable flute length", "cutter", above=True),
    _mm("overhang_mm", "from the holder to the tip", "run", above=True),
    _mm("corner_radius_mm", "corner radius", "cutter", high=100),
    _mm("corner_chamfer_mm", "corner chamfer width", "cutter", high=100),
    Column("centre_cutting", "whether the cutter can plunge", "choice", "cutter", choices=("yes", "no")),
    Column("helix_deg", "flute helix angle", "number", "cutter", unit="deg", low=0, high=65),
    Column("relief_deg", "radial primary relief", "number", "cutter", unit="deg", low=1, high=30),
    Column("rake_deg", "radial rake", "number", "cutter", unit="deg", low=-30, high=40),
    Column("runout_um", "total indicator reading at the teeth", "number", "run", unit="um", low=0, high=500,
           also=(("runout_thou", 25.4),)),
    Column("cutter_price", "money for this edge", "number", "cutter", low=0, high=1e6),
)  # fmt: skip

_CONDITION = (
    Column("work_material", "grade and condition of the work", scope="condition", need="expected",
           lost="different work materials cannot be kept apart"),
    Column("work_group", "ISO 513 letter of the work material", "choice", "condition",
           choices=("P", "M", "K", "N", "S", "H")),
    Column("hardness", "hardness of the bar", "number", "condition", low=10, high=1200),
    Column("hardness_scale", "scale of the hardness", "choice", "condition", choices=("HB", "HV", "HRC", "HRB")),
    Column("strategy", "the practice", "choice", "condition", "expected", choices=STRATEGIES, open_choice=True,
           lost="there are no practices to compare"),
    Column("strategy_note", "what the practice word leaves open", scope="condition"),
    Column("cutting_speed_m_min", "cutting speed vc", "number", "condition", "expected", "m/min", 0.1, 5000,
           also=(("cutting_speed_sfm", 0.3048),), family="speed", lost="there is no Taylor fit"),
    Column("spindle_rpm", "rotational frequency n", "number", "condition", unit="rev/min", low=1, high=300000,
           family="speed"),
    Column("feed_per_tooth_mm", "feed per tooth fz", "number", "condition", "expected", "mm", 1e-5, 5,
           also=(("feed_per_tooth_in", 25.4),), family="feed", lost="there is no removal rate and no edge exposure"),
    Column("feed_per_rev_mm", "feed per revolution", "number", "condition", unit="mm", low=1e-5, high=50,
           also=(("feed_per_rev_in", 25.4),), family="feed"),
    Column("feed_rate_mm_min", "feed speed vf", "number", "condition", unit="mm/min", low=0.01, high=1e5,
           also=(("feed_rate_in_min", 25.4),), family="feed"),
    _mm("axial_depth_mm", "axial depth of cut ap", "condition", 0.0, 500, above=True, need="expected",
        lost="there is no removal rate and no edge exposure"),
    _mm("radial_width_mm", "radial width of cut ae", "condition", 0.0, 500, above=True, need="expected",
        lost="there is no removal rate, no engagement and no edge exposure"),
    _mm("plunge_pitch_mm", "step between plunges", "condition", above=True),
    _mm("plunge_feed_per_tooth_mm", "axial feed per tooth", "condition", 0.0, 5, above=True),
    _mm("drill_diameter_mm", "drill used before the mill", "condition", above=True),
    _mm("drill_pitch_mm", "step between drilled holes", "condition", above=True),
    Column("ramp_angle_deg", "angle of the ramp", "number", "condition", unit="deg", low=0, high=45, above=True),
    Column("passes", "passes a feature", "integer", "condition", low=1, high=10000),
    _mm("allowance_wall_mm", "metal left on the wall for finishing", "condition", high=50),
    _mm("allowance_floor_mm", "metal left on the floor for finishing", "condition", high=50),
    _mm("wall_clearance_mm", "roughing held off the wall beyond the allowance", "condition", high=50),
    _mm("feature_width_mm", "width of what one part takes away", "condition", above=True),
    _mm("feature_depth_mm", "depth of what one part takes away", "condition", above=True),
    _mm("feature_length_mm", "length of what one part takes away", "condition", above=True),
    Column("feature_sides", "open sides of the feature", "choice", "condition", choices=("open", "one", "closed")),
    Column("direction", "way of milling", "choice", "condition", choices=("climb", "conventional", "both")),
    Column("coolant", "cooling", "choice", "condition", choices=("dry", "air", "mist", "flood", "through")),
)  # fmt: skip

_READING = (
    Column("trial", "name of the trial; blank = the file's name", scope="trial"),
    Column("reading", "number of the look at the cutter: 0 when new, then 1, 2 and so on", "integer", need="expected",
           low=0, high=1e6, lost="the order in the file is taken for the order of the readings"),
    Column("cutting_time_min", "in the metal, cumulative since new", "number", unit="min", low=0, high=1e6,
           also=(("cutting_time_s", 1 / 60),), family="clock"),
    Column("volume_cm3", "removed, cumulative", "number", unit="cm3", low=0, high=1e9,
           also=(("volume_in3", 16.387064),), family="clock"),
    Column("parts", "finished, cumulative", "number", unit="parts", low=0, high=1e8, family="clock"),
    Column("cut_length_m", "fed in the metal, cumulative", "number", unit="m", low=0, high=1e8,
           also=(("cut_length_in", 0.0254),), family="clock"),
    Column("measure", "what was read", need="required"),
    Column("zone", "zone of the edge; blank = whole edge", "choice", choices=ZONES, open_choice=True),
    _mm("zone_from_mm", "lower end of the zone above the end face", "reading", high=500),
    _mm("zone_to_mm", "upper end of the zone above the end face", "reading", high=500),
    Column("flute", "1, 2, ... or mean or worst; blank = not stated"),
    _mm("height_mm", "height above the floor", "reading", high=500),
    Column("side", "wall that was measured", "choice", choices=("left", "right", "both")),
    _mm("pin_mm", "actual size of the gauge pin", "reading", 0.0, 200, above=True),
    Column("pin_class", "class of the gauge pin", "choice", open_choice=True,
           choices=("XXX", "XX", "X", "Y", "Z", "ZZ")),
    _mm("pin_chamfer_mm", "chamfer at the pin's end", "reading", high=20),
    Column("part", "the part that was measured"),
    Column("repeat", "1, 2, ... for repeated measurement of the same thing", "integer", low=1, high=1000),
    Column("value", "the reading; blank = looked at the clock, not measured", "number", need="required",
           low=-1e6, high=1e6),
    Column("unit", "unit of the value: um, mm, thou, in", need="required"),
    Column("wear_form", "form of the wear", "choice", choices=WEAR_FORMS, open_choice=True),
    Column("instrument", "what it was measured with"),
    Column("operator", "initials of who measured"),
    Column("date", "day of the reading", "date"),
    Column("note", "anything else"),
    Column("end_reason", "why the run ended", "choice", choices=END_REASONS),
)  # fmt: skip

COLUMNS: dict[str, Column] = {column.name: column for column in (*_CUTTER, *_CONDITION, *_READING)}
"""Every column by its name, in the order in which templates write them."""

ALSO: dict[str, tuple[str, float]] = {
    other: (column.name, factor) for column in COLUMNS.values() for other, factor in column.also
}
"""Names in other units: name -> (standard column, factor to its unit)."""

BARE_WORDS: dict[str, str] = {
    "depth": "axial or radial? write axial_depth_mm or radial_width_mm",
    "doc": "axial or radial? write axial_depth_mm or radial_width_mm",
    "width": "radial width of cut or a measured slot? write radial_width_mm, or a row with measure width",
    "feed": "per tooth, per revolution or per minute? write feed_per_tooth_mm, feed_per_rev_mm or feed_rate_mm_min",
    "speed": "cutting speed or revolutions? write cutting_speed_m_min or spindle_rpm",
    "wear": "which land and which unit? write the columns measure, value and unit",
    "vb": "mean or greatest land, and in which unit? write the columns measure, value and unit",
    "time": "minutes or seconds, in the metal or on the clock? write cutting_time_min or cutting_time_s",
    "diameter": "in which unit? write diameter_mm or diameter_in",
    "volume": "in which unit? write volume_cm3 or volume_in3",
}
"""Header words that leave a question open, with the question."""


@dataclass(frozen=True, slots=True)
class Measure:
    """A word of the `measure` column: what it means and which way it runs as the cutter ages."""

    name: str
    meaning: str
    table: Literal["wear", "walls", "end"]
    direction: Literal["rises", "falls", "two-sided", ""]
    needs: tuple[str, ...] = ()
    low: float | None = None


MEASURES: dict[str, Measure] = {
    measure.name: measure
    for measure in (
        Measure("VB", "mean flank wear land over the zone", "wear", "rises", low=0.0),
        Measure("VBmax", "greatest flank wear land in the zone", "wear", "rises", low=0.0),
        Measure("corner", "radial recession of the corner", "wear", "rises", low=0.0),
        Measure("chip", "length of a chip out of the edge", "wear", "rises", low=0.0),
        Measure("wall", "deviation of one wall from nominal, + = metal left", "walls", "two-sided",
                ("height_mm", "side")),
        Measure("width", "slot or step width, absolute", "walls", "falls", ("height_mm",), low=0.0),
        Measure("hang_up", "height above the floor at which a pin stops; 0 = reaches it", "walls", "rises",
                ("pin_mm",), low=0.0),
        Measure("floor_radius", "fillet left at the floor", "walls", "rises", low=0.0),
        Measure("cutter_diameter", "diameter measured on the cutter", "walls", "falls", ("height_mm",), low=0.0),
        Measure("end", "the run ended here; nothing was measured", "end", "", ("end_reason",)),
    )
}  # fmt: skip
"""The words that the `measure` column knows; a trial file may declare more."""


def with_scope(*scopes: Scope) -> list[Column]:
    """Columns that belong to the given scopes, in dictionary order."""
    return [column for column in COLUMNS.values() if column.scope in scopes]
