"""From force and speed to litres, and speeds chosen for the engines.

Takes newtons, knots and the speed-fuel curve; gives litres an hour.
Builds on `fins` and `resistance`.
"""
