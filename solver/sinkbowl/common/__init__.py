"""What all parts use: errors, units, water, tables, and how results print."""
