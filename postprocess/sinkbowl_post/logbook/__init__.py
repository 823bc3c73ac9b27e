"""The logbook: a table of trials, extended trial by trial."""
