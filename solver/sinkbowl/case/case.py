"""The case: one bowl, one hole, one tub of water, read from a TOML file and checked.

Quantities carry their units in the file and are SI numbers from here on; everything is frozen.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from sinkbowl.bowl.ballast import Ballast, Piece
from sinkbowl.bowl.bowl import Bowl
from sinkbowl.case.blank import Blank, blank_of, check_room
from sinkbowl.case.keys import Value, text_with
from sinkbowl.case.parts import (
    Finish,
    FlowOptions,
    Hole,
    Start,
    Uncertainties,
    uncertainties_of,
    usual_tub,
)
from sinkbowl.case.pieces import check_pieces, piece_of
from sinkbowl.case.rules import look_up, placed, read_tables, refused
from sinkbowl.case.schema import HEIGHT, LENGTH, StartTable
from sinkbowl.common.errors import CaseError, InputRefused
from sinkbowl.common.shown import Shown, TextTable, grams, millimetres
from sinkbowl.common.text_file import as_text, neighbours, read_text
from sinkbowl.common.units import read_quantity
from sinkbowl.common.water import Water, water_at

__all__ = ["Ballast", "Case", "Finish", "FlowOptions", "Hole", "Start", "load_case", "parse_case"]

LARGEST_FILE = 1_000_000  # largest case file [bytes]
WIDEST_CELL = 0.2  # largest cell, as a share of the rim radius


@dataclass(frozen=True, eq=False, repr=False)
class Case(Shown):
    """One sinking, ready to be computed.

    Attributes
    ----------
    title : of the case
    path : its file, None if made from text
    text : its TOML; after `with_hole` with the new diameter
    bowl, finish, ballast, water : see there; ballast without pieces for none
    contact_angle : advancing angle of water on the bowl [rad]
    start, flow : see there
    uncertainty : standard uncertainties of the inputs
    blank : the bowl before drilling
    material : appearance of the bowl; empty: by its density
    """

    title: str
    path: Path | None
    text: str
    bowl: Bowl
    finish: Finish
    ballast: Ballast
    water: Water
    contact_angle: float
    start: Start
    flow: FlowOptions
    uncertainty: Uncertainties
    blank: Blank
    material: str = ""

    @property
    def table(self) -> TextTable:
        """The case in short."""
        ring = f", {grams(self.ballast.mass)} of it ballast" if self.ballast else ""
        bowl = self.bowl
        rows = [
            (
                "bowl",
                f"rim radius {millimetres(bowl.rim_radius)}, height {millimetres(bowl.rim_height)}",
            ),
            ("mass", grams(self.total_mass) + ring),
            ("hole", f"{self.hole.widths}{', base gone' if self.base_gone else ''}"),
            ("water", self.water.words),
            ("start", self.start.words),
            ("file", str(self.path) if self.path else "none"),
        ]
        return TextTable(rows, self.title)

    @property
    def total_mass(self) -> float:
        """Mass of bowl and ballast [kg]."""
        return self.bowl.mass + self.ballast.mass

    @cached_property
    def hole(self) -> Hole:
        """The hole or holes; the bowl's single hole has the area of all of them."""
        return Hole(
            **asdict(self.finish), diameter=2.0 * self.bowl.hole_radius / self.finish.together
        )

    @property
    def base_gone(self) -> bool:
        """Whether the hole is as wide as the inner base."""
        return self.blank.takes_base_away(2.0 * self.bowl.hole_radius)

    @cached_property
    def inner_ballast(self) -> Ballast:
        """The pieces inside the bowl, which displace inner water."""
        return Ballast(tuple(piece for piece in self.ballast.pieces if self._encloses(piece)))

    @cached_property
    def outer_ballast(self) -> Ballast:
        """The other pieces, which displace outer water."""
        return Ballast(tuple(piece for piece in self.ballast.pieces if not self._encloses(piece)))

    def _encloses(self, piece: Piece) -> bool:
        return self.bowl.encloses(piece.radius, piece.height)

    def with_hole(self, diameter: float, count: int | None = None) -> Case:
        """The same case with another hole, or with `count` equal ones (default: as many as now).

        For unequal holes the diameter is that of the widest, and the ratios stay. A given mass of
        the bowl stays; with a given density the mass follows from the hole. Ballast stays where it
        is on the bowl, whose lowest point may be another. Raises CaseError if the
        diameter [m] is out of range or wider than the bowl allows.
        """
        given = f"{diameter * 1e3:.12g} mm"
        try:
            diameter = read_quantity(given, LENGTH)
            finish = self.finish
            if count is not None:
                finish = replace(finish, ratios=(1.0,) * count)
            check_room(diameter, self.blank, finish)
            bowl = self.blank.drilled(diameter * finish.together)
            keys = _hole_keys(self.finish, finish, given, diameter)
            pieces, up = self.ballast.pieces, bowl.rim_height - self.bowl.rim_height
            if pieces and up:
                heights = [f"{1e3 * (piece.height + up):.12g} mm" for piece in pieces]
                keys["ballast.height"] = heights if len(heights) > 1 else heights[0]
                moved = zip(pieces, (read_quantity(one, HEIGHT) for one in heights), strict=True)
                pieces = tuple(replace(piece, height=height) for piece, height in moved)
            text = text_with(self.text, keys)
        except InputRefused as error:
            raise refused(error, "hole.diameter", given, str(self.path or self.title)) from None
        other = replace(self, text=text, bowl=bowl, finish=finish, ballast=Ballast(pieces))
        name = f"{self.path or self.title}, with a hole of {diameter * 1e3:.4g} mm"
        _check_ballast(other, tomllib.loads(text), name)
        return other


