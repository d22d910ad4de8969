"""The practices: each turns a feature into passes, volume, time, what is left behind and what the edge goes
through.

One file a family. A practice is a frozen record of feature, cutter and settings; one that the geometry
forbids is refused with the reason. All share what `base.Practice` offers.
"""

from wearlab.milling.practices.base import Practice, Remains
from wearlab.milling.practices.finish import Finish
from wearlab.milling.practices.helical import Helical
from wearlab.milling.practices.layered import FullSlot, Layered
from wearlab.milling.practices.passes import Pass
from wearlab.milling.practices.plunge import Plunge
from wearlab.milling.practices.predrilled import Predrilled
from wearlab.milling.practices.ramp import Ramp
from wearlab.milling.practices.setup import Cutter, Feature, Settings
from wearlab.milling.practices.side import Side
from wearlab.milling.practices.trochoidal import Trochoidal

PRACTICES: dict[str, type[Practice]] = {
    kind.name: kind
    for kind in (Layered, Side, FullSlot, Plunge, Predrilled, Ramp, Helical, Trochoidal, Finish)
}
"""Every practice by the word that stands for it in the column `strategy`."""

__all__ = [
    "PRACTICES",
    "Cutter",
    "Feature",
    "Finish",
    "FullSlot",
    "Helical",
    "Layered",
    "Pass",
    "Plunge",
    "Practice",
    "Predrilled",
    "Ramp",
    "Remains",
    "Settings",
    "Side",
    "Trochoidal",
]
