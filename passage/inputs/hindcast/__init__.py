"""Years of past data: opened without reading, rewritten once, read by cell.

Takes files; gives runs of hours at cells.
"""
