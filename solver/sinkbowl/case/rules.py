"""From raw TOML to a checked case table: every refusal names file, key, given and allowed."""

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from difflib import get_close_matches
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from sinkbowl.case.keys import case_keys
from sinkbowl.case.schema import (
    LEAST_COEFFICIENT,
    BallastTable,
    BowlTable,
    CaseTable,
    HoleTable,
    StartTable,
    WaterTable,
)
from sinkbowl.common.errors import CaseError, InputRefused
from sinkbowl.common.text_file import read_toml
from sinkbowl.common.water import HOTTEST_SALT

NEEDED = {
    "cup": ("radius", "height", "wall", "base"),
    "cone": ("radius", "base_radius", "height", "wall", "base"),
    "cap": ("radius", "height", "wall"),
    "profile": ("profile",),
    "ring": ("mass", "radius", "density"),
    "washer": ("inner_diameter", "outer_diameter", "thickness"),
    "band": ("mass", "radius", "width", "density"),
}
"""Required keys of each shape of a bowl and of ballast, besides those that all need; of a bowl in
the order of the arguments of its function in `bowl/shapes.py`."""

OPTIONAL = {"profile": ("radius", "height", "wall", "axis", "unit"), "washer": ("mass", "density")}
"""Further keys that a shape may have."""

SHAPED = {
    "bowl": ("radius", "height", "wall", "base", "base_radius", "profile", "axis", "unit"),
    "ballast": (*NEEDED["band"], *NEEDED["washer"]),
}
"""Keys of a table that not every shape has."""

WEIGHED = {
    "bowl": ("bowl.density", "the mass, or the density of the material"),
    "ballast": ("density", "what the washer weighs, or the density of its material"),
}
"""What has either a mass or a density: the name of the latter, and both in words."""


def read_tables(text: str, file: str) -> tuple[CaseTable, dict[str, Any]]:
    """Checked and raw content of a case file; CaseError at the first error."""
    try:
        raw = read_toml(text)
    except tomllib.TOMLDecodeError as error:
        hint = 'Write a key as radius = "50 mm", a table as [bowl].'
        raise CaseError(_broken_line(text, str(error)), file=file, allowed=hint) from None
    except ValueError:  # Python reads none of more than 4300 digits
        raise CaseError("Has an integer with thousands of digits", file=file) from None
    if "spread" in raw:
        if "uncertainty" in raw:
            raise CaseError(
                "is the old name of [uncertainty]",
                file=file,
                key="spread",
                allowed="Move its keys to [uncertainty].",
            )
        raw["uncertainty"] = raw.pop("spread")
    try:
        table = CaseTable.model_validate(raw)
    except ValidationError as error:
        raise _first_of(error, raw, file) from None
    with placed(raw, file):
        _check_shape(table.bowl, "bowl")
        for place, piece in enumerate(table.ballast, start=1):
            _check_shape(piece, f"ballast {place}")
        _check_hole(table.hole)
        _check_start(table.start)
        _check_water(table.water)
    return table, raw


def _broken_line(text: str, error: str) -> str:
    """Message for a parser error, with its line if it has one."""
    place = re.search(r" \(at line (\d+), column (\d+)\)", error)
    if place is None:
        return f"Not a TOML file: {error}"
    line = text.split("\n")[int(place[1]) - 1]
    shown = line.strip()[:60]
    if "\N{LEFT DOUBLE QUOTATION MARK}" in line or "\N{RIGHT DOUBLE QUOTATION MARK}" in line:
        return f"Line {place[1]} has curved quotes, straight ones are needed: {shown}"
    if line[int(place[2]) - 1 :][:1] != ",":
        return f"Not a TOML file: line {place[1]}, {shown}: {error[: place.start()]}"
    where = f"Line {place[1]} has a misplaced comma: {shown}"
    number = re.search(r"=\s*[+-]?\d+,\d+", line)
    return f"{where}. Write plain numbers with a decimal point: 0.6" if number else where


