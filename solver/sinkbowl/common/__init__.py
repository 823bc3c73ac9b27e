"""Common to all parts: errors, units, water, tables, printing of results.

Here: physical constants, and the confidence level of all intervals.
"""

GRAVITY = 9.80665  # standard acceleration of free fall [m/s^2] (3rd CGPM, 1901)
ATMOSPHERE = 101325.0  # standard pressure of the atmosphere [Pa] (10th CGPM, 1954)
ZERO_CELSIUS = 273.15  # temperature of 0 degrees Celsius [K]

LEVEL = 0.95

QUANTILE = 1.959964  # half-width of a 95 % interval of a normal distribution in standard deviations
