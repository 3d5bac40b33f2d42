"""Route files, positions, legs and the coastline check."""
