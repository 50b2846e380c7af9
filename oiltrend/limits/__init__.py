"""Is it high, is it rising: limits, trends and precision, for a whole fleet at once.

Pure arrays in, arrays out; nothing but NumPy and SciPy.
"""
