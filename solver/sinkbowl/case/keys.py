"""The keys of a case file, and values of numeric keys for sweeps and sizing.

A value is kept as its text in the case file, which the ordinary reader converts to a number: the
listed and the computed value cannot differ.
The result of a sweep's run states its case: the text with the changed values.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from types import MappingProxyType
from typing import Any, get_args

import tomlkit
from pydantic.fields import FieldInfo
from tomlkit.exceptions import TOMLKitError

from sinkbowl.case.schema import CaseTable, CheckedTable, reader_of
from sinkbowl.common.errors import InputRefused
from sinkbowl.common.units import Kind, in_unit, read_quantity, spelt, unit_of, with_point


@dataclass(frozen=True)
class NumericKey:
    """A key of the case file that holds a number.

    name : dotted, ``hole.diameter``
    kind : kind of quantity, None for a plain number
    description : what it is
    """

    name: str
    kind: Kind | None
    description: str

    @property
    def unit(self) -> str:
        """SI unit of its numbers, "1" for a plain one."""
        return self.kind.unit if self.kind else "1"

    @property
    def example(self) -> str:
        """Example of a value."""
        return self.kind.example if self.kind else "0.6"

    def value(self, given: str | float) -> KeyValue:
        """A value of this key.

        given : as in a case file, "6 mm", or a number in SI units

        Raises InputRefused if it is no number, has no unit, or is of another kind or out of range.
        """
        if self.kind is None:
            number = _plain_number(given)
            return KeyValue(self.name, number, number)
        text = given.strip() if isinstance(given, str) else f"{float(given):.12g} {self.kind.unit}"
        return KeyValue(self.name, read_quantity(text, self.kind), text)

    def value_like(self, number: float, model: str) -> KeyValue:
        """A value from a number in SI units, written in the unit of another value."""
        if self.kind is None:
            return self.value(float(f"{number:.12g}"))
        unit = unit_of(spelt(model, self.kind))
        return self.value(f"{in_unit(number, unit, self.kind):.12g} {unit}")


@dataclass(frozen=True)
class KeyValue:
    """A key, its number in SI units, and its text in the case file."""

    key: str
    number: float
    written: str | float

    @property
    def short(self) -> str:
        """The value in four digits, with its unit, for names and tables."""
        return shortened(str(self.written))


def shortened(written: str) -> str:
    """A value of a case file in four digits, with its unit."""
    written, unit = with_point(written), unit_of(written)
    return f"{float(written.removesuffix(unit)):.4g} {unit}".strip()


def numeric_key(name: str) -> NumericKey:
    """The numeric key of this name; InputRefused with a suggestion if there is none."""
    known = numeric_keys()
    if name in known:
        return known[name]
    near = [key for key in known if key.startswith(f"{name}.")]
    near = near or [key for key in known if key.rpartition(".")[2] == name]
    near = near or get_close_matches(name, known, 1, 0.6)
    raise InputRefused(
        "is not a key with a number",
        f"Did you mean {near[0]}?" if near else f"Known are {', '.join(known)}.",
    )


@cache
def case_keys() -> Mapping[str, FieldInfo]:
    """Every key of a case file by its dotted name, tables included, in the order of the schema."""
    found = {}
    for table, entry in CaseTable.model_fields.items():
        found[table] = entry
        model = table_of(entry)
        fields = model.model_fields if model else {}
        found |= {f"{table}.{name}": field for name, field in fields.items()}
    return MappingProxyType(found)


def table_of(entry: FieldInfo) -> type[CheckedTable] | None:
    """The table that a key of the case file holds, or several of; None where it is a value."""
    for part in (entry.annotation, *get_args(entry.annotation)):
        if isinstance(part, type) and issubclass(part, CheckedTable):
            return part
    return None


@cache
def numeric_keys() -> Mapping[str, NumericKey]:
    """The keys that hold a number."""
    found = {}
    for key, field in case_keys().items():
        if float in (field.annotation, *get_args(field.annotation)):
            reads = reader_of(field)
            kind = reads if isinstance(reads, Kind) else None
            found[key] = NumericKey(key, kind, field.description or "")
    return MappingProxyType(found)


def _plain_number(given: str | float) -> float:
    try:
        return float(given)
    except (ValueError, OverflowError):
        raise InputRefused("is not a plain number", 'Write e.g. "0.6", without a unit.') from None


Value = str | float | list[str] | None  # new value of a key; None removes it


def text_with(text: str, values: Mapping[str, Value]) -> str:
    """The TOML text of a case with some keys set; everything else, with comments, stays.

    text : of a valid case file
    values : dotted key, such as ``hole.diameter``, and its new value, None to remove it; a new key
        or table is added at the end

    Raises InputRefused if a key is written in a way that cannot be replaced in place.
    """
    wanted = tomllib.loads(text)
    for key, value in values.items():
        table, name = key.split(".")
        _put(wanted.setdefault(table, {}), name, value)
    try:
        changed = _set(text, values)
        if tomllib.loads(changed) == wanted:
            return changed
    except (TOMLKitError, tomllib.TOMLDecodeError):
        pass
    raise InputRefused(
        "cannot be set in this file", 'Write the key as name = "value" below its table heading.'
    )


def text_titled(text: str, title: str) -> str:
    """The TOML text of a case with another title; unchanged if it has none."""
    document = tomlkit.parse(text)
    if document.get("title") in (None, title):
        return text
    document["title"] = title
    return tomlkit.dumps(document)


def _put(table: Any, name: str, value: Value) -> None:
    if isinstance(table, list):  # [[ballast]]
        each = value if isinstance(value, list) else [value]
        if len(table) != len(each):
            raise InputRefused(
                f"cannot be set: the file has {len(table)} such tables", "Keep only one of them."
            )
        for piece, one in zip(table, each, strict=True):
            _put(piece, name, one)
    elif value is None:
        table.pop(name, None)
    else:
        table[name] = value


def _set(text: str, values: Mapping[str, Value]) -> str:
    document = tomlkit.parse(text)
    for key, value in values.items():
        table, name = key.split(".")
        if table not in document:
            document[table] = tomlkit.table()
        _put(document[table], name, value)
    return tomlkit.dumps(document)
