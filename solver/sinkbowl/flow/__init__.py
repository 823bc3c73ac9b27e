"""The axisymmetric flow solver: free surface, orifice jet and heave on a grid fixed to the bowl."""
