"""Readings of one look against each other: mean and greatest land, flutes that are missing, worn at the first look."""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from wearlab.logbook.criterion import DEFAULTS_TEXT, Criterion, parse_criterion
from wearlab.logbook.curves import LANDS, Lands
from wearlab.logbook.draft import Draft
from wearlab.logbook.findings import listed, number_of
from wearlab.logbook.noise import reading_sd
from wearlab.logbook.order import Looks, changes, spans, stretch
from wearlab.logbook.row_rules import combined_key, is_flute_number
from wearlab.logbook.settings import TrialSettings
from wearlab.logbook.sheet import Codes, Ints


def check_profiles(draft: Draft, looks: Looks, lands: Lands, settings: TrialSettings) -> None:
    """Apply every rule that compares readings of one look."""
    _mean_above_max(draft, lands)
    _mean_outside_flutes(draft, lands)
    _missing_flutes(draft, looks)
    _worn_at_first_look(draft, looks, lands, settings)


def _mean_above_max(draft: Draft, lands: Lands) -> None:
    """VB is a mean and VBmax the greatest of the same land."""
    where = combined_key([lands.cutter, lands.look, lands.zone, lands.flute])
    greatest = {int(key): i for i, key in enumerate(where) if lands.measure[i] == LANDS.index("VBmax")}
    for i in np.flatnonzero(lands.measure == LANDS.index("VB")):
        j = greatest.get(int(where[i]))
        if j is None or lands.value[i] - lands.value[j] <= reading_sd(lands.value[i]):
            continue
        rows = [int(lands.row[i]), int(lands.row[j])]
        draft.warn(
            "mean_above_max",
            f"VB {lands.value[i]:.4g} mm on line {draft.line_of(rows[0])} is above VBmax "
            f"{lands.value[j]:.4g} mm of the same place on line {draft.line_of(rows[1])}",
            rows,
            cutter=draft.cutter_of(rows[0]),
            column="value",
            hint="A mean cannot be above the greatest: one of them is wrong",
        )


def _mean_outside_flutes(draft: Draft, lands: Lands) -> None:
    """A row `mean` or `worst` beside the single flutes must fit them."""
    words = draft.word("flute")
    names = [words.vocabulary[code] if code < len(words.vocabulary) else "" for code in lands.flute]
    if not {"mean", "worst"} & set(names):
        return
    where = combined_key([lands.cutter, lands.look, lands.measure, lands.zone])
    single: dict[int, list[float]] = defaultdict(list)
    for key, name, value in zip(where, names, lands.value, strict=True):
        if name and is_flute_number(name):
            single[int(key)].append(float(value))
    for i, name in enumerate(names):
        flutes = single.get(int(where[i]), [])
        if name not in ("mean", "worst") or len(flutes) < 2:
            continue
        low, high = (min(flutes), max(flutes)) if name == "mean" else (max(flutes), max(flutes))
        value, slack = float(lands.value[i]), float(reading_sd(high))
        if not low - slack <= value <= high + slack:
            row = int(lands.row[i])
            limits = f"{low:.4g} to {high:.4g} mm" if name == "mean" else f"{high:.4g} mm"
            draft.warn(
                "mean_outside_flutes",
                f"the {name} of the flutes is {value:.4g} mm, but the single flutes say {limits}",
                [row],
                cutter=draft.cutter_of(row),
                column="value",
                hint="The single flutes were used",
            )


def _missing_flutes(draft: Draft, looks: Looks) -> None:
    """A flute that was read at other looks and not at this one; a blank value counts as looked at."""
    measure = draft.word("measure").mapped({name: float(at) for at, name in enumerate(LANDS)})
    flute = draft.word("flute")
    single = flute.where(lambda word: bool(word) and is_flute_number(word))
    wanted = np.isfinite(measure[looks.rows]) & single[looks.rows]
    rows, cutter, look = looks.rows[wanted], looks.cutter[wanted], looks.look[wanted]
    place = combined_key([cutter, measure[rows].astype(np.int64), draft.key("zone")[rows]])
    order = np.lexsort((look, place))
    rows, cutter, look, place = rows[order], cutter[order], look[order], place[order]
    lacking: dict[int, list[tuple[int, int, list[str]]]] = defaultdict(list)
    judged: dict[int, int] = defaultdict(int)
    for begin, end in _uneven(place, look, flute.codes[rows]):
        for found in _of_place(rows[begin:end], look[begin:end], flute.codes):
            judged[int(cutter[begin])] += 1
            if found[2]:
                names = [flute.vocabulary[code] for code in found[2]]
                lacking[int(cutter[begin])].append((found[0], found[1], names))
    for at, found_places in lacking.items():
        unexplained = [place for place in found_places if not _row_set_aside(draft, place[1])]
        if unexplained:
            _report_missing(draft, looks.names[at], unexplained, judged[at])


