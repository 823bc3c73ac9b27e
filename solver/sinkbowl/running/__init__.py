"""A run of the flow solver, and its result file."""
