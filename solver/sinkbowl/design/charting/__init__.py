"""The design chart: hole against ballast, what such a bowl does and how long it takes."""
