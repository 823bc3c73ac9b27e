"""What can be told before the water: flotation, stability, capillarity."""
