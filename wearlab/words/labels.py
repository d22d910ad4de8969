"""One map from a column of any table to the words, the kind of quantity and the digits that readers see."""

from __future__ import annotations

from dataclasses import dataclass

from wearlab.logbook.columns import COLUMNS
from wearlab.words.units import clock_kind, unit_of


@dataclass(frozen=True, slots=True)
class Label:
    """How one column is shown.

    Attributes
    ----------
    text : str
        Heading, without the unit.
    kind : str
        Kind of quantity (`words.units`); empty = text.
    digits : int or None
        Decimals; None = those of the kind.
    """

    text: str
    kind: str = ""
    digits: int | None = None

    def heading(self, units: str = "metric") -> str:
        """Heading with its unit.

        >>> Label("cutting speed", "speed").heading("inch")
        'cutting speed, sfm'
        """
        unit = unit_of(self.kind, units).name if self.kind else ""
        return f"{self.text}, {unit}" if unit and unit not in ("times", "parts") else self.text


_TEXTS = {
    "cutter": "cutter",
    "cutter_material": "cutter material",
    "coating": "coating",
    "diameter_mm": "diameter",
    "teeth": "teeth",
    "flute_length_mm": "flute length",
    "overhang_mm": "overhang",
    "corner_radius_mm": "corner radius",
    "helix_deg": "helix angle",
    "relief_deg": "relief angle",
    "rake_deg": "rake angle",
    "runout_um": "runout",
    "cutter_batch": "cutter batch",
    "run_order": "run order",
    "work_material": "work material",
    "work_group": "work group (ISO 513)",
    "strategy": "practice",
    "cutting_speed_m_min": "cutting speed",
    "spindle_rpm": "spindle speed",
    "feed_per_tooth_mm": "feed per tooth",
    "feed_per_rev_mm": "feed per revolution",
    "feed_rate_mm_min": "feed speed",
    "axial_depth_mm": "axial depth",
    "radial_width_mm": "radial width",
    "cutting_time_min": "cutting time",
    "volume_cm3": "metal removed",
    "cut_length_m": "length cut",
    "end_reason": "why the run ended",
}

_KINDS_BY_UNIT = {
    "mm": "length",
    "um": "deviation",
    "m/min": "speed",
    "rev/min": "rotation",
    "mm/min": "feed_rate",
    "deg": "angle",
    "min": "minutes",
    "cm3": "volume",
    "parts": "parts",
    "m": "cut_length",
}

_MADE: dict[str, Label] = {
    "group": Label("group"),
    "status": Label("status"),
    "zone": Label("zone"),
    "zone_shown": Label("zone"),
    "measure": Label("measure"),
    "criterion": Label("life ends at"),
    "outcome": Label("what was compared"),
    "pair": Label("compared"),
    "why": Label("why"),
    "remark": Label("remark"),
    "inspection": Label("look", "count"),
    "flutes": Label("flutes read", "count"),
    "mean_mm": Label("mean land", "land"),
    "worst_mm": Label("worst flute", "land"),
    "cutters": Label("cutters", "count"),
    "censored": Label("of these, not worn out", "count"),
    "readings": Label("readings used", "count"),
    "n_a": Label("cutters of the first", "count"),
    "n_b": Label("cutters of the second", "count"),
    "estimate": Label("estimate", "number", 4),
    "ratio": Label("times", "ratio"),
    "low": Label("from", "number", 4),
    "high": Label("to", "number", 4),
    "std_error": Label("standard error", "number", 4),
    "level": Label("confidence level", "number", 2),
    "p_value": Label("p, two-sided"),
    "method": Label("method"),
    "sigma": Label("scatter of ln outcome", "number", 3),
    "smallest_detectable": Label("smallest ratio it could show", "ratio"),
    "cutters_to_settle": Label("cutters a side to settle it", "count"),
    "removal_rate_cm3_min": Label("removal rate", "removal"),
    "mean_chip_mm": Label("mean chip thickness", "length", 4),
    "max_chip_mm": Label("greatest chip thickness", "length", 4),
    "engagement_angle_deg": Label("engagement angle", "angle"),
    "teeth_in_contact": Label("teeth in contact", "number", 2),
    "power_kw": Label("cutting power", "power"),
    "machine_time_min": Label("machine time", "minutes"),
    "tip_deflection_um": Label("deflection at the tip", "deviation", 1),
}


def label(name: str) -> Label:
    """Label of a column; an unknown name is shown with blanks for underscores.

    >>> label("axial_depth_mm").text, label("axial_depth_mm").kind
    ('axial depth', 'length')
    >>> label("shop_word").text
    'shop word'
    """
    if name in _MADE:
        return _MADE[name]
    text = _TEXTS.get(name, name.removesuffix("_mm").removesuffix("_deg").removesuffix("_um").replace("_", " "))
    column = COLUMNS.get(name)
    if column is None or not column.numeric:
        return Label(text)
    kind = _KINDS_BY_UNIT.get(column.unit, "number" if column.kind == "number" else "count")
    return Label(text, kind)


def life_label(clock: str, text: str = "life") -> Label:
    """Label of a life counted on a clock.

    >>> life_label("parts").heading(), life_label("cutting_time_min").heading()
    ('life, parts', 'life, min')
    """
    kind = clock_kind(clock)
    return Label(f"{text}, parts", kind) if kind == "parts" else Label(text, kind)


def rate_label(clock: str, text: str = "wear rate") -> Label:
    """Label of a wear rate on a clock.

    >>> rate_label("cutting_time_min").heading("inch")
    'wear rate, thou/min'
    """
    return Label(text, f"land_per_{clock_kind(clock)}")
