"""State of the oil: viscosity grade and what stands for another oil. Pure: numpy and scipy only."""
