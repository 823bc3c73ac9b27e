"""The cases that come with the package."""

from __future__ import annotations

from difflib import get_close_matches
from pathlib import Path

from sinkbowl.common.errors import CaseError

PLACES = (Path(__file__).parents[1] / "cases", Path(__file__).parents[3] / "cases")
"""In an installed package, and in a checkout that is installed editable."""


def shipped_cases() -> dict[str, Path]:
    """Case files by name (without .toml), in alphabetical order.

    Raises
    ------
    CaseError : if the package was installed without them
    """
    for place in PLACES:
        found = sorted(place.glob("*.toml"))
        if found:
            return {path.stem: path for path in found}
    raise CaseError(
        "The cases that belong to the package are missing",
        file=PLACES[0],
        allowed="Install the package again.",
    )


def shipped_case(name: str) -> Path:
    """File of a shipped case.

    Raises
    ------
    CaseError : if there is none of that name
    """
    cases = shipped_cases()
    try:
        return cases[name.removesuffix(".toml")]
    except KeyError:
        near = get_close_matches(name, cases, 1)
        hint = f"Did you mean {near[0]}? " if near else ""
        raise CaseError(
            f'There is no shipped case "{name}"', allowed=f"{hint}There are {', '.join(cases)}."
        ) from None
