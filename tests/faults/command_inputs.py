"""Random inputs of the commands: cases, results, tables and titles, from plain to absurd.

Three kinds: files spoilt byte by byte (`mutation.py`); cases that are well formed, with values that
people might give and values at the edges of what is allowed; results that are sealed again after
numbers in them were changed, as someone who means harm would, or a program of another version.
"""

import random
import re
from collections.abc import Callable
from pathlib import Path

import h5py
import numpy as np

from sinkbowl.case.starter import shipped_cases
from sinkbowl.files.record import KIND, SCHEMA_VERSION
from synthetic import seal_again

TITLES = (
    "", " ", "$x", "$\\frac{1}{$", "\\u001b[31mred", "a\\nb", "<b>&amp;", "=1+1", "x" * 200,
    "Жж 茶 ✓ 🫖", "\\u202eabc", "\\u0000", "%s%n{}{0}", "../../x", "[bold]", "^_^ ~ # & %",
)  # fmt: skip
"""Titles that some reader of titles might take for something else."""

LENGTHS = (
    "bowl.radius", "bowl.height", "bowl.wall", "bowl.base", "bowl.base_radius", "ballast.radius",
    "ballast.height", "hole.diameter", "hole.offset", "start.drop_height", "flow.cell",
    "start.draft", "flow.base_cell", "flow.tub_radius", "flow.tub_depth", "flow.beach",
    "uncertainty.hole", "uncertainty.radius",
)  # fmt: skip
OTHERS: dict[str, tuple[str, float, float]] = {
    "bowl.mass": ("g", 1e-3, 1e6),
    "bowl.density": ("kg/m^3", 1.0, 1e5),
    "ballast.mass": ("g", 1e-3, 1e6),
    "ballast.density": ("kg/m^3", 1.0, 1e5),
    "water.temperature": ("degC", 1e-3, 110.0),
    "water.contact_angle": ("deg", 1e-3, 190.0),
    "start.push": ("N s", 1e-6, 1e3),
    "hole.discharge_coefficient": ("", 1e-9, 1.1),
    "water.salinity": ("g/kg", 1e-3, 200.0),
    "water.surface_tension": ("mN/m", 1.0, 200.0),
    "uncertainty.salinity": ("g/kg", 1e-3, 100.0),
    "uncertainty.surface_tension": ("mN/m", 1e-3, 100.0),
    "uncertainty.mass": ("g", 1e-6, 1e3),
    "uncertainty.temperature": ("K", 1e-3, 100.0),
    "uncertainty.contact_angle": ("deg", 1e-3, 200.0),
    "uncertainty.timing": ("s", 1e-6, 1e3),
    "uncertainty.discharge_coefficient": ("", 1e-6, 1.0),
}
CHOICES = {
    "bowl.shape": ('"cup"', '"cone"', '"cap"'),
    "hole.edge": ('"sharp"', '"rounded"'),
    "hole.count": ("1", "2", "3", "9", "10"),
    "hole.diameters": (
        '["12 mm", "8 mm"]', '["6 mm", "2 mm", "0.2 mm"]', '["30 mm", "30 mm", "30 mm"]',
        '["12 mm"]', '["12 mm", "nan mm"]', '["1 m", "2 m"]',
    ),
    "start.inside": ('"level"', '"dry"'),
    "start.kind": ('"set down"', '"held"', '"drop"', '"push"'),
    "flow.answer": ('"quick"', '"good"'),
    "flow.wall": ('"slip"', '"no-slip"'),
    "flow.surface_tension": ("true", "false"),
    "flow.hole": ('"auto"', '"resolved"', '"closed"'),
}  # fmt: skip
ABSURD = (
    "9" * 5000, '"' + "9" * 5000 + ' mm"', '"1e-320 m"', '"nan"', "nan", "inf", "-0.0", '""',
    "[]", "{}", "1979-05-27", '"1e308 mm"', '"0 mm"', '"-1 mm"', "true", "0x" + "f" * 300,
)  # fmt: skip
NUMBERS = (np.nan, np.inf, -np.inf, 0.0, -1.0, 1e300, -1e300, 1e-320, 1e9, 1.0)


def absurd_title(rng: random.Random) -> str:
    """A TOML title, quotes included."""
    return f'"{rng.choice(TITLES)}"'


def likely_value(rng: random.Random, key: str) -> str:
    """A value of the right kind, of a bowl on a bench or near an end of what is allowed."""
    if key in CHOICES:
        return rng.choice(CHOICES[key])
    if key in LENGTHS:
        low, high = rng.choice(((0.1, 100.0), (10.0, 60.0), (40.0, 60.0), (1e-3, 1e4)))
        sign = "-" if key == "ballast.height" and rng.random() < 0.5 else ""
        return f'"{sign}{low * (high / low) ** rng.random():.3g} mm"'
    unit, low, high = OTHERS[key]
    number = f"{low * (high / low) ** rng.random():.3g}"
    return f'"{number} {unit}"' if unit else number


def nearby(rng: random.Random, value: str) -> str:
    """Half to twice a value of a case, where it has a number."""
    number = re.search(r"\d+(\.\d+)?", value)
    if number is None:
        return value
    other = f"{float(number[0]) * 2.0 ** rng.uniform(-1.0, 1.0):.4g}"
    return value[: number.start()] + other + value[number.end() :]


