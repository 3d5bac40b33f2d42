"""Pure functions on arrays: no files, no printing, no xarray; SI units and radians."""
