"""A table of trials kept at the tub, trial by trial."""
