"""A run beside the reduced models."""
