"""Keys of a case file: type, range, default and description of each.

Quantities are text with a unit and become SI numbers; unknown keys are refused. `rules` checks
which keys go together.
"""

from collections.abc import Callable
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationInfo, field_validator
from pydantic.fields import FieldInfo

from sinkbowl.common.errors import InputRefused
from sinkbowl.common.units import Kind, read_quantity

Reader = Kind | Callable[[object], object]
"""What reads the value of a key before its type is checked."""


def _key(description: str, reads: Reader | None = None, default: Any = None, **limits: Any) -> Any:
    """A key: what it is, what reads it, and its default, `...` where it must be given."""
    return Field(default, description=description, json_schema_extra={"reads": reads}, **limits)  # type: ignore[dict-item]


def _plain_share(value: object) -> float:
    """A plain number up to MOST_COEFFICIENT_UNCERTAINTY; InputRefused for anything else."""
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not (number and 0.0 <= value <= MOST_COEFFICIENT_UNCERTAINTY):  # type: ignore[operator]
        raise InputRefused(
            "is out of range" if number else "is not a plain number",
            f"Allowed is a plain number from 0 to {MOST_COEFFICIENT_UNCERTAINTY:g}.",
        )
    return float(value)  # type: ignore[arg-type]


def _hole_count(value: object) -> int:
    """A whole number from 1 to MOST_HOLES; InputRefused for anything else."""
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_HOLES:
        raise InputRefused(
            "is not a number of holes", f"Allowed is a whole number from 1 to {MOST_HOLES}."
        )
    return value


def _hole_diameters(value: object) -> tuple[float, ...]:
    """Diameters of unequal holes [m], the widest first; InputRefused for anything else."""
    if not isinstance(value, list) or not 2 <= len(value) <= MOST_HOLES:
        raise InputRefused(
            "is not a list of holes",
            f'Write 2 to {MOST_HOLES} diameters, ["12 mm", "8 mm"]; one hole, or equal ones, have '
            "hole.diameter.",
        )
    try:
        found = [read_quantity(one, LENGTH) for one in value]
    except InputRefused as error:
        raise InputRefused(f"has a diameter that {error}", error.allowed) from None
    return tuple(sorted(found, reverse=True))


def _tables(value: object) -> object:
    """A single table as a list of one."""
    return [value] if isinstance(value, dict) else value


def _without_nul(text: object) -> object:
    """The text unchanged; InputRefused if it has a NUL, which no file format accepts."""
    if isinstance(text, str) and "\0" in text:
        raise InputRefused("has a NUL character", "Leave it out.")
    return text


MOST_COEFFICIENT_UNCERTAINTY = 0.25  # largest standard uncertainty of a discharge coefficient

LEAST_COEFFICIENT = 0.01
"""Smallest discharge coefficient: a twentieth of that of any hole or pipe end."""

MOST_HOLES = 9  # maximum number of holes: the closest packing of more is not implemented
MOST_PIECES = 9  # maximum number of pieces of ballast

LENGTH = Kind("a length", "m", "0.1 mm", "5 m", "50 mm")
THICKNESS = Kind("a thickness", "m", "0.05 mm", "1 m", "2 mm")
HEIGHT = Kind("a height", "m", "-5 m", "5 m", "-4 mm")
DROP_HEIGHT = Kind("a height", "m", "0 mm", "1 m", "10 mm")
OFFSET = Kind("a length", "m", "0 mm", "5 m", "2 mm")
CELL_SIZE = Kind("a length", "m", "0.05 mm", "50 mm", "1 mm")
TUB_LENGTH = Kind("a length", "m", "1 mm", "50 m", "150 mm")
BEACH_WIDTH = Kind("a length", "m", "0 mm", "50 m", "60 mm")
MASS = Kind("a mass", "kg", "0.1 g", "1000 kg", "200 g")
DENSITY = Kind("a density", "kg/m^3", "1 kg/m^3", "25000 kg/m^3", "8500 kg/m^3")
TEMPERATURE = Kind("a temperature", "K", "0 degC", "100 degC", "20 degC")
ANGLE = Kind("an angle", "radian", "0 deg", "180 deg", "60 deg")
SALINITY = Kind("a mass of salt per mass of water", "kg/kg", "0 g/kg", "120 g/kg", "35 g/kg")
SURFACE_TENSION = Kind("a surface tension", "N/m", "5 mN/m", "100 mN/m", "30 mN/m")
IMPULSE = Kind("an impulse", "N s", "0 N s", "1000 N s", "0.05 N s")
LENGTH_UNCERTAINTY = Kind("an uncertainty of a length", "m", "0 mm", "1 m", "0.05 mm")
MASS_UNCERTAINTY = Kind("an uncertainty of a mass", "kg", "0 g", "100 kg", "0.5 g")
TEMPERATURE_UNCERTAINTY = Kind("a temperature difference in K", "K", "0 K", "50 K", "1 K")
ANGLE_UNCERTAINTY = Kind("an uncertainty of an angle", "radian", "0 deg", "90 deg", "10 deg")
SALINITY_UNCERTAINTY = Kind("an uncertainty of a salinity", "kg/kg", "0 g/kg", "30 g/kg", "1 g/kg")
TENSION_UNCERTAINTY = Kind(
    "an uncertainty of a surface tension", "N/m", "0 mN/m", "25 mN/m", "3 mN/m"
)
TIME_UNCERTAINTY = Kind("an uncertainty of a time", "s", "0 s", "1 hour", "0.1 s")

