"""How figures look: inks, dashes and marks that tell groups apart without colour, and the way into SVG text."""

from __future__ import annotations

import html
import io
import re
import textwrap
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK = "#1c2733"
"""Text and axes."""
SOFT = "#5c6773"
"""Secondary text; 5.7 to 1 on white."""
GRID = "#dfe4e8"
BAND = "#d8dfe5"
"""The zone that does not matter, and other grounds."""
LIMIT = "#a3123a"
"""Limit lines, always labelled as well."""

SCREEN_PT = 460.0
"""Width of a full figure in points: text of 10 points then reads well from a phone to a wide screen."""
PHONE_PT = 246.0
"""Width of a figure for a phone, in points: 328 pixels, so that its text keeps its size on a screen of 360."""
MOST_POINTS = 5000
"""Beyond this a figure shows a summary instead of every reading."""


@dataclass(frozen=True, slots=True)
class Look:
    """How one group looks: ink, dash and mark each tell it apart alone."""

    ink: str
    dash: tuple[float, ...]
    mark: str
    filled: bool


LOOKS: tuple[Look, ...] = (
    Look("#0f4c81", (), "o", True),
    Look("#d9711a", (5.0, 2.0), "s", False),
    Look("#4a1c0a", (1.5, 1.5), "^", True),
    Look("#9a2bd9", (6.0, 2.0, 1.5, 2.0), "D", False),
    Look("#8d9660", (3.0, 1.2), "v", True),
    Look("#10131f", (8.0, 2.0, 1.5, 2.0, 1.5, 2.0), "P", True),
)
"""Inks differ in lightness, so that a black-and-white print keeps them apart; neighbours differ in mark and dash."""


def looks(groups: Sequence[str]) -> dict[str, Look]:
    """A look for every group, in the order given; after the last ink they begin again with other marks.

    >>> list(looks(["layered", "side"]))
    ['layered', 'side']
    """
    made = {}
    for at, group in enumerate(groups):
        base = LOOKS[at % len(LOOKS)]
        turn = at // len(LOOKS)
        other = LOOKS[(at + 2 * turn) % len(LOOKS)]
        made[group] = Look(base.ink, other.dash, other.mark, base.filled if turn % 2 == 0 else not base.filled)
    return made


_RC: dict[str, Any] = {
    "font.family": ["DejaVu Sans"],
    "font.size": 9.5,
    "axes.titlesize": 10,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.labelsize": 9.5,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": GRID,
    "grid.linewidth": 0.7,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.labelsize": 9,
    "ytick.labelsize": 9,
    "text.color": INK,
    # A name typed by a user may hold a dollar sign: it is text, not mathematics.
    "text.parse_math": False,
    "axes.formatter.use_mathtext": False,
    "axes.unicode_minus": True,
    "svg.fonttype": "none",
    "svg.hashsalt": "wearlab",
    "figure.facecolor": "white",
    "path.simplify": True,
}


@contextmanager
def styled() -> Iterator[None]:
    """The settings of every figure, for as long as it is made; nothing global is left behind."""
    import matplotlib

    with matplotlib.rc_context(_RC):  # type: ignore[arg-type]
        yield


def new_figure(height_pt: float, width_pt: float = SCREEN_PT, *, narrow: bool = False) -> Figure:
    """An empty figure, as wide as a phone where it is `narrow`; call inside `styled`."""
    from matplotlib.figure import Figure

    return Figure(figsize=((PHONE_PT if narrow else width_pt) / 72.0, height_pt / 72.0), layout="constrained")


def fitted(text: str, narrow: bool, most: int = 36) -> str:
    """A label broken into lines that a phone holds; on a wide figure as it is.

    >>> fitted("times as long as the other, first over second", True, 30)
    'times as long as the other,\\nfirst over second'
    """
    return textwrap.fill(text, most, break_long_words=False) if narrow else text


def shortened(name: str, narrow: bool, most: int = 16) -> str:
    """A user's name as a phone holds it: on two lines at most, the rest cut; on a wide figure as it is.

    >>> shortened("layered, from the solid, second bar", True), shortened("side", True)
    ('layered, from\\nthe solid,…', 'side')
    """
    if not narrow or len(name) <= most:
        return name
    return "\n".join(textwrap.wrap(name, most, max_lines=2, placeholder="…"))


def plain_log_axis(axis: Any, ticks: Sequence[float]) -> None:
    """Ticks of a logarithmic axis as plain numbers."""
    from matplotlib.ticker import FixedFormatter, FixedLocator, NullLocator

    axis.set_major_locator(FixedLocator(list(ticks)))
    axis.set_major_formatter(FixedFormatter([f"{tick:.3g}" if tick < 1000 else f"{tick:.0f}" for tick in ticks]))
    axis.set_minor_locator(NullLocator())


