"""How far apart two releases of one bowl are, at the start and at the end."""
