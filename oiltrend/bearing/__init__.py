"""The mechanical side: which shells an engine has, and how far worn they were found.

Pure data and arithmetic; nothing but NumPy.
"""
