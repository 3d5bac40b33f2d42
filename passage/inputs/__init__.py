"""Vessel, route, forecast, coast and record files: read, checked, normalised once.

Takes files; gives frozen dataclasses and arrays in SI. Builds on `physics` for estimates.
"""
