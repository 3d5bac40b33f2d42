"""Charts and maps as SVG text, and the colours they share.

Takes arrays; gives markup. Knows no page.
"""
