"""The schemas by number."""

__all__: list[str] = []
