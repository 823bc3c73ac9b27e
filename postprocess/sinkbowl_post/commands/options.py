"""Arguments, options and kinds of quantities common to several commands."""

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl.common.errors import CaseError
from sinkbowl.common.text_file import as_text
from sinkbowl.common.units import Kind


def _readable(given: str | None) -> str | None:
    return None if given is None else as_text(given)


CaseFile = Annotated[Path, typer.Argument(metavar="CASE", help="Case file, TOML.")]
ResultFile = Annotated[Path, typer.Argument(metavar="RESULT", help="Result file, HDF5.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the results as JSON.")]
Heading = Annotated[
    str | None,
    typer.Option("--title", callback=_readable, help="Title of the figure; default: its own."),
]
Comma = Annotated[
    bool,
    typer.Option("--comma", help="Write decimal commas, and ; between the cells of .csv."),
]
Figures = Annotated[
    list[Path] | None,
    typer.Option("--output", "-o", help="Figure to write, .png, .svg or .pdf; may be repeated."),
]
Members = Annotated[
    int | None,
    typer.Option(
        help="Number of releases, 2 to 100, each slightly different; computed in parallel."
    ),
]

Seed = Annotated[
    int | None,
    typer.Option(help="Seed of the members' releases; the same seed gives the same releases."),
]

HEIGHT_WISHED = Kind("a metacentric height", "m", "-1 m", "1 m", "1 mm")
RING_STEP = Kind("a mass", "kg", "0.1 g", "10 kg", "10 g")
DIFFERENCE = Kind("a time", "s", "0.1 ms", "1000 hour", "50 ms")

LARGEST_SEED = 2**31 - 1


def check_members(members: int | None, seed: int | None) -> tuple[int, int]:
    """Number of members, 1 where none are asked for, and seed.

    Raises CaseError if one of them is out of range.
    """
    from sinkbowl.running.members import FEWEST_MEMBERS, MOST_MEMBERS

    if members is not None and not FEWEST_MEMBERS <= members <= MOST_MEMBERS:
        few = "is a single run" if members == 1 else "is not a number of releases"
        raise CaseError(
            few if members < FEWEST_MEMBERS else "are too many releases",
            key="--members",
            given=members,
            allowed=f"Give {FEWEST_MEMBERS} to {MOST_MEMBERS}, or leave it out for a single run.",
        )
    if seed is not None and members is None:
        raise CaseError(
            "has no effect", key="--seed", given=seed, allowed="Give --members as well."
        )
    if seed is not None and not 0 <= seed <= LARGEST_SEED:
        raise CaseError(
            "is out of range", key="--seed", given=seed, allowed=f"Give 0 to {LARGEST_SEED}."
        )
    return members or 1, seed or 0
