"""Make the old database of the present schema, once, when that schema is released.

Run from the top of the repository: ``python -m tests.store.old_databases.make``. An old
database that was committed is never made again: it stands for what is on people's disks.
"""

import gzip
import sqlite3
import tempfile
from pathlib import Path

from oiltrend.records import Engine, Family, Qualifier, Reading, Teardown
from oiltrend.store import DATABASE_NAME, WatchRow, open_store
from oiltrend.store.migrate import newest_schema
from tests.store.made import DAY, FINDINGS, KIM, limit, one_sample, slot


def fill(folder: Path) -> None:
    with open_store(folder=folder) as store:
        with store.write(KIM, "old") as tx:
            tx.add(Family("F"))
            tx.add(Engine("E1", "F", note="first schema µ"))
            (number,) = tx.add_samples(one_sample())
            tx.edit_sample(number, {"Fe": Reading(21.0, Qualifier.EXACT, "21")}, 1)
            tx.add(Teardown("E1", DAY, 9.0, FINDINGS))
            tx.fit_shells("E1", [slot(1, "rod", meter=0.0)])
            tx.set_limits([limit(30.0)], "own")
            tx.set_setting("currency", "shells")
            import_id = tx.add_import("a.csv", "ab" * 32, "samples", counts={}, options={})
            tx.add_samples(one_sample(day="2025-04-01"), import_id=import_id)
        with store.write(KIM, "old") as tx:
            tx.put_verdicts([WatchRow("E1", "F", "alert", "little", DAY)], lambda _: "{}")


def main() -> None:
    with tempfile.TemporaryDirectory() as place:
        fill(Path(place))
        database = Path(place) / DATABASE_NAME
        link = sqlite3.connect(database)
        link.execute("VACUUM")
        link.close()
        target = Path(__file__).with_name(f"schema_{newest_schema():04d}.sqlite3.gz")
        target.write_bytes(gzip.compress(database.read_bytes(), mtime=0))


if __name__ == "__main__":
    main()
