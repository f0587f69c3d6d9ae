"""Invented machines, described to the last screw, to try things on.

The files ``*.device.yaml`` beside this one are read as package data. Makers, models, order codes,
prices and figures are made up.
"""
