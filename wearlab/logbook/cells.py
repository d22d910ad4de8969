"""Cells as typed -> text and numbers under the standard names, with what had to be assumed."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from datetime import date, timedelta

import numpy as np

from wearlab.logbook.columns import Column
from wearlab.logbook.draft import Draft, Words
from wearlab.logbook.findings import closest, short
from wearlab.logbook.header import Mapped
from wearlab.logbook.sheet import Bools, Cells, Floats, Ints, Numbers, Texts

BLANK_WORDS = frozenset({"", "na", "n/a", "nan", "-", "--", "null"})
"""Cells that say nothing, in lower case."""

_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+", re.ASCII)
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_GROUPED = tuple(
    re.compile(pattern, re.ASCII)
    for pattern in (
        r"([+-]?\d{1,3}(?:,\d{3})+)\.(\d+)",  # 1,234.5
        r"([+-]?\d{1,3}(?:,\d{3}){2,})()",  # 1,234,567
        r"([+-]?\d{1,3}(?:\.\d{3})+),(\d+)",  # 1.234,5
        r"([+-]?\d{1,3}(?:\.\d{3}){2,})()",  # 1.234.567
        r"([+-]?\d{1,3}(?:[ \u00a0\u202f'\u2019]\d{3})+)(?:[.,](\d+))?",  # 1 234 or 1'234.5
    )
)
"""Thousands marks that leave no doubt; 1,250 alone may be either."""

_MANGLED = re.compile(r"\d{1,2}[-./ ](jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)", re.IGNORECASE)
_FRACTION = re.compile(r"(?:(\d+)[ -])?(\d{1,3})/(\d{1,3})", re.ASCII)
_FORMULA_SIGNS = "=+-@"


def type_cells(draft: Draft, mapped: list[Mapped]) -> None:
    """Fill the columns of a draft of one sheet; a cell that is no number sets its row aside.

    Decimal commas are read as such when the whole file uses them, never cell by cell.
    """
    columns = draft.parts[0].sheet.columns
    texts = {item.column.name: columns[item.position] for item in mapped}
    numeric = [
        column for item in mapped if item.column.numeric and isinstance(column := texts[item.column.name], Texts)
    ]
    comma = _uses_decimal_comma([_unprotected(text) for column in numeric for text in column.different])
    if comma:
        draft.note("decimal_comma", "decimal commas were read as decimal points, in the whole file")
    for item in mapped:
        column = texts[item.column.name]
        if item.column.numeric:
            draft.numbers[item.column.name] = (
                _ready_numbers(draft, column, item)
                if isinstance(column, Numbers)
                else _numbers(draft, column.coded(), item, comma)
            )
        else:
            coded = column.coded()
            draft.words[item.column.name] = (
                _choices(draft, coded, item) if item.column.kind == "choice" else plain_words(coded)
            )
    _say_protected(draft, mapped)


def _ready_numbers(draft: Draft, column: Numbers, item: Mapped) -> Floats:
    """Numbers of a fast reader in standard units; what it could not turn into a number is looked at here."""
    values = column.values if item.factor == 1.0 else column.values * item.factor
    if not column.odd:
        return values
    values, wrong, grouped = values.copy(), [], []
    for row, text in column.odd.items():
        clean = _unprotected(text)
        number = number_in(clean)
        values[row] = number * item.factor
        if math.isnan(number) and clean.lower() not in BLANK_WORDS:
            wrong.append(row)
        elif not _NUMBER.fullmatch(clean) and not math.isnan(number):
            grouped.append(row)
    if grouped:
        first = column.odd[grouped[0]]
        _say_grouped(draft, first, number_in(_unprotected(first)), np.array(grouped, dtype=np.int64), item)
    _no_numbers(draft, np.array(wrong, dtype=np.int64), column.odd.__getitem__, item)
    return values


def _no_numbers(draft: Draft, rows: Bools | Ints, typed: Callable[[int], str], item: Mapped) -> None:
    draft.error(
        "not_a_number",
        rows,
        lambda row: f"{short(typed(row))} is no number",
        allowed=item.column.allowed(),
        hint=lambda row: _slip(typed(row), item.column),
        column=item.column.name,
    )


def _uses_decimal_comma(cells: list[str]) -> bool:
    """True when number cells hold decimal commas and none holds a decimal point."""
    return any("," in cell and _DECIMAL_COMMA.fullmatch(cell) for cell in cells) and not any(
        "." in cell and _NUMBER.fullmatch(cell) for cell in cells
    )


def _unprotected(text: str) -> str:
    """A cell without the mark that keeps spreadsheets from taking it for a formula."""
    return text[1:] if text[:1] == "'" and text[1:2] in _FORMULA_SIGNS and text[1:2] else text


def _say_protected(draft: Draft, mapped: list[Mapped]) -> None:
    for item in mapped:
        marked = _protected(draft.parts[0].sheet.columns[item.position])
        if len(marked):
            draft.note("protected_cells", "a mark ' before = + - or @ was taken off", marked, column=item.column.name)


def _protected(column: Cells) -> Ints:
    """Rows with such a mark."""
    if isinstance(column, Numbers):
        return np.array([row for row, text in column.odd.items() if _unprotected(text) != text], dtype=np.int64)
    texts = column.coded()
    if not any(text[:1] == "'" for text in texts.different):
        return np.zeros(0, dtype=np.int64)
    return np.flatnonzero(_mask(texts, [_unprotected(text) != text for text in texts.different]))


def _numbers(draft: Draft, texts: Texts, item: Mapped, comma: bool) -> Floats:
    """Convert each different text once; most cells of a log repeat."""
    different = [_unprotected(text) for text in texts.different]
    plain = [_NUMBER.fullmatch(text) is not None for text in different]
    values = np.array(
        [float(t) if p else number_in(t, comma) for t, p in zip(different, plain, strict=True)], dtype=float
    )
    grouped = [not p and _is_grouped(t, comma) for t, p in zip(different, plain, strict=True)]
    if any(grouped):
        first = grouped.index(True)
        _say_grouped(draft, different[first], values[first], _mask(texts, grouped), item)
    wrong = np.zeros(len(different), dtype=bool)
    for at in np.flatnonzero(np.isnan(values)):
        wrong[at] = different[at].lower() not in BLANK_WORDS
    if wrong.any():
        _no_numbers(draft, wrong[texts.codes], texts.typed, item)
    return values[texts.codes] * item.factor


def _say_grouped(draft: Draft, text: str, value: float, rows: Bools | Ints, item: Mapped) -> None:
    found = f"thousands marks in {item.word} were left out: {short(text)} was read as {value:.10g}"
    draft.note("thousands_mark", found, rows, column=item.column.name)


def _mask(texts: Texts, flags: list[bool]) -> Bools:
    return np.array(flags, dtype=bool)[texts.codes]


def number_in(text: str, comma: bool = False) -> float:
    """The number that a cell holds, NaN when it holds none.

    Parameters
    ----------
    text : str
        The cell.
    comma : bool
        The file writes decimal commas.

    >>> number_in("0.25"), number_in("0,25", comma=True), number_in("1,234.5"), number_in("1,250")
    (0.25, 0.25, 1234.5, nan)
    """
    if _NUMBER.fullmatch(text):
        return float(text)
    if comma and _DECIMAL_COMMA.fullmatch(text):
        return float(text.replace(",", "."))
    return _grouped(text)


def _is_grouped(text: str, comma: bool) -> bool:
    return not (comma and _DECIMAL_COMMA.fullmatch(text)) and not math.isnan(_grouped(text))


def _grouped(text: str) -> float:
    for pattern in _GROUPED:
        match = pattern.fullmatch(text)
        if match:
            return float(f"{re.sub(r'[^0-9+-]', '', match[1])}.{match[2] or 0}")
    return float("nan")


def _slip(text: str, column: Column) -> str:
    """What a cell that is no number most likely stands for, in its own digits."""
    fraction = _FRACTION.fullmatch(text)
    if fraction and int(fraction[3]):
        value = int(fraction[1] or 0) + int(fraction[2]) / int(fraction[3])
        return f"Write the fraction as {value:.6g}"
    if _MANGLED.match(text):
        return "A spreadsheet turns fractions such as 1/4 into dates: format the column as text and type 0.25"
    if re.fullmatch(r"\d{4}-\d\d-\d\d([ T].*)?", text):
        return _date_for_number(text, column)
    if re.fullmatch(r"[1-9]\d{0,2}(,\d{3})+", text, re.ASCII):
        return f"Write {text.replace(',', '')} without a thousands mark, or {text.replace(',', '.')} with a point"
    if _DECIMAL_COMMA.fullmatch(text):
        return (
            f"Write {text.replace(',', '.')} with a point; the file mixes points and commas, so it was not guessed at"
        )
    if text.startswith(("=", "@")):
        return "A spreadsheet formula is never worked out: type the number"
    if re.match(r"[+-]?[\d.]+\s*[a-zA-Zµμ%\"']+", text):
        return "Write the number alone; the unit stands in the column's name, or in the column unit"
    return "Correct the cell from the bench sheet"


def _date_for_number(text: str, column: Column) -> str:
    month, day = int(text[5:7]), int(text[8:10])
    if 1 <= month <= 12 and 1 <= day <= 31 and column.unit == "mm":
        return f"Was {month}/{day} ({month / day:.6g}) typed, and did a spreadsheet make a date of it?"
    return "A spreadsheet made a date of it: format the column as a number"


def serial_date(number: float) -> date | None:
    """The day that a spreadsheet's serial number stands for; None outside 1927 to 2064 (10000 to 60000).

    Serial 60 and below carry the spreadsheets' leap year 1900 that never was; they are outside.

    >>> serial_date(46026).isoformat()
    '2026-01-04'
    """
    if not (10_000 <= number <= 60_000 and number % 1 == 0):
        return None
    return date(1899, 12, 30) + timedelta(days=int(number))


def plain_words(texts: Texts) -> Words:
    """Text as typed; blank words are no text."""
    words = texts.different
    if any(text[:1] == "'" for text in words):
        words = [_unprotected(text) for text in words]
    return Words(texts.codes, ["" if len(word) < 5 and word.lower() in BLANK_WORDS else word for word in words])


def _choices(draft: Draft, texts: Texts, item: Mapped) -> Words:
    """Choices in the dictionary's spelling; an unknown word is an error, or the shop's own where that is allowed."""
    spelling = {choice.lower(): choice for choice in item.column.choices}
    fixed: list[str] = []
    unknown: list[bool] = []
    for text in texts.different:
        word = _unprotected(text)
        known = spelling.get(word.lower()) or spelling.get(re.sub(r"[\s_]+", "_", word.lower()))
        blank = known is None and word.lower() in BLANK_WORDS
        fixed.append("" if blank else known or word)
        unknown.append(known is None and not blank)
    if any(unknown):
        _own_words(draft, Words(texts.codes, fixed), unknown, item)
    return Words(texts.codes, fixed)


def one_slip_apart(a: str, b: str) -> bool:
    """Whether two words of four letters or more differ by one letter, one too many, or two neighbours exchanged.

    >>> one_slip_apart("lowr", "lower"), one_slip_apart("LOEWR", "lower"), one_slip_apart("TiAlCrN", "AlCrN")
    (True, True, False)
    """
    a, b = sorted((a.lower(), b.lower()), key=len)
    if len(a) < 4 or len(b) - len(a) > 1 or a == b:
        return False
    i = next((i for i in range(len(a)) if a[i] != b[i]), len(a))
    if len(a) < len(b):
        return a[i:] == b[i + 1 :]
    return a[i + 1 :] == b[i + 1 :] or (a[i : i + 2] == b[i : i + 2][::-1] and a[i + 2 :] == b[i + 2 :])


def _own_words(draft: Draft, words: Words, unknown: list[bool], item: Mapped) -> None:
    name, choices = item.column.name, [choice.lower() for choice in item.column.choices]
    if item.column.open_choice:
        for code in np.flatnonzero(unknown):
            word = words.vocabulary[code]
            close = next((choice for choice in item.column.choices if one_slip_apart(word, choice)), "")
            rows = (words.codes == code) & ~draft.broken
            if not rows.any():
                continue
            if close:
                found = f"{short(word)} is read as the shop's own word"
                draft.warn("misspelt_word", found, rows, column=name, hint=f"did you mean {close}?")
            else:
                hint = closest(word.lower(), tuple(choices))
                draft.note("own_word", f"{short(word)} is the shop's own word", rows, column=name, hint=hint)
        return
    draft.error(
        "unknown_word",
        np.array(unknown)[words.codes],
        lambda row: f"{short(words.text(row))} is none of the known words",
        allowed=item.column.allowed(),
        hint=lambda row: closest(words.text(row).lower(), tuple(choices)) or "write it in one of the known words",
        column=name,
    )