@contextmanager
def placed(raw: Mapping[str, Any], file: str, table: str = "", other: str = "") -> Iterator[None]:
    """Say file, key and what stands there where a value is refused in the `with` block.

    table : of the key that was refused; empty where that is dotted itself
    other : key to blame where none was named
    """
    try:
        yield
    except InputRefused as error:
        key = f"{table}.{error.key}".lstrip(".") if error.key else other
        if not isinstance(raw.get("ballast"), list):
            key = key.replace("ballast 1.", "ballast.")
        raise refused(error, key, look_up(raw, key), file) from None


def refused(error: InputRefused, key: str, given: object, file: str) -> CaseError:
    """The CaseError for a value refused without knowledge of file and key."""
    return CaseError(str(error), file=file, key=key, given=given, allowed=error.allowed)


def look_up(raw: Mapping[str, Any], key: str) -> object:
    """Value in the file of a dotted key, also "ballast 2.mass"; None if there is none."""
    found: Any = raw
    for part in key.split("."):
        name, _, place = part.partition(" ")
        found = found.get(name) if isinstance(found, Mapping) else None
        if place and isinstance(found, list):
            found = found[int(place) - 1]
    return None if isinstance(found, Mapping) else found


def _first_of(error: ValidationError, raw: Mapping[str, Any], file: str) -> CaseError:
    """CaseError for the first problem; unknown keys come first, since they cause others."""
    problems = sorted(error.errors(), key=lambda problem: problem["type"] != "extra_forbidden")
    first, others = problems[0], problems[1:]
    key = _dotted(first["loc"], raw)
    message, allowed = _explain(first, key)
    if others:
        names = sorted({_dotted(other["loc"], raw) for other in others} - {key})
        names = [name for name in names if f" {name}?" not in allowed]  # missing: it is misspelt
        if names:
            allowed = f"{allowed} (Also wrong: {', '.join(names)}.)"
    return CaseError(message, file=file, key=key, given=look_up(raw, key), allowed=allowed)


def _dotted(place: Sequence[int | str], raw: Mapping[str, Any]) -> str:
    """Key of a place in the file; repeated tables are counted from 1: "ballast 2.mass"."""
    key = ""
    for part in place:
        if isinstance(part, str):
            key += f".{part}" if key else part
        elif isinstance(raw.get(key), list):
            key += f" {part + 1}"
    return key


def _explain(problem: ErrorDetails, key: str) -> tuple[str, str]:
    """Message and advice for one problem that pydantic found."""
    kind, context = problem["type"], problem.get("ctx", {})
    if kind == "extra_forbidden":
        return "is not a known key", _suggestion(key)
    if kind == "missing":
        return "is missing", f"It is needed: {_describe(key)}."
    if isinstance(context.get("error"), InputRefused):
        return str(context["error"]), context["error"].allowed
    if kind == "literal_error":
        return "is not one of its values", f"Allowed is {context['expected']}."
    if kind in ("greater_than_equal", "less_than_equal", "float_type", "finite_number"):
        return "is out of range", f"Allowed is a plain number from {LEAST_COEFFICIENT:g} up to 1."
    if kind == "bool_type":
        return "is neither true nor false", "Write true or false, without quotes."
    if kind in ("model_type", "model_attributes_type"):
        return "is not a table", f"Write [{key}] on a line of its own, its keys below."
    if kind == "string_type":
        return "is not text", "Write it in quotes."
    if kind == "tuple_type":
        return (
            "is not a table",
            f"Write [{key}] on a line of its own, or [[{key}]] for each of several.",
        )
    if kind == "too_long" and context["field_type"] == "Tuple":
        return "has too many tables", f"Allowed are {context['max_length']}."
    if kind in ("string_too_long", "too_long"):
        return "is too long", f"Allowed are {context['max_length']} characters; shorten it."
    return problem["msg"].lower(), ""