Material = Literal["steel", "brass", "copper", "lead", "wood", "plastic", "putty"]


def reader_of(field: FieldInfo) -> Reader | None:
    """What reads a key; for a quantity its kind."""
    extra: Any = field.json_schema_extra
    return extra["reads"]  # type: ignore[no-any-return]


class CheckedTable(BaseModel):
    """A table of the case file; unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    @field_validator("*", mode="before")
    @classmethod
    def _read(cls, value: object, info: ValidationInfo) -> object:
        reads = reader_of(cls.model_fields[str(info.field_name)])
        if isinstance(reads, Kind):
            return read_quantity(value, reads)
        return reads(value) if reads else value


class BowlTable(CheckedTable):
    """[bowl]: the shell, before and after its hole is drilled."""

    shape: Literal["cup", "cone", "cap", "profile"] = _key(
        "cup (upright wall), cone (slanted wall), cap (part of a sphere) or profile", default=...
    )
    radius: float | None = _key("outer radius at the rim", LENGTH)
    height: float | None = _key("outer height, before the hole is drilled", LENGTH)
    wall: float | None = _key(
        "wall thickness, perpendicular to the wall; not for a mesh that has its own", THICKNESS
    )
    base: float | None = _key("thickness of the base; cup and cone", THICKNESS)
    base_radius: float | None = _key("outer radius of the base; cone", LENGTH)
    profile: str | None = _key(
        "file with the outer outline r, z from hole or axis to rim, or a mesh; profile"
    )
    axis: Literal["x", "y", "z"] | None = _key("direction of a mesh's axis; default: found")
    unit: str | None = _key("unit of a mesh's numbers; default: m", max_length=40)
    mass: float | None = _key("mass of the bowl alone, its hole drilled", MASS)
    density: float | None = _key("density of the bowl's material, instead of its mass", DENSITY)
    material: Material | None = _key("appearance in pictures; default: from its density")


class BallastTable(CheckedTable):
    """[ballast]: a piece of ballast under, on or in the bowl; several as [[ballast]] each."""

    shape: Literal["ring", "washer", "band"] = _key(
        "ring (of round section), washer (flat) or band (of putty, pressed on a wall)",
        default="ring",
    )
    mass: float | None = _key("mass of the piece", MASS)
    radius: float | None = _key(
        "radius of a ring's centre line, or of the wall that a band is pressed on", LENGTH
    )
    height: float = _key(
        "height of the piece's middle above the bowl's lowest outer point", HEIGHT, default=...
    )
    density: float | None = _key(
        "density of its material; for a washer instead of its mass", DENSITY
    )
    inner_diameter: float | None = _key("inner diameter of the washer; washer", LENGTH)
    outer_diameter: float | None = _key("outer diameter of the washer; washer", LENGTH)
    thickness: float | None = _key("thickness of the washer; washer", THICKNESS)
    width: float | None = _key(
        "width of the band along the axis; its thickness follows from its mass; band", THICKNESS
    )
    material: Material | None = _key("appearance in pictures; default: from its density")


class HoleTable(CheckedTable):
    """[hole]: the hole in the middle of the base, or several."""

    diameter: float | None = _key(
        "diameter of the hole, or of each of several equal ones; needed unless `diameters` is "
        "given",
        LENGTH,
    )
    diameters: tuple[float, ...] | None = _key(
        'diameters of 2 to 9 unequal holes, `["12 mm", "8 mm"]`, instead of `diameter`',
        _hole_diameters,
    )
    count: int = _key(
        "number of equal holes, 1 to 9; the flow solver takes one only", _hole_count, default=1
    )
    offset: float = _key(
        "distance of the hole's centre, or of all of them, from the axis; `check` gives the "
        "resulting heel",
        OFFSET,
        default=0.0,
    )
    discharge_coefficient: float | None = _key(
        "discharge coefficient of the reduced models; default: estimated",
        ge=LEAST_COEFFICIENT,
        le=1.0,
        strict=True,
    )
    edge: Literal["sharp", "rounded"] = _key("edge of the hole: sharp or rounded", default="sharp")

    @property
    def each(self) -> tuple[float, ...]:
        """Diameters of all holes [m], the widest first."""
        if self.diameters is not None:
            return self.diameters
        assert self.diameter is not None  # one of the two is there: rules.py
        return (self.diameter,) * self.count


class WaterTable(CheckedTable):
    """[water]: the water in the tub."""

    temperature: float = _key("temperature of the water", TEMPERATURE, default=293.15)
    contact_angle: float = _key(
        "advancing contact angle of water on the bowl", ANGLE, default=1.0471975511965976
    )
    salinity: float = _key(
        "mass of sea salt per mass of salt water; default: fresh water", SALINITY, default=0.0
    )
    surface_tension: float | None = _key(
        "surface tension, for water with soap or fat; default: that of clean water; soap also "
        "lowers `contact_angle`, which you set yourself",
        SURFACE_TENSION,
    )


class StartTable(CheckedTable):
    """[start]: release of the bowl."""

    kind: Literal["set down", "held", "drop", "push"] = _key(
        "set down (at rest at its dry draft), held (by its rim until released), drop or push",
        default="set down",
    )
    draft: float | None = _key("depth of the lowest point below the water while held; held", LENGTH)
    inside: Literal["level", "dry"] | None = _key(
        "level (hole open: water as high inside as outside) or dry (hole stopped until the "
        "release); held; default: level"
    )
    drop_height: float | None = _key(
        "height of the bowl's lowest point above the water; drop", DROP_HEIGHT
    )
    push: float | None = _key("downward impulse at the start; push", IMPULSE)


class FlowTable(CheckedTable):
    """[flow]: the flow solver."""

    cell: float | None = _key("cell size around the bowl; default: from hole and wall", CELL_SIZE)
    base_cell: float | None = _key(
        "cell size at the hole's edge and over the base; default: from `answer`", CELL_SIZE
    )
    answer: Literal["quick", "good"] = _key(
        "accuracy: quick or good, half a cell or one per sqrt(nu x/U) in the boundary layer on "
        "the base, which is five of these thick",
        default="quick",
    )
    tub_radius: float | None = _key(
        "radius of the tub; default: 3 rim radii, with at least 100 mm of water beside the bowl",
        TUB_LENGTH,
    )
    tub_depth: float | None = _key("depth of the water in the tub; default: deep water", TUB_LENGTH)
    beach: float = _key(
        "width of the wave-absorbing beach along the tub's wall; default: none",
        BEACH_WIDTH,
        default=0.0,
    )
    wall: Literal["slip", "no-slip"] = _key(
        "no-slip: viscous water that sticks to the bowl; slip: water without viscosity",
        default="no-slip",
    )
    air: Literal["kept", "void"] = _key(
        "kept: closed-off air keeps its mass and is compressed; void: it stays at atmospheric "
        "pressure, whatever its volume",
        default="kept",
    )
    surface_tension: bool = _key(
        "whether the flow solver includes surface tension", default=False, strict=True
    )
    hole: Literal["auto", "resolved", "closed"] = _key(
        "resolved: by the grid; closed: by a discharge law; auto: depends on the number of cells "
        "across",
        default="auto",
    )


class UncertaintyTable(CheckedTable):
    """[uncertainty]: standard uncertainties, one standard deviation each, for the error budget."""

    hole: float | None = _key(
        "uncertainty of the hole's diameter; default: 0.05 mm", LENGTH_UNCERTAINTY
    )
    mass: float | None = _key(
        "uncertainty of the mass of bowl and ballast together; default: 0.5 %", MASS_UNCERTAINTY
    )
    radius: float | None = _key(
        "uncertainty of the radius at the rim; default: 0.5 %", LENGTH_UNCERTAINTY
    )
    temperature: float | None = _key(
        "uncertainty of the water's temperature; default: 1 K", TEMPERATURE_UNCERTAINTY
    )
    contact_angle: float | None = _key(
        "uncertainty of the contact angle; default: 10 deg", ANGLE_UNCERTAINTY
    )
    salinity: float | None = _key(
        "uncertainty of the salinity; default: a twentieth of it", SALINITY_UNCERTAINTY
    )
    surface_tension: float | None = _key(
        "uncertainty of the surface tension; default: a tenth of a given one", TENSION_UNCERTAINTY
    )
    discharge_coefficient: float | None = _key(
        "uncertainty of the discharge coefficient; default: 0.02", _plain_share
    )
    timing: float | None = _key(
        "scatter of release and timing from trial to trial; default: 0.1 s", TIME_UNCERTAINTY
    )


class CaseTable(CheckedTable):
    """A whole case file."""

    title: str | None = _key(
        "title of the case; default: the file's name", _without_nul, max_length=200
    )
    bowl: BowlTable = _key("the bowl without ballast", default=...)
    ballast: tuple[BallastTable, ...] = _key(
        "pieces of ballast; default: none", _tables, default=(), max_length=MOST_PIECES
    )
    hole: HoleTable = _key("the hole", default=...)
    water: WaterTable = _key("the water", default=WaterTable())
    start: StartTable = _key("how the bowl is released", default=StartTable())
    flow: FlowTable = _key("the flow solver", default=FlowTable())
    uncertainty: UncertaintyTable = _key(
        "how well the case is known, for the error budget", default=UncertaintyTable()
    )
