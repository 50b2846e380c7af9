"""How the tables came to be: one numbered module per schema, run in order, forward only.

A migration runs in one transaction together with the record that it ran. On SQLite a column or
constraint is changed by Alembic's batch mode, which copies the table: name the constraint, and
pass ``table_kwargs={"sqlite_strict": True}``, because the copy forgets it otherwise. Foreign
keys are off meanwhile and checked before the commit.
"""

__all__: list[str] = []
