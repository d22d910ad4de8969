"""Cells as typed -> text and numbers under the standard names, with what had to be assumed."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from wearlab.core.tables import nearest
from wearlab.logbook.draft import Draft
from wearlab.logbook.findings import short
from wearlab.logbook.header import Mapped

BLANK_WORDS = frozenset({"", "na", "n/a", "nan", "-", "--", "null"})
_DECIMAL_COMMA = re.compile(r"^[+-]?\d+,\d+$")
_NUMBER = re.compile(r"^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$")
_MANGLED = re.compile(r"^\d{1,2}[-./ ](jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)|^\d{1,2}/\d{1,2}(/\d+)?$", re.I)


def type_cells(draft: Draft, mapped: list[Mapped]) -> None:
    """Fill `draft.data` from `draft.typed`; a cell that is no number sets its row aside.

    Decimal commas are read as such when the whole file uses them, never cell by cell.
    """
    texts = {item.column.name: draft.typed.iloc[:, item.position].astype(object) for item in mapped}
    draft.data = pd.DataFrame(texts, index=draft.typed.index)
    comma = _uses_decimal_comma([texts[item.column.name] for item in mapped if item.column.numeric])
    if comma:
        draft.note("decimal_comma", "decimal commas were read as decimal points, in the whole file")
    for item in mapped:
        name = item.column.name
        if item.column.numeric:
            draft.data[name] = _numbers(draft, texts[name], item, comma)
        elif item.column.kind == "choice":
            draft.data[name] = _words(draft, texts[name], item)
        else:
            draft.data[name] = texts[name].where(~texts[name].str.lower().isin(BLANK_WORDS), "")


def _uses_decimal_comma(columns: list[pd.Series]) -> bool:
    """True when number cells hold decimal commas and none holds a decimal point."""
    values = [str(cell) for column in columns for cell in column.unique()]
    return any(_DECIMAL_COMMA.match(cell) for cell in values) and not any(
        "." in cell and _NUMBER.match(cell) for cell in values
    )


def _numbers(draft: Draft, texts: pd.Series, item: Mapped, comma: bool) -> pd.Series:
    """Convert each different text once; most cells of a log repeat."""
    codes, different = pd.factorize(texts)
    values = np.array([_number(str(text), comma) for text in different], dtype=float)
    numbers = values[codes] * item.factor
    blank = np.array([str(text).lower() in BLANK_WORDS for text in different], dtype=bool)
    wrong = np.isnan(values) & ~blank
    for line in texts.index[wrong[codes]]:
        draft.error(int(line), "not_a_number", f"{short(texts[line])} is no number", column=item.word,
                    allowed=item.column.allowed(), hint=_slip(str(texts[line])))  # fmt: skip
    return pd.Series(numbers, index=texts.index)


def _number(text: str, comma: bool) -> float:
    clean = text.replace(",", ".") if comma and _DECIMAL_COMMA.match(text) else text
    return float(clean) if _NUMBER.match(clean) else np.nan


def _slip(text: str) -> str:
    """What a cell that is no number most likely stands for, in its own digits."""
    if _MANGLED.match(text):
        return "A spreadsheet turns fractions such as 1/4 into dates: format the column as text and type 0.25"
    if re.match(r"^[1-9]\d{0,2}(,\d{3})+$", text):
        whole, point = text.replace(",", ""), text.replace(",", ".")
        point_too = f", or {point} with a point" if text.count(",") == 1 else ""
        return f"Write {whole} without a thousands mark{point_too}"
    if _DECIMAL_COMMA.match(text):
        return f"Write {text.replace(',', '.')} with a point; the file mixes points and commas, so it was not guessed at"
    if text.startswith(("=", "@")):
        return "A spreadsheet formula is never worked out: type the number"
    if re.match(r"^[+-]?[\d.]+\s*[a-zA-Zµμ%\"']+", text):
        return "Write the number alone; the unit stands in the column's name, or in the column unit"
    return "Correct the cell from the bench sheet"


def _words(draft: Draft, texts: pd.Series, item: Mapped) -> pd.Series:
    """Choices in the dictionary's spelling; an unknown word is an error, or the shop's own where that is allowed."""
    spelling = {choice.lower(): choice for choice in item.column.choices}
    codes, different = pd.factorize(texts)
    fixed: list[str] = []
    for code, text in enumerate(different):
        word = str(text).strip()
        key = re.sub(r"[\s_]+", "_", word.lower())
        known = spelling.get(word.lower()) or spelling.get(key)
        lines = texts.index[codes == code]
        if word.lower() in BLANK_WORDS and word.lower() not in spelling:
            fixed.append("")
        elif known is not None:
            fixed.append(known)
        else:
            fixed.append(word)
            _own_word(draft, word, lines, item)
    return pd.Series(np.array(fixed, dtype=object)[codes], index=texts.index)


def _own_word(draft: Draft, word: str, lines: pd.Index, item: Mapped) -> None:
    hint = nearest(word.lower(), [choice.lower() for choice in item.column.choices])
    if item.column.open_choice:
        draft.note("own_word", f"{short(word)} is the shop's own word", [int(line) for line in lines], column=item.word,
                   hint=hint)  # fmt: skip
        return
    for line in lines:
        draft.error(int(line), "unknown_word", f"{short(word)} is none of the known words", column=item.word, allowed=item.column.allowed(), hint=hint)
