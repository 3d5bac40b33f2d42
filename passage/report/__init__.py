"""What the user reads: text, JSON, NetCDF and the one-file HTML page.

Takes results of planning; gives strings and files. Makes no computation of its own.
"""
