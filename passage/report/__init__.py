"""What the user reads: tables, JSON, NetCDF and the one-file HTML page."""
