"""Charts and maps as SVG text, and the colours they share.

Takes arrays; gives markup. Independent of any page.
"""
