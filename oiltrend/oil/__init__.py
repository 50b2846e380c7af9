"""State of the oil: viscosity and grade, fuel, base number, coolant, dirt, copper. Pure.

Arrays in, arrays out, with numpy and scipy only; a sample that was not measured gives NaN and
a code that says why.
"""
