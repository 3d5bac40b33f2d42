"""What ``import passage`` offers: files in, results out, a line for each question.

Takes paths or what was read from them, words, and numbers in users' units; gives results
that turn into frames, datasets, dicts and pages. Nothing is computed here.
"""
