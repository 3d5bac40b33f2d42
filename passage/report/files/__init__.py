"""JSON and NetCDF of results.

Takes results of planning; gives files other programs read.
"""
