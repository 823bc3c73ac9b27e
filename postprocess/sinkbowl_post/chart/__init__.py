"""The design chart as a picture, as a table and in words."""
