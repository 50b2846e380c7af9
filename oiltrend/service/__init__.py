"""The uses of the program, one function each. The caller's identity is checked here only."""
