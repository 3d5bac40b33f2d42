"""One pair of fins: lift, drag, limits, and whether they work.

In: fin particulars and speed of the water. Out: forces and shares. Independent of roll.
"""
