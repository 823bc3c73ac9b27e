"""How far off a sinking time can be, and who owns that."""
