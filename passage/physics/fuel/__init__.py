"""Fuel from force and speed, and speeds that the engines can hold.

In: forces, speeds and the speed-fuel curve. Out: litres per hour. Imports `fins`.
"""
