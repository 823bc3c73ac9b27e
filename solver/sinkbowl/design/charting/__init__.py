"""The design chart: outcome and sinking time over hole and ballast."""
