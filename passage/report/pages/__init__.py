"""Pages in one HTML file, built from plain blocks.

Takes results of planning; gives HTML. Builds on `drawing`.
"""
