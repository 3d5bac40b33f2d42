"""Forecast files: open, recognise, normalise once, sample along a track."""
