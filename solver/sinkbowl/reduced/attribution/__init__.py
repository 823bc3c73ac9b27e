"""Attribution: what sets the difference between a reduced model's sinking time and the flow's.

Along the flow's own course, draft D(t) and water inside W(t) (flow_course.py), the heave model's
equations (solver/HEAVE.md; the water aloft and the boil by the model for the flow's D, V, W and Q,
kernels/course_terms.py) do not hold. Their residuals are

    R_b = M_b V' - M_c Q' - force            [N], downwards on the bowl,
    R_h = -M_s V' + M_h Q' - pressure        [Pa], into the bowl through the hole.

With x R_b and y R_h added, as functions of the level z, the model is integrated again: x = y = 0
is the model itself; x = y = 1 gives the flow's course back, because a differential equation has
one solution; x = 1, y = 0 has the flow's forces on the bowl and the model's law of the hole, x =
0, y = 1 the reverse. So a history that a model with one changed term made gives all of the
difference to that term. (To impose Q(t) itself, or D(t), would not do: whichever is imposed
carries the mark of the other's error, and a draft that is held fixed lets the head make good what
the hole's law is off.) z rather than t orders the residuals, because a replay may last longer than
the flow, and a level is reached once where a bobbing draft is reached many times.

*Term by term.* A reading of the inner water's momentum, `inner_momentum`, gives the force between
that water and the bowl, whatever the water does; what it exceeds the model's by (pool, and water in
flight) is the part of the water inside in R_b. Of it belongs to

- the jet reaction: thrust through the hole less the base's pressure beside it on the hole's area
  (`hole_thrust`, `foot_pressure`), less the model's rho Q v_jet;
- closed-off air: what it pushes the bowl (`pocket_force`, where the history has it), which the
  model leaves out;
- the water aloft: the rest, flight of the jet's water and its landing.

A reading of the pressure at the jet's foot, `foot_pressure`, parts R_h: what the model's back
pressure is off, as that of a boil until the water that came down has run in, and of all water lying
flat from then on; the rest is contraction, loss and inertia of the hole.

What remains of R_b acts from outside: added mass, drag and waves. No reading parts them, since
the momentum of an unbounded fluid is none. Each gets what follows the course of its own term in
the model over the whole run, -d/dt (M_11 V - M_12 Q), -F_drag, -b_w (V - Q/A), by least squares
(residuals.py); what follows none is left as `rest`. Without `inner_momentum` R_b is not split.

*Sharing.* T depends on all amounts at once, and which is changed first would matter. The shares
are Aumann's and Shapley's (attribute.py): all causes grow together from 0 to 1. They depend on no
order, and lumped causes have the sum of the single shares, so that hole and forces are the same
however the forces are split. total = hole + forces + remainder; the remainder holds what splines
and quadrature miss.

*Leverage.* A millimetre of draft at the rim costs 1/V. Where the bowl nearly stalls there, T
jumps with the least force; `Reasons.speed` and `stalls` say so, and a replay that never takes the
rim under leaves the difference unshared, with a note.

*Other models.* Quasi-static: the head that is missing in the hole's law, and the draft by which the
bowl is out of balance, in the same way (replays.py). Falling body: forces alone, the
weight of the water that the base holds back and the motion of all the water (replays.py).
"""
