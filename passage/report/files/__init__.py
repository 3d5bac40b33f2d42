"""JSON and NetCDF of results.

Takes results of planning; gives files for other programs to read.
"""
