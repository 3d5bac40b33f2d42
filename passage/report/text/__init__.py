"""Tables and sentences for a terminal, and CSV.

Takes results of planning; gives text.
"""
