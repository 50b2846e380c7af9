"""From concentration to wear rate: mass balance, interval ledger, plain figures. Arrays only."""

__all__: list[str] = []
