"""oiltrend: what used oil says about connecting-rod bearings, and which engine to open next.

Importing the package does no work. The parts, from the ground up, are listed in
``DEVELOPERS.md``; the flow reads off the folder names: ingest, store, wear, limits,
bearing, assessment, then dashboard, report and command line.
"""

__version__ = "0.1.0"

__all__ = ["__version__"]
