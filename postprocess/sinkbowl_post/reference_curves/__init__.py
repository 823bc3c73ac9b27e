"""Reference curves and ranges of validity from many runs."""
