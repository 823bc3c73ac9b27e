"""Effects on the water besides weight and pressure; one per file."""
