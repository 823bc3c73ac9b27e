"""The text of ``sinkbowl size --upright``: rings that keep a bowl upright, in one table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sinkbowl.design.sizing.materials import CAUTION

BEYOND = 2
"""Steps that are shown after every material has done what it can."""


def upright_page(figures: Mapping[str, Any]) -> str:
    """Set the figures of rings as a page of text.

    Parameters
    ----------
    figures : as ``Upright.as_dict()`` gives them, SI
    """
    materials = figures["materials"]
    wished = _mm(figures["wished_metacentric_height_m"])
    lines = [
        figures["title"],
        f"Wished: a metacentric height of {wished} or more through the whole filling.",
    ]
    for name, choice in materials.items():
        lines += ["", f"{name}, {choice['density']:.0f} kg/m\u00b3:"]
        lines += [f"  upright           {_ring(choice['upright'])}"]
        lines += [f"  sinks             {_ring(choice['sinking'])}"]
        lines += [f"  sinks and upright {_ring(choice['both'])}"]
    lines += ["", "In steps, with check's verdict and the least metacentric height:"]
    lines += ["  " + f"{'ring':<10}" + "".join(f"{name:<17}" for name in materials).rstrip()]
    for k in range(_shown(materials, figures["step_kg"])):
        cells = [_cell(choice["rows"], k) for choice in materials.values()]
        mass = f"{1e3 * k * figures['step_kg']:.4g} g"
        lines.append("  " + f"{mass:<10}" + "".join(f"{cell:<17}" for cell in cells).rstrip())
    return "\n".join([*lines, "", CAUTION])


def _shown(materials: Mapping[str, Any], step: float) -> int:
    """Rows of the table: some beyond what the neediest material needs, or all."""
    longest = max(len(choice["rows"]) for choice in materials.values())
    needed = [choice["both"] for choice in materials.values()]
    if not all(needed):
        return longest
    most = max(one["mass"] for one in needed)
    return min(longest, int(most / step) + 1 + BEYOND)


def _ring(loading: Mapping[str, Any] | None) -> str:
    """A ring in words."""
    if loading is None:
        return "no ring that was tried"
    if loading["mass"] == 0.0:
        return "without a ring"
    least = loading["least"]
    height = "goes under at once" if least is None else f"metacentric height {_mm(least)}"
    return (
        f"{1e3 * loading['mass']:.4g} g, section {_mm(loading['section'])}, centre line "
        f"{_mm(2.0 * loading['radius'])} across at {_mm(loading['height'])}; {height}"
    )


def _cell(rows: list[Mapping[str, Any]] | tuple[Mapping[str, Any], ...], k: int) -> str:
    if k >= len(rows):
        return "-"
    least = rows[k]["least"]
    return "under at once" if least is None else f"{rows[k]['verdict']}, {1e3 * least:.1f} mm"


def _mm(length: float) -> str:
    return f"{1e3 * length:.3g} mm"
