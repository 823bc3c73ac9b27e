"""Results for other programs."""
