"""Keys of a case file: type, range, default and description of each.

Quantities come as text with a unit and leave as SI numbers; unknown keys are refused. What keys
may stand together is checked in `rules`.
"""

from __future__ import annotations

from functools import partial
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from sinkbowl.common.errors import InputRefused
from sinkbowl.common.units import Kind, read_quantity


def _reader(kind: Kind) -> BeforeValidator:
    return BeforeValidator(partial(read_quantity, kind=kind), json_schema_input_type=str)


def _plain_share(value: object) -> float:
    """A plain number from 0 to MOST_COEFFICIENT_UNCERTAINTY; InputRefused for anything else."""
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
    """One table as the only one of several."""
    return [value] if isinstance(value, dict) else value


def _without_nul(text: str) -> str:
    """A text as it is; InputRefused where it holds a NUL, which no file format takes."""
    if "\0" in text:
        raise InputRefused("has a NUL character", "Leave it out.")
    return text


MOST_COEFFICIENT_UNCERTAINTY = 0.25
"""Largest standard uncertainty of a discharge coefficient."""

LEAST_COEFFICIENT = 0.01
"""Smallest discharge coefficient: a twentieth of what any hole or pipe end at a tub has."""

MOST_HOLES = 9
"""Most holes of a case: more are a sieve, and their closest packing is not known exactly here."""

MOST_PIECES = 9
"""Most pieces of ballast."""

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

Length = Annotated[float, _reader(LENGTH)]
Thickness = Annotated[float, _reader(THICKNESS)]
Height = Annotated[float, _reader(HEIGHT)]
DropHeight = Annotated[float, _reader(DROP_HEIGHT)]
Offset = Annotated[float, _reader(OFFSET)]
CellSize = Annotated[float, _reader(CELL_SIZE)]
TubLength = Annotated[float, _reader(TUB_LENGTH)]
BeachWidth = Annotated[float, _reader(BEACH_WIDTH)]
Mass = Annotated[float, _reader(MASS)]
Density = Annotated[float, _reader(DENSITY)]
Temperature = Annotated[float, _reader(TEMPERATURE)]
Angle = Annotated[float, _reader(ANGLE)]
Salinity = Annotated[float, _reader(SALINITY)]
SurfaceTension = Annotated[float, _reader(SURFACE_TENSION)]
Impulse = Annotated[float, _reader(IMPULSE)]
LengthUncertainty = Annotated[float, _reader(LENGTH_UNCERTAINTY)]
MassUncertainty = Annotated[float, _reader(MASS_UNCERTAINTY)]
TemperatureUncertainty = Annotated[float, _reader(TEMPERATURE_UNCERTAINTY)]
AngleUncertainty = Annotated[float, _reader(ANGLE_UNCERTAINTY)]
SalinityUncertainty = Annotated[float, _reader(SALINITY_UNCERTAINTY)]
TensionUncertainty = Annotated[float, _reader(TENSION_UNCERTAINTY)]
TimeUncertainty = Annotated[float, _reader(TIME_UNCERTAINTY)]
HoleDiameters = Annotated[
    tuple[float, ...], BeforeValidator(_hole_diameters, json_schema_input_type=list[str])
]
HoleCount = Annotated[int, BeforeValidator(_hole_count, json_schema_input_type=int)]
CoefficientUncertainty = Annotated[
    float, BeforeValidator(_plain_share, json_schema_input_type=float)
]


Material = Literal["steel", "brass", "copper", "lead", "wood", "plastic", "putty"]


