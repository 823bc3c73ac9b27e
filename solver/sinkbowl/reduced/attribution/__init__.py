"""Attribution of the difference between a reduced model's sinking time and the flow's.

Along the flow's draft D(t) and inner water W(t) (flow_course.py), the heave model's equations
(solver/HEAVE.md; the water aloft and the boil by the model for the flow's D, V, W and Q,
kernels/course_terms.py) do not hold. Their residuals are

    R_b = M_b V' - M_c Q' - force            [N], downwards on the bowl,
    R_h = -M_s V' + M_h Q' - pressure        [Pa], into the bowl through the hole.

The model is integrated again with x R_b and y R_h added as functions of the level z: x = y = 0 is
the model itself; x = y = 1 gives the flow's course, because a differential equation has one
solution; x = 1, y = 0 has the flow's forces on the bowl and the model's discharge law, x = 0, y = 1
the reverse. If the history comes from a model with one changed term, that term gets all of the
difference. (Imposing Q(t) or D(t) would fail: each contains the effect of the other's error, and
with a fixed draft the head compensates errors of the discharge law.) The residuals depend on z
instead of t, because the modified model may last longer than the flow, and a level is reached once,
a heaving draft many times.

*Term by term.* A reading of the inner water's momentum, `inner_momentum`, gives the force between
that water and the bowl. Its excess over the model's (pool and water in flight) is the inner water's
part of R_b, divided into

- the jet reaction: thrust through the hole minus the base's pressure beside it on the hole's area
  (`hole_thrust`, `foot_pressure`), minus the model's rho Q v_jet;
- closed-off air: its force on the bowl (`pocket_force`, if in the history), not in the model;
- the water aloft: the rest, flight of the jet's water and its landing.

A reading of the pressure at the jet's foot, `foot_pressure`, divides R_h: the error of the model's
back pressure, that of a boil until the landed water has run in, and of all water lying flat
afterwards; the rest is contraction, loss and inertia of the hole.

The remainder of R_b acts from outside: added mass, drag and waves. No reading separates them, since
the momentum of an unbounded fluid is undefined. Least squares (residuals.py) fit the course of each
term in the model over the whole run, -d/dt (M_11 V - M_12 Q), -F_drag, -b_w (V - Q/A); what fits
none is `rest`. Without `inner_momentum` R_b is not split.

*Sharing.* T depends on all amounts together, so the order of changes would matter. The shares are
Aumann's and Shapley's (attribute.py): all causes grow together from 0 to 1. They do not depend on
an order, and combined causes have the sum of the single shares, so that hole and forces do not
depend on how the forces are split. total = hole + forces + remainder; the remainder is the error of
splines and quadrature.

*Sensitivity.* A millimetre of draft at the rim costs 1/V. If the bowl nearly stalls there, T jumps
with the smallest force; `Reasons.speed` and `stalls` say so. If the rim does not go under on the
way, there is no attribution, with a note.

*Other models.* Quasi-static: in the same way, the missing head in the discharge law and the draft
by which the bowl is out of balance. Falling body: only forces, the weight of the water that the
base holds back and the motion of all the water (both in modified_models.py).
"""
