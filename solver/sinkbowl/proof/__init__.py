"""The solver against what is known from outside it: exact solutions and published values."""