def random_case(rng: random.Random) -> bytes:
    """A shipped case with one to five of its keys set to other values."""
    tables = _tables(rng.choice([*shipped_cases().values()]).read_text(encoding="utf-8"))
    keys = [*LENGTHS, *OTHERS, *CHOICES]
    for _ in range(rng.choice((1, 1, 2, 3, 5))):
        there = [key for key in keys if key.split(".")[1] in tables.get(key.split(".")[0], {})]
        key = rng.choice(there if rng.random() < 0.5 else keys)
        table, name = key.split(".")
        absurd = rng.random() < 0.05
        value = rng.choice(ABSURD) if absurd else likely_value(rng, key)
        if name in tables.get(table, {}) and rng.random() < 0.5:
            value = nearby(rng, tables[table][name])
        if table in tables or rng.random() < 0.5 or table in ("flow", "start", "uncertainty"):
            tables.setdefault(table, {})[name] = value
    if "diameters" in tables.get("hole", {}):
        for name in ("diameter", "count"):
            if rng.random() < 0.8:
                tables["hole"].pop(name, None)
    if rng.random() < 0.3:
        tables[""]["title"] = absurd_title(rng)
    if rng.random() < 0.2:
        part = tables[rng.choice([*tables])]
        part.pop(rng.choice([*part]), None) if part else None
    return _text(tables).encode()


def _tables(text: str) -> dict[str, dict[str, str]]:
    """Keys and values of a plain case file, as they are written."""
    tables: dict[str, dict[str, str]] = {"": {}}
    current = ""
    for line in text.splitlines():
        line = line.split(" #")[0].strip()
        if line.startswith("["):
            current = line.strip("[]")
            tables[current] = {}
        elif "=" in line and not line.startswith("#"):
            name, value = line.split("=", 1)
            tables[current][name.strip()] = value.strip()
    return tables


def _text(tables: dict[str, dict[str, str]]) -> str:
    lines = []
    for table, entries in tables.items():
        lines += [f"[{table}]"] if table else []
        lines += [f"{name} = {value}" for name, value in entries.items()]
    return "\n".join(lines) + "\n"


def spoil_result(rng: random.Random, path: Path) -> None:
    """Change one to three things in a result or an index of a sweep, and seal it again."""
    kind, schema = path.read_bytes()[:512].split(b"\n")[0].decode().split(", schema ")
    with h5py.File(path, "r+") as file:
        for _ in range(rng.choice((1, 1, 2, 3))):
            rng.choice((_some_numbers, _some_numbers, _all_numbers, _attribute, _shape))(rng, file)
    assert kind != KIND or schema == SCHEMA_VERSION
    seal_again(path, kind, schema)


def _datasets(file: h5py.File) -> list[h5py.Dataset]:
    found: list[h5py.Dataset] = []
    file.visititems(lambda _, item: found.append(item) if isinstance(item, h5py.Dataset) else None)
    return found


def _some_numbers(rng: random.Random, file: h5py.File) -> None:
    """A few numbers of a dataset become others."""
    data = rng.choice(_datasets(file))
    if data.dtype.kind not in "fiu" or data.size == 0:
        return
    flat = data[()].ravel()
    for _ in range(rng.choice((1, 3, flat.size))):
        flat[rng.randrange(flat.size)] = _fitting(rng, data)
    data[...] = flat.reshape(data.shape)


def _fitting(rng: random.Random, data: h5py.Dataset) -> float | int:
    if data.dtype.kind in "iu":
        return rng.choice((0, 1, 7, 2**31 - 1))
    with np.errstate(over="ignore"):
        return float(np.float32(value)) if (value := rng.choice(NUMBERS)) else value


def _all_numbers(rng: random.Random, file: h5py.File) -> None:
    """A dataset is one number all over, or runs backwards, or is scaled."""
    data = rng.choice(_datasets(file))
    if data.dtype.kind not in "f" or data.size == 0:
        return
    changes: tuple[Callable[[np.ndarray], np.ndarray], ...] = (
        lambda a: np.full_like(a, _fitting(rng, data)),
        lambda a: a[::-1],
        lambda a: a * rng.choice((-1.0, 1e-9, 1e6, 1e30)),
    )
    with np.errstate(all="ignore"):
        data[...] = rng.choice(changes)(data[()])


def _attribute(rng: random.Random, file: h5py.File) -> None:
    """An attribute is another one."""
    name = rng.choice([*file.attrs])
    value = file.attrs[name]
    if isinstance(value, str):
        pieces = (*TITLES, value[: rng.randrange(len(value) + 1)], "finished", "running", "nan")
        other: object = rng.choice(pieces).replace("\\u0000", "")
        if name == "case_text" and rng.random() < 0.8:
            other = random_case(rng).decode()
        file.attrs[name] = other
    elif isinstance(value, float | int | np.number):
        file.attrs[name] = rng.choice(NUMBERS)


def _shape(rng: random.Random, file: h5py.File) -> None:
    """A dataset that can grow is cut short or grows."""
    data = rng.choice(_datasets(file))
    if data.maxshape and data.maxshape[0] is None:
        data.resize(rng.choice((0, 1, 2, data.shape[0] + 1)), axis=0)
