"""Case text with changed values, so that the result of a sweep's run states its case."""

import tomllib
from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from sinkbowl.common.errors import InputRefused

Value = str | float | list[str] | None
"""New value of a key; None removes it."""


def text_with(text: str, values: Mapping[str, Value]) -> str:
    """The TOML text of a case with some keys set; everything else, with comments, stays.

    Parameters
    ----------
    text : of a valid case file
    values : dotted key, such as ``hole.diameter``, and its new value, None to remove it; a new key
        or table is added at the end

    Raises
    ------
    InputRefused : a key is written in a way that cannot be replaced in place
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
        if len(table) != 1:
            raise InputRefused(
                f"cannot be set: the file has {len(table)} such tables", "Keep only one of them."
            )
        table = table[0]
    if value is None:
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
