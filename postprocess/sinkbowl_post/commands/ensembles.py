"""Options of commands for several releases."""

from __future__ import annotations

from typing import Annotated

import typer

from sinkbowl.common.errors import CaseError

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

LARGEST_SEED = 2**31 - 1


def check_members(members: int | None, seed: int | None) -> tuple[int, int]:
    """Number of members, 1 where none are asked for, and seed.

    Raises
    ------
    CaseError : one of them is out of range
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
