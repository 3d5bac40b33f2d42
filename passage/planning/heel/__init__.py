"""What to do about steady heel: fins, tanks, ballast, or leave it.

Takes a passage computed with the heel left alone; gives the decision. Builds on `plan`.
"""
