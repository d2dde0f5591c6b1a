"""The checks: one file for each module of the builder, and the solids that they measure."""