class CheckedTable(BaseModel):
    """A table of the case file; what it does not know it refuses."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class BowlTable(CheckedTable):
    """[bowl]: the shell, before and after its hole is drilled."""

    shape: Literal["cup", "cone", "cap", "profile"] = Field(
        description="cup (upright wall), cone (slanted wall), cap (part of a sphere) or profile"
    )
    radius: Length | None = Field(default=None, description="outer radius at the rim")
    height: Length | None = Field(
        default=None, description="outer height, before the hole is drilled"
    )
    wall: Thickness | None = Field(
        default=None,
        description="wall thickness, perpendicular to the wall; not for a mesh that has its own",
    )
    base: Thickness | None = Field(default=None, description="thickness of the base; cup and cone")
    base_radius: Length | None = Field(default=None, description="outer radius of the base; cone")
    profile: str | None = Field(
        default=None,
        description="file with the outer outline r, z from hole or axis to rim, or a mesh; profile",
    )
    axis: Literal["x", "y", "z"] | None = Field(
        default=None, description="direction of a mesh's axis; default: found"
    )
    unit: str | None = Field(
        default=None, max_length=40, description="unit of a mesh's numbers; default: m"
    )
    mass: Mass | None = Field(default=None, description="mass of the bowl alone, its hole drilled")
    density: Density | None = Field(
        default=None, description="density of the bowl's material, instead of its mass"
    )
    material: Material | None = Field(
        default=None, description="appearance in pictures; default: from its density"
    )


class BallastTable(CheckedTable):
    """[ballast]: a piece of ballast under, on or in the bowl; several as [[ballast]] each."""

    shape: Literal["ring", "washer", "band"] = Field(
        default="ring",
        description="ring (of round section), washer (flat) or band (of putty, pressed on a wall)",
    )
    mass: Mass | None = Field(default=None, description="mass of the piece")
    radius: Length | None = Field(
        default=None,
        description="radius of a ring's centre line, or of the wall that a band is pressed on",
    )
    height: Height = Field(
        description="height of the piece's middle above the bowl's lowest outer point"
    )
    density: Density | None = Field(
        default=None, description="density of its material; for a washer instead of its mass"
    )
    inner_diameter: Length | None = Field(
        default=None, description="inner diameter of the washer; washer"
    )
    outer_diameter: Length | None = Field(
        default=None, description="outer diameter of the washer; washer"
    )
    thickness: Thickness | None = Field(default=None, description="thickness of the washer; washer")
    width: Thickness | None = Field(
        default=None,
        description="width of the band along the axis; its thickness follows from its mass; band",
    )
    material: Material | None = Field(
        default=None, description="appearance in pictures; default: from its density"
    )


class HoleTable(CheckedTable):
    """[hole]: the hole in the middle of the base, or several."""

    diameter: Length | None = Field(
        default=None,
        description="diameter of the hole, or of each of several equal ones; needed unless "
        "`diameters` is given",
    )
    diameters: HoleDiameters | None = Field(
        default=None,
        description='diameters of 2 to 9 unequal holes, `["12 mm", "8 mm"]`, instead of `diameter`',
    )
    count: HoleCount = Field(
        default=1,
        description="number of equal holes, 1 to 9; the flow solver takes one only",
    )
    offset: Offset = Field(
        default=0.0,
        description="distance of the hole's centre, or of all of them, from the axis; `check` "
        "gives the resulting heel",
    )
    discharge_coefficient: float | None = Field(
        default=None,
        ge=LEAST_COEFFICIENT,
        le=1.0,
        strict=True,
        description="discharge coefficient of the reduced models; default: estimated",
    )
    edge: Literal["sharp", "rounded"] = Field(
        default="sharp", description="edge of the hole: sharp or rounded"
    )

    @property
    def each(self) -> tuple[float, ...]:
        """Diameters of all holes [m], the widest first."""
        if self.diameters is not None:
            return self.diameters
        assert self.diameter is not None  # one of the two is there: rules.py
        return (self.diameter,) * self.count


class WaterTable(CheckedTable):
    """[water]: the water in the tub."""

    temperature: Temperature = Field(default=293.15, description="temperature of the water")
    contact_angle: Angle = Field(
        default=1.0471975511965976, description="advancing contact angle of water on the bowl"
    )
    salinity: Salinity = Field(
        default=0.0, description="mass of sea salt per mass of salt water; default: fresh water"
    )
    surface_tension: SurfaceTension | None = Field(
        default=None,
        description="surface tension, for water with soap or fat; default: that of clean water; "
        "soap also lowers `contact_angle`, which you set yourself",
    )


class StartTable(CheckedTable):
    """[start]: how the bowl is let go."""

    kind: Literal["set down", "held", "drop", "push"] = Field(
        default="set down",
        description="set down (at rest at its dry draft), held (by its rim, then let go at rest), "
        "drop or push",
    )
    draft: Length | None = Field(
        default=None, description="depth of the lowest point below the water while held; held"
    )
    inside: Literal["level", "dry"] | None = Field(
        default=None,
        description="level (hole open: water as high inside as outside) or dry (hole stopped until "
        "it is let go); held; left out: level",
    )
    drop_height: DropHeight | None = Field(
        default=None, description="height of the bowl's lowest point above the water; drop"
    )
    push: Impulse | None = Field(default=None, description="downward impulse at the start; push")


class FlowTable(CheckedTable):
    """[flow]: the flow solver."""

    cell: CellSize | None = Field(
        default=None,
        description="cell size around the bowl; default: from hole and wall",
    )
    base_cell: CellSize | None = Field(
        default=None,
        description="cell size at the hole's edge and over the base; default: from `answer`",
    )
    answer: Literal["quick", "good"] = Field(
        default="quick",
        description="accuracy: quick or good, half a cell or one per sqrt(nu x/U) in the boundary "
        "layer on the base, which is five of these thick",
    )
    tub_radius: TubLength | None = Field(
        default=None,
        description="radius of the tub; default: 3 rim radii, with at least 100 mm of water beside "
        "the bowl",
    )
    tub_depth: TubLength | None = Field(
        default=None, description="depth of the water in the tub; default: deep water"
    )
    beach: BeachWidth = Field(
        default=0.0,
        description="width of the wave-absorbing beach along the tub's wall; default: none",
    )
    wall: Literal["slip", "no-slip"] = Field(
        default="no-slip",
        description="no-slip: viscous water that sticks to the bowl; slip: water without viscosity",
    )
    air: Literal["kept", "void"] = Field(
        default="kept",
        description="kept: closed-off air keeps its mass and is compressed; void: it stays at "
        "atmospheric pressure, whatever its volume",
    )
    surface_tension: bool = Field(
        default=False, strict=True, description="whether the flow solver includes surface tension"
    )
    hole: Literal["auto", "resolved", "closed"] = Field(
        default="auto",
        description="resolved: by the grid; closed: by a discharge law; auto: depends on the "
        "number of cells across",
    )


class UncertaintyTable(CheckedTable):
    """[uncertainty]: standard uncertainties, one standard deviation each, for the error budget."""

    hole: LengthUncertainty | None = Field(
        default=None, description="uncertainty of the hole's diameter; default: 0.05 mm"
    )
    mass: MassUncertainty | None = Field(
        default=None,
        description="uncertainty of the mass of bowl and ballast together; default: 0.5 %",
    )
    radius: LengthUncertainty | None = Field(
        default=None, description="uncertainty of the radius at the rim; default: 0.5 %"
    )
    temperature: TemperatureUncertainty | None = Field(
        default=None, description="uncertainty of the water's temperature; default: 1 K"
    )
    contact_angle: AngleUncertainty | None = Field(
        default=None, description="uncertainty of the contact angle; default: 10 deg"
    )
    salinity: SalinityUncertainty | None = Field(
        default=None, description="uncertainty of the salinity; default: a twentieth of it"
    )
    surface_tension: TensionUncertainty | None = Field(
        default=None,
        description="uncertainty of the surface tension; default: a tenth of a given one",
    )
    discharge_coefficient: CoefficientUncertainty | None = Field(
        default=None, description="uncertainty of the discharge coefficient; default: 0.02"
    )
    timing: TimeUncertainty | None = Field(
        default=None,
        description="scatter of release and timing from trial to trial; default: 0.1 s",
    )


class CaseTable(CheckedTable):
    """A whole case file."""

    title: Annotated[str, AfterValidator(_without_nul)] | None = Field(
        default=None, max_length=200, description="title of the case; default: the file's name"
    )
    bowl: BowlTable = Field(description="the bowl without ballast")
    ballast: Annotated[tuple[BallastTable, ...], BeforeValidator(_tables)] = Field(
        default=(), max_length=MOST_PIECES, description="pieces of ballast; default: none"
    )
    hole: HoleTable = Field(description="the hole")
    water: WaterTable = Field(default=WaterTable(), description="the water")
    start: StartTable = Field(default=StartTable(), description="how the bowl is released")
    flow: FlowTable = Field(default=FlowTable(), description="the flow solver")
    uncertainty: UncertaintyTable = Field(
        default=UncertaintyTable(), description="how well the case is known, for the error budget"
    )
