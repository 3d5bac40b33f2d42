"""One pair of fins: lift, drag, limits, and whether they are at work.

Takes fin particulars and water speed; gives forces and shares. Knows nothing of roll.
"""