def _uneven(place: Ints, look: Ints, flute: Codes) -> list[tuple[int, int]]:
    """Places of which not every look has every flute: begin and end in the ordered arrays."""
    if not len(place):
        return []
    codes = flute.astype(np.int64)
    each = np.unique(combined_key([place, look, codes]), return_index=True)[1]
    ever = np.unique(combined_key([place, codes]), return_index=True)[1]
    new_place, new_look = changes(place), changes(place, look)
    flutes = np.bincount(np.cumsum(new_look)[each] - 1)
    at = np.cumsum(new_place)[new_look] - 1
    most, least = np.bincount(np.cumsum(new_place)[ever] - 1), np.full(at[-1] + 1, np.inf)
    np.minimum.at(least, at, flutes)
    return [span for span, uneven in zip(spans(new_place), most > least, strict=True) if uneven]


def _row_set_aside(draft: Draft, row: int) -> bool:
    """Whether the cutter of a row has a row of the same reading that was set aside: then nothing was forgotten."""
    number, cutter = draft.number("reading"), draft.word("cutter").codes
    alike = draft.bad & (cutter == cutter[row])
    if np.isfinite(number[row]):
        alike &= (number == number[row]) | np.isnan(number) | draft.broken  # cells of a broken row stand elsewhere
    return bool(alike.any())


def _of_place(rows: Ints, look: Ints, codes: Codes) -> list[tuple[int, int, list[int]]]:
    """For each look of one place: look, a row, and codes of the flutes that are read at other looks but not here."""
    every = set(codes[rows].tolist())
    result = []
    for at in np.unique(look):
        own = rows[stretch(look, at)]
        result.append((int(at), int(own[0]), sorted(every - set(codes[own].tolist()))))
    return result


def _report_missing(draft: Draft, cutter: str, places: list[tuple[int, int, list[str]]], judged: int) -> None:
    zone, number = draft.word("zone"), draft.number("reading")
    words = []
    for _, row, flutes in places:
        where = f" of zone {zone.text(row)}" if zone.text(row) else ""
        when = f" at reading {number[row]:g}" if np.isfinite(number[row]) else ""
        words.append(f"flute {listed(flutes)}{where}{when}")
    found = f"missing: {listed(words, most=6)}"
    rows = [row for _, row, _ in places]
    if len(places) > 0.4 * judged:
        draft.note("flutes_vary", f"not every look reads every flute; {found}", rows, cutter=cutter, column="flute")
    else:
        draft.warn(
            "flute_missing",
            found,
            rows,
            cutter=cutter,
            column="flute",
            hint="The mean is taken over the flutes that were read; fill in the others, or a row with a blank value",
        )


def _worn_at_first_look(draft: Draft, looks: Looks, lands: Lands, settings: TrialSettings) -> None:
    """A criterion that is reached at the first reading leaves only an upper limit of the life."""
    criteria = settings.criteria or tuple(parse_criterion(text) for text in DEFAULTS_TEXT)
    for criterion in criteria:
        if criterion.measure in LANDS:
            _against(draft, looks, lands, criterion)


def _against(draft: Draft, looks: Looks, lands: Lands, criterion: Criterion) -> None:
    zones = draft.word("zone")
    wanted = lands.measure == LANDS.index(criterion.measure)
    if criterion.zone:
        wanted &= zones.equal(criterion.zone)[lands.row]
    at = np.flatnonzero(wanted)
    worst = np.flatnonzero(lands.value[at] >= criterion.limit)  # a mean at the limit has a flute at the limit
    for cutter in np.unique(lands.cutter[at[worst]]):
        own = at[stretch(lands.cutter[at], cutter)]
        present = np.unique(lands.look[own])
        first = own[lands.look[own] == present[0]]
        values = [lands.value[first[lands.zone[first] == zone]] for zone in np.unique(lands.zone[first])]
        land = max(float(part.mean() if criterion.statistic == "mean" else part.max()) for part in values)
        if land >= criterion.limit and len(present) > 1:
            rows = lands.row[first]
            draft.warn(
                "worn_at_first_look",
                f"{criterion.text} is reached at the first reading ({land:.4g} mm)",
                rows,
                cutter=draft.cutter_of(int(rows[0])),
                column="value",
                hint=f"Its life is known only to be shorter than that; {number_of(len(present) - 1, 'later reading')} "
                "cannot tell when it was reached",
            )
