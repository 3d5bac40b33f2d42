"""Forces along the track: waves, wind and current.

In: sea, wind and hull. Out: forces and speeds. Imports only `units`.
"""
