"""Kernels of the reduced models: equations and integration on arrays, without cases and units.

Levels and volumes (levels.py), the discharge law (hole.py), water in flight (flight.py), the heave
equations (heave.py), the falling body (falling.py), their integration (rosenbrock.py,
integration.py, course_terms.py), and Archimedes with Torricelli (filling.py). HEAVE.md, beside the
package, derives the heave equations.
"""
