"""Making of the map that `corrected/` learns from: which bowls, their releases, table and fit."""
