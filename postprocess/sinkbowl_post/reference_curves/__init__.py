"""Reference curves and breakdown map from many runs."""
