"""How far off a sinking time can be, and what contributes to it."""
