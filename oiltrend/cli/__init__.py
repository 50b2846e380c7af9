"""The command line: each command is a few words over one use of the service."""

from oiltrend.cli.main import COMMANDS, main

__all__ = ["COMMANDS", "main"]