def nice_ticks(low: float, high: float, most: int = 7) -> list[float]:
    """Round numbers between two positive ones, evenly spread on a logarithmic axis.

    >>> nice_ticks(9.0, 130.0)
    [10.0, 30.0, 100.0]
    >>> nice_ticks(55.0, 105.0)
    [60.0, 70.0, 80.0, 100.0]
    """
    import math

    decades = range(math.floor(math.log10(low)) - 1, math.ceil(math.log10(high)) + 1)
    for steps in (
        (1,),
        (1, 3),
        (1, 2, 5),
        (1, 1.5, 2, 3, 4, 5, 6, 7, 8),
        (1, 1.2, 1.4, 1.6, 1.8, 2, 2.5, 3, 3.5, 4, 4.5, 5),
    ):
        found = [step * 10.0**decade for decade in decades for step in steps]
        inside = [tick for tick in found if low <= tick <= high]
        if 3 <= len(inside) <= most:
            return inside
    return [float(f"{value:.2g}") for value in (low, math.sqrt(low * high), high)]


def label_ends(
    axes: Axes, ends: dict[str, tuple[float, float]], inks: dict[str, Look], least_gap: float, narrow: bool = False
) -> None:
    """Write each group's name at the end of its line; names that would overlap are moved apart.

    Parameters
    ----------
    axes : matplotlib Axes
    ends : dict
        Group -> point at which its line ends.
    inks : dict
        Group -> look.
    least_gap : float
        Smallest distance of two names, as a share of the height of the axes.
    narrow : bool
        Long names on two lines, for a phone.
    """
    to_axes = axes.transData + axes.transAxes.inverted()
    at = sorted((float(to_axes.transform(point)[1]), group) for group, point in ends.items())
    floor = 0.05 - least_gap
    for height, group in at:
        height = max(height, floor + least_gap)
        floor = height
        axes.annotate(
            shortened(group, narrow),
            xy=ends[group],
            xytext=(float(to_axes.transform(ends[group])[0]) + 0.02, height),
            textcoords="axes fraction",
            ha="left",
            va="center",
            color=darker(inks[group].ink),
            fontweight="bold",
            fontsize=9,
            annotation_clip=False,
        )


def darker(ink: str) -> str:
    """An ink dark enough for text on white: mixed with the text ink until it reads 4.5 to 1.

    >>> darker("#d9711a") != "#d9711a", darker("#0f4c81")
    (True, '#0f4c81')
    """
    for share in range(11):
        mixed = [_channel(ink, i) * (1 - share / 10) + _channel(INK, i) * share / 10 for i in range(3)]
        if 1.05 / (_luminance(mixed) + 0.05) >= 4.5:
            return "#" + "".join(f"{round(255 * part):02x}" for part in mixed)
    return INK


def _channel(ink: str, at: int) -> float:
    return int(ink[1 + 2 * at : 3 + 2 * at], 16) / 255


def _luminance(parts: Sequence[float]) -> float:
    """Relative luminance as the accessibility guidelines define it (WCAG 2, from memory)."""
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast_on_white(ink: str) -> float:
    """Contrast of an ink on white, 1 to 21.

    >>> round(contrast_on_white("#000000"))
    21
    """
    return 1.05 / (_luminance([_channel(ink, i) for i in range(3)]) + 0.05)


_ID = re.compile(r'\bid="([^"]+)"')
_REFERENCE = re.compile(r'((?:xlink:)?href="#|url\(#)([^")]+)')


def to_svg(figure: Figure, key: str, title: str, description: str) -> str:
    """A figure as SVG text to stand inside a page.

    Names inside it are made its own, so that several can share a page; title and description are for those who
    cannot see it. The same figure gives the same bytes.
    """
    stream = io.StringIO()
    nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    with styled():
        _lay_out(figure)
        figure.savefig(stream, format="svg", metadata=nothing)
    text = stream.getvalue()
    text = text[text.index("<svg") :].strip()
    text = re.sub(r"\s*<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = _ID.sub(lambda match: f'id="{key}-{match[1]}"', text)
    text = _REFERENCE.sub(lambda match: f"{match[1]}{key}-{match[2]}", text)
    head, _, body = text.partition(">")
    head = re.sub(r'\s(?:width|height|xmlns:xlink|version)="[^"]*"', "", head)
    head = head.replace("<svg", f'<svg role="img" aria-labelledby="{key}-title {key}-desc" class="drawing"', 1)
    body = body.replace("xlink:href", "href")
    named = (
        f'<title id="{key}-title">{html.escape(title)}</title><desc id="{key}-desc">{html.escape(description)}</desc>'
    )
    return f"{head}>{named}{body}"


def _lay_out(figure: Figure) -> None:
    """Work out where everything stands, once: saving would draw the whole figure a second time for it."""
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    engine = figure.get_layout_engine()
    if engine is None:
        return
    FigureCanvasSVG(figure)
    figure.set_dpi(72)  # at which SVG is written: texts take the room that they take there
    engine.execute(figure)
    figure.set_layout_engine(None)


def both_svgs(draw: Callable[..., Figure], key: str, title: str, description: str) -> tuple[str, str]:
    """A figure as SVG text twice: for a screen or paper, and for a phone.

    `draw` takes `narrow` and gives the figure.
    """
    wide = to_svg(draw(narrow=False), key, title, description)
    return wide, to_svg(draw(narrow=True), f"{key}-phone", title, description)