TWINS = {"radius": ("diameter", ", twice the radius"), "diameter": ("radius", ", half of it")}
"""Keys that are taken for each other, and what the value then is."""


def _suggestion(key: str) -> str:
    """Suggestion for an unknown key, first from its own table, then from all others."""
    section, _, name = re.sub(r" \d+", "", key).rpartition(".")
    known = list(case_keys())
    twin, what = TWINS.get(name, ("", ""))
    if f"{section}.{twin}" in known and section != "uncertainty":  # there it may be the hole's
        return f"Did you mean {section}.{twin}{what}?"
    near = get_close_matches(key, [k for k in known if k.rpartition(".")[0] == section], 1, 0.75)
    elsewhere = [other for other in known if other.rpartition(".")[2] == name]
    near = near or elsewhere or get_close_matches(key, known, 1, 0.75)
    if near:
        return f"Did you mean {near[0]}?"
    siblings = [k.rpartition(".")[2] for k in known if k.rpartition(".")[0] == section]
    return f"Known keys are {', '.join(siblings)}."


def _describe(key: str) -> str:
    """Description of a dotted key from the schema."""
    return str(case_keys()[re.sub(r" \d+", "", key)].description)


def _check_shape(table: BowlTable | BallastTable, place: str) -> None:
    """Keys of the shape; exactly one of mass and density for a bowl and for a washer.

    place : of the table, "bowl" or "ballast 2"
    """
    needed, kind = NEEDED[table.shape], place.partition(" ")[0]
    for name in needed:
        if getattr(table, name) is None:
            raise _missing(f"{place}.{name}", f'shape = "{table.shape}"')
    for name in SHAPED[kind]:
        known = name in (*needed, *OPTIONAL.get(table.shape, ()))
        if getattr(table, name) is not None and not known:
            raise InputRefused(
                f'has no meaning for shape = "{table.shape}"',
                "Leave it out, or choose another shape.",
                f"{place}.{name}",
            )
    if "mass" not in needed and (table.mass is None) == (table.density is None):
        density, choice = WEIGHED[kind]
        both = table.mass is not None
        raise InputRefused(
            f"is given together with {density}" if both else f"and {density} are missing",
            f"Give one of the two: {choice}.",
            f"{place}.mass",
        )


def _missing(key: str, choice: str) -> InputRefused:
    """What is said where a choice needs a key that is not there."""
    words = f"It is the {_describe(key).split(';')[0]}."
    return InputRefused(f"is missing, {choice} needs it", words, key)


def _check_hole(hole: HoleTable) -> None:
    """One diameter, or a list of diameters without a count."""
    if hole.diameter is None and hole.diameters is None:
        words = f"It is needed: {_describe('hole.diameter')}."
        raise InputRefused("is missing", words, "hole.diameter")
    for name in ("diameter", "count"):
        if hole.diameters is not None and name in hole.model_fields_set:
            raise InputRefused(
                "is given together with hole.diameters",
                "Leave it out: the list gives number and diameters of the holes.",
                f"hole.{name}",
            )


def _check_start(start: StartTable) -> None:
    """Height for a drop, impulse for a push, draft for a held bowl, and for no other start."""
    keys = (("drop", "drop_height"), ("push", "push"), ("held", "draft"), ("held", "inside"))
    for kind, name in keys:
        given = getattr(start, name) is not None
        if start.kind == kind and not given and name != "inside":
            raise _missing(f"start.{name}", f'kind = "{kind}"')
        if start.kind != kind and given:
            raise InputRefused(
                f'has no meaning for kind = "{start.kind}"',
                f'Leave it out, or set kind = "{kind}".',
                f"start.{name}",
            )


def _check_water(water: WaterTable) -> None:
    """Salt water is known up to a lower temperature than fresh water."""
    if water.salinity > 0.0 and water.temperature > HOTTEST_SALT + 1e-9:
        raise InputRefused(
            "is too hot for salt water",
            "Give at most 80 degC, or leave the salinity out.",
            "water.temperature",
        )
