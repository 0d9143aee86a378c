"""Simulators by six authors, each of whom knew the file formats and nothing of Calmday.

They invent drives, coastdowns and comparisons with a truth of their own, and agree in little but the handbooks: engine
maps or curved Willans lines, tyres by heat balance or by exponentials, wind from a blending height or from a factor.
Kept as their authors wrote them, so that they stay a measure from outside: nothing here is to be fitted to Calmday.
`against_outsiders.py` runs them and compares.
"""