def _hole_keys(old: Finish, new: Finish, given: str, widest: float) -> dict[str, Value]:
    """Keys of a case's text for another hole; None: remove the key."""
    if not new.equal:
        return {"hole.diameters": [f"{1e3 * ratio * widest:.12g} mm" for ratio in new.ratios]}
    keys: dict[str, Value] = {"hole.diameter": given}
    if not old.equal:
        keys["hole.diameters"] = None
    if new.ratios != old.ratios:
        keys["hole.count"] = new.count
    return keys


def load_case(path: str | Path | Case) -> Case:
    """Read and check a case file; a `Case` is returned unchanged.

    Raises
    ------
    CaseError : the file is missing, no UTF-8 or no TOML; a key is unknown, missing, without its
        unit or out of range; or the bowl cannot be made
    """
    if isinstance(path, Case):
        return path
    path = Path(path)
    try:
        text = read_text(path, LARGEST_FILE, "a case file")
    except InputRefused as error:
        hint = neighbours(path, "*.toml") or "`sinkbowl new` writes a case file to start from."
        allowed = error.allowed or hint
        if path.suffix == ".h5":
            allowed = "Results are read by `sinkbowl compare`; a case is a .toml file."
        raise CaseError(f"It {error}", file=path, allowed=allowed) from None
    return replace(parse_case(text, path.parent, str(path)), path=path)


def parse_case(text: str, folder: Path, name: str) -> Case:
    """Check the text of a case file.

    text : TOML
    folder : of the outline file of a profile
    name : of the file in messages; title of a case without one

    Raises CaseError as `load_case`.
    """
    table, raw = read_tables(text, name)
    with placed(raw, name, "bowl", "bowl.shape"):
        blank = blank_of(table.bowl, folder)
    widest = table.hole.each[0]
    finish = Finish(
        discharge_coefficient=table.hole.discharge_coefficient,
        edge=table.hole.edge,
        ratios=tuple(one / widest for one in table.hole.each),
        offset=table.hole.offset,
    )
    with placed(raw, name, other="hole.diameters" if table.hole.diameters else "hole.diameter"):
        check_room(widest, blank, finish)
        bowl = blank.drilled(widest * finish.together)
    ballast = Ballast(tuple(piece_of(piece, bowl) for piece in table.ballast))
    mass = bowl.mass + ballast.mass
    with placed(raw, name, "uncertainty"):
        uncertainty = uncertainties_of(
            table, bowl, mass, blank.takes_base_away(2.0 * bowl.hole_radius)
        )
    tub = table.flow.tub_radius or usual_tub(bowl.rim_radius)
    case = Case(
        title=table.title or as_text(Path(name).stem),
        path=None,
        text=text,
        bowl=bowl,
        finish=finish,
        ballast=ballast,
        water=water_at(table.water.temperature, table.water.salinity, table.water.surface_tension),
        contact_angle=table.water.contact_angle,
        start=_start(table.start),
        flow=FlowOptions(**table.flow.model_dump() | {"tub_radius": tub}),
        uncertainty=uncertainty,
        blank=blank,
        material=table.bowl.material or "",
    )
    _check_fit(case, raw, name)
    return case


def _start(table: StartTable) -> Start:
    inside = table.inside or ("level" if table.kind == "held" else "dry")
    lengths = (table.drop_height or 0.0, table.push or 0.0, table.draft or 0.0)
    return Start(table.kind, *lengths, inside)


def _check_fit(case: Case, raw: Mapping[str, Any], name: str) -> None:
    """CaseError if bowl, ballast, tub and cells do not fit together."""
    flow, bowl = case.flow, case.bowl
    widest = max(float(bowl.outer[:, 0].max()), case.ballast.widest)
    beside = millimetres(flow.tub_radius - widest)
    coarsest = WIDEST_CELL * bowl.rim_radius
    checks = (
        (
            "start.draft",
            case.start.draft >= bowl.rim_height,
            "holds the bowl with its rim under",
            f"Give less than {millimetres(bowl.rim_height)}, the height of its rim.",
        ),
        (
            "flow.tub_radius",
            flow.tub_radius <= widest,
            "is narrower than the bowl",
            f"Give more than {millimetres(widest)}.",
        ),
        (
            "flow.tub_depth",
            flow.tub_depth is not None and flow.tub_depth <= bowl.rim_height,
            "is too shallow for the bowl to go under",
            f"Give more than {millimetres(bowl.rim_height)}, or leave it out for deep water.",
        ),
        (
            "flow.beach",
            flow.beach >= (flow.tub_radius - widest) * (1.0 - 1e-9),
            f"is not narrower than the water beside the bowl, {beside}",
            f"Give less than {beside}, or a wider tub.",
        ),
        (
            "flow.cell",
            flow.cell is not None and flow.cell > coarsest,
            "is too coarse for the bowl",
            f"Give at most {millimetres(coarsest)}, or leave it out.",
        ),
    )
    for key, wrong, message, allowed in checks:
        if wrong:
            given = look_up(raw, key)
            raise CaseError(message, file=name, key=key, given=given, allowed=allowed)
    _check_ballast(case, raw, name)


def _check_ballast(case: Case, raw: Mapping[str, Any], name: str) -> None:
    """CaseError if a piece of ballast overlaps the shell or another piece, or covers the hole."""
    with placed(raw, name):
        check_pieces(case.ballast.pieces, case.bowl)
