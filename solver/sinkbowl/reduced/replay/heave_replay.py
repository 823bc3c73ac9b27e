"""The heave model integrated again, with a share of what its equations lack in the flow."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

import numpy as np
from scipy.interpolate import PchipInterpolator

from sinkbowl.common.sinking import FloatArray
from sinkbowl.reduced.heave import fill_until, first_state
from sinkbowl.reduced.heave_equations import HeaveEquations, Loads
from sinkbowl.reduced.integrate import Care, Log, Moment, State
from sinkbowl.reduced.replay.lacks import Lacks, lacks_of
from sinkbowl.reduced.replay.path import Path, Record

CARE = Care(1e-5, 0)

LATEST = 3.0
"""Time, over the longer of flow's and model's, after which a rim counts as staying up."""

TAIL = 0.1
"""Last share of the flow's levels, whose mean lack stands for levels that it never reached."""


class ReplayedHeave(HeaveEquations):
    """The heave model's equations with lacks added; its state has the time as a sixth component.

    Parameters
    ----------
    base : the model's equations
    lacks : against the inner level
    amounts : of forces and pressures, in their order, 0..1
    """

    def __init__(self, base: HeaveEquations, lacks: Lacks, amounts: Sequence[float]) -> None:
        self.__dict__.update(base.__dict__)
        parts = [*lacks.forces.values(), *lacks.pressures.values()]
        weighed = [amount * part for amount, part in zip(amounts, parts, strict=True)]
        count = len(lacks.forces)
        nothing = np.zeros(len(lacks.z))
        self._force = _Smooth(lacks.z, sum(weighed[:count], nothing))
        self._pressure = _Smooth(lacks.z, sum(weighed[count:], nothing))

    @property
    def scales(self) -> tuple[float, ...]:
        """Sizes of the state's components, time the last."""
        return (*super().scales, 1.0)

    def rates(
        self,
        state: State,
        rim_flow: float = 0.0,
        rim_wet: bool = False,
        spilling: bool = False,
    ) -> list[float]:
        """Rates of the heave equations, and that of time."""
        return [*super().rates(state[:5], rim_flow, rim_wet, spilling), 1.0]

    def loads(self, state: State, rim_flow: float = 0.0, rim_wet: bool = False) -> Loads:
        """Force and pressure of the heave equations with what they lack."""
        own = super().loads(state, rim_flow, rim_wet)
        z = float(state[2])
        return own._replace(
            force=own.force + self._force(z), pressure=own.pressure + self._pressure(z)
        )

    def observe(self, state: State) -> tuple[float, ...]:
        """What the heave equations tell of a state."""
        return super().observe(state[:5])


class HeaveReplay:
    """Sinking times of one case with any share of what the heave model lacks.

    Attributes
    ----------
    forces, pressures : names of the causes, in the order of `amounts`
    """

    def __init__(
        self, equations: HeaveEquations, record: Record, longest: float, care: Care = CARE
    ) -> None:
        self._equations, self._care = equations, care
        path = Path(equations.vessel, record)
        self.path, self.lacks = path, lacks_of(equations, path, set(record.readings))
        self.forces, self.pressures = tuple(self.lacks.forces), tuple(self.lacks.pressures)
        self._flow_start = float(path.speed[0]), float(path.flow[0])
        self._latest = LATEST * longest

    def time(self, amounts: FloatArray) -> float | None:
        """Until the rim is under [s]; None where it stays up.

        Parameters
        ----------
        amounts : (k,) of each cause, forces before pressures
        """
        stop, (time, _) = self.end(amounts)
        return time if stop == "rim_under" else None

    def end(self, amounts: FloatArray) -> tuple[str, Moment]:
        """What ended the replay, and time and state (6,) there."""
        equations = ReplayedHeave(self._equations, self.lacks, amounts.tolist())
        rim, latest = equations.vessel.rim, self._latest
        ends = {"rim_under": lambda y: y[0] - rim, "late": lambda y: y[5] - latest}
        return fill_until(equations, (0.0, self._start(amounts)), ends, Log(), self._care)

    def _start(self, amounts: FloatArray) -> FloatArray:
        """First state: speed and flow pass from the model's to the flow's with the causes."""
        state = first_state(self._equations)
        count = len(self.forces)
        by_force = float(np.mean(amounts[:count])) if count else 0.0
        by_pressure = float(np.mean(amounts[count:]))
        speed, flow = self._flow_start
        state[1] += by_force * (speed - state[1])
        state[3] += by_pressure * (flow - state[3])
        return np.append(state, 0.0)


class _Smooth:
    """Values (n,) against levels (n,), monotone cubic between them: no kinks for the integrator.

    Below the first level the first value holds, above the last the mean over the last levels.
    """

    def __init__(self, z: FloatArray, values: FloatArray) -> None:
        self._z: list[float] = z.tolist()
        self._pieces: list[list[float]] = PchipInterpolator(z, values).c.T.tolist()
        self._below = float(values[0])
        self._above = float(np.mean(values[z >= z[-1] - TAIL * (z[-1] - z[0])]))

    def __call__(self, z: float) -> float:
        if z <= self._z[0]:
            return self._below
        if z >= self._z[-1]:
            return self._above
        k = bisect_right(self._z, z) - 1
        (a, b, c, d), s = self._pieces[k], z - self._z[k]
        return ((a * s + b) * s + c) * s + d
