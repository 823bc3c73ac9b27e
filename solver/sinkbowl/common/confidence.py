"""The one confidence level of all intervals; standard uncertainties are converted with it."""

LEVEL = 0.95

QUANTILE = 1.959964
"""Half width of such an interval in standard uncertainties of a normal distribution."""
