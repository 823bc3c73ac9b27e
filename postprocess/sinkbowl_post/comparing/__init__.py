"""A run beside the reduced models, or several runs beside each other."""
