"""The table of case keys in cases/README.md, made from the schema.

    python tests/key_table.py        # brings the file up to date

`tests/unit/test_readme.py` compares the file with what is made here.
"""

from pathlib import Path
from typing import Any, get_args

from pydantic.fields import FieldInfo

from sinkbowl.case.keys import numeric_keys, table_of
from sinkbowl.case.rules import NEEDED
from sinkbowl.case.schema import BowlTable, CaseTable
from sinkbowl.common.units import in_unit, unit_of

FILE = Path(__file__).parents[1] / "cases" / "README.md"
BEGIN = "<!-- made by tests/key_table.py from the schema -->"
END = "<!-- end of what is made -->"
HEAD = "| key | value | if left out | what it is |\n| --- | --- | --- | --- |"


def key_table() -> str:
    """A Markdown table for each table of a case file, in the order of the schema."""
    fields = CaseTable.model_fields
    top = {name: field for name, field in fields.items() if not table_of(field)}
    parts = [_lines("Before all tables", "", top)]
    for name, field in fields.items():
        model = table_of(field)
        if model:
            first, _, rest = (model.__doc__ or "").partition(": ")
            heading = f"`{first}`, {rest.rstrip('.')}"
            if field.is_required():
                heading += " (needed)"
            parts.append(_lines(heading, name, model.model_fields))
    return "\n\n".join(parts)


def with_table(text: str) -> str:
    """The text of cases/README.md with the table as it should be."""
    before, rest = text.split(BEGIN)
    return f"{before}{BEGIN}\n\n{key_table()}\n\n{END}{rest.split(END)[1]}"


def _lines(heading: str, table: str, fields: dict[str, FieldInfo]) -> str:
    rows = [_row(f"{table}.{name}".lstrip("."), name, field) for name, field in fields.items()]
    return "\n".join([f"{heading}:\n", HEAD, *rows])


def _row(key: str, name: str, field: FieldInfo) -> str:
    return f"| `{name}` | {_value(key, field)} | {_default(key, field)} | {field.description} |"


def _value(key: str, field: FieldInfo) -> str:
    """What may stand behind the key."""
    known = numeric_keys().get(key)
    if known is not None and known.kind is not None:
        kind = known.kind
        return f'{kind.name}, {kind.low} to {kind.high}: `"{kind.example}"`'
    if known is not None:
        return "a plain number"
    choices = _choices(field.annotation)
    if choices:
        return ", ".join(f'`"{choice}"`' for choice in choices)
    if "tuple" in str(field.annotation):
        return "a list of lengths"
    if field.annotation is int:
        return "a whole number"
    return "`true` or `false`" if field.annotation is bool else "text"


def _default(key: str, field: FieldInfo) -> str:
    """What counts where the key is left out; a dash where the description tells."""
    if field.is_required():
        return "refused"
    bowls = get_args(BowlTable.model_fields["shape"].annotation)
    shapes = [shape for shape in bowls if key.removeprefix("bowl.") in NEEDED[shape]]
    if key.startswith("bowl.") and shapes:
        return f"refused for {', '.join(shapes)}"
    if field.default is None:
        return "-"
    known = numeric_keys().get(key)
    if known is not None and known.kind is not None:
        unit = unit_of(known.kind.example)
        return f'`"{in_unit(field.default, unit, known.kind):.6g} {unit}"`'
    if isinstance(field.default, bool):
        return f"`{str(field.default).lower()}`"
    if isinstance(field.default, int):
        return f"`{field.default}`"
    return f'`"{field.default}"`'


def _choices(annotation: Any) -> list[str]:
    """The words that are allowed, where there are some."""
    inner = get_args(annotation)
    words = [part for part in inner if isinstance(part, str)]
    return words or [word for part in inner for word in _choices(part)]


if __name__ == "__main__":
    FILE.write_text(with_table(FILE.read_text(encoding="utf-8")), encoding="utf-8")
