"""Published numbers that several tests here are held against, each typed with its source."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def numbers(text: str) -> NDArray[np.float64]:
    """Read numbers parted by spaces."""
    return np.array(text.split(), dtype=float)


def readings(text: str) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Read numbers parted by spaces, "<v" for a value below v, into values and mask."""
    words = text.split()
    return (np.array([float(word.lstrip("<")) for word in words]),
            np.array([word.startswith("<") for word in words]))


# Arsenic, Oahu, µg/L, 13 of 24 below limits: Helsel 2005, Nondetects and Data Analysis.
OAHU_ARSENIC = readings("""
    <1 <1 1.7 <1 <1 <2 3.2 <2 <2 2.8 <2 <2 <2 <2 <2 0.7 0.9 0.5 0.5 <0.9 0.5 0.7 0.6 1.5
""")

# Manganese, five wells, ppb: US EPA 2009, Unified Guidance 530/R-09-007, example 15-1.
MANGANESE = readings("""
    <5 12.1 16.9 21.6 <2 <5 7.7 53.6 9.5 45.9 <5 5.3 12.6 106.3 34.5 6.3 11.9 10 <2 77.2 17.9
    22.7 3.3 8.4 <2
""")

# Silver, 34 of 56 below limits, extreme skew: Helsel and Cohn 1988 (Janzer 1986).
SILVER = readings("""
    0.8 0.1 2 0.2 <5 <1 <2 <25 2.7 <1 1.2 3.2 <20 <10 <5 <0.1 <10 <1 2 <5 560 <0.2 <20 <1 1 10
    <10 <5 <0.5 1.4 <0.2 <6 1 <10 0.1 5 2 1 <1 4.4 90 <20 <0.3 <2.5 <10 0.7 <1 1.5 <1 <0.2 2
    <0.2 <1 <1 <1 <0.1
""")

# Copper and zinc in shallow groundwater, alluvial fan and basin trough: Millard and Deverel
# 1988, Water Resources Research 24:2087.
COPPER_FAN = readings("""
    <1 <1 3 3 5 1 4 4 2 2 1 2 <5 11 <1 2 2 2 2 <20 2 2 3 3 <20 <10 7 5 2 2 <10 7 12 <1 20 16
    <5 1 2 <5 3 2 8 7 5 <5 2 <10 <5 <5 2 10 2 4 <5 2 3 9 <5 2 2 2 2 1 1
""")

COPPER_TROUGH = readings("""
    2 2 12 2 1 <10 <10 4 <10 <1 1 <2 <2 1 2 <10 3 <1 1 1 3 <5 17 23 9 9 3 3 <15 <5 4 <5 <5 <5
    4 8 1 15 3 3 1 6 3 6 3 4 5 14 4
""")

ZINC_FAN = readings("""
    <10 9 5 18 <10 12 10 11 11 19 8 <3 <10 <10 10 10 10 10 <10 10 <10 10 <10 10 <10 10 10 20
    20 <10 20 20 20 <10 10 20 620 40 50 33 10 20 10 10 10 30 20 10 20 20 20 <10 20 23 17 10
    <10 10 20 29 20 <10 10 <10 10 7 <10
""")

ZINC_TROUGH = readings("""
    20 10 60 20 12 8 <10 14 <10 17 <3 11 5 12 4 3 6 3 15 13 4 20 20 70 60 40 30 40 17 10 20 20
    5 10 50 30 25 <10 10 40 20 10 20 20 30 20 30 50 90 20
""")

# Sulfate, ppm, by sampling date: US EPA 2009, Unified Guidance, example 17-6.
SULFATE_DATE = numbers("""
    89.6 89.8 90.1 90.3 90.6 90.8 91.1 91.3 91.6 91.8 92.1 92.6 93.1 93.6 94.1 94.6 95.1 95.6
    95.8 96.1 96.3 96.6 96.8
""")
SULFATE = numbers("""
    480 450 490 520 485 510 510 530 510 560 560 540 590 550 600 700 570 610 650 620 830 720
    590
""")

# Sodium, ppm, by year: US EPA 2009, Unified Guidance, example 17-7.
SODIUM_YEAR = numbers("89.6 90.1 90.8 91.1 92.1 93.1 94.1 95.6 96.1 96.3")
SODIUM = numbers("56 53 51 55 52 60 62 59 61 63")

# Norris, linear regression of lower difficulty: NIST Statistical Reference Datasets.
NORRIS_X = numbers("""
    0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0
    447.5 11.6 556.0 228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3
    229.2 669.1 448.9 0.5
""")

NORRIS_Y = numbers("""
    0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3
    448.9 10.8 557.7 228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6
    228.9 668.4 449.2 0.2
""")

# Sen 1968, JASA 63:1379 (data after Graybill 1961), from memory.
SEN_X = numbers("1 2 3 4 10 12 18")
SEN_Y = numbers("9 15 19 20 45 55 78")

# Helsel and Hirsch, Statistical Methods in Water Resources, chapter 8, from memory.
HELSEL_HIRSCH_X = numbers("2 24 99 197 377 544 632")
HELSEL_HIRSCH_Y = numbers("1.22 2.2 4.8 1.28 1.97 1.46 2.64")

# NIST/SEMATECH e-Handbook 7.2.6.2, percentiles.
NIST_PERCENTILE = numbers("""
    95.1772 95.1567 95.1937 95.1959 95.1442 95.0610 95.1591 95.1195 95.1065 95.0925 95.1990
    95.1682
""")

