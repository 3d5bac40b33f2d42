"""Forces along the track: waves, wind and current.

Takes sea, wind and hull; gives newtons and speeds. Builds on `waves` and `motions`.
"""
