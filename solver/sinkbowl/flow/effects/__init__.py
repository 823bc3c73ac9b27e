"""What acts on the water besides weight and pressure; an effect a file."""
