"""A disk that ends in the middle of an import: no file may grow beyond a limit."""

import os
import shutil
from pathlib import Path

import pytest

from oiltrend.store import DATABASE_NAME, open_store
from tests.store.crash import import_on_a_small_disk, processes
from tests.store.made import furnish

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows knows no file size limit")
ROWS, STEPS = 300, 24


def starve(folder: Path, source: Path, *, limit: int, halves: bool) -> tuple[str, bool, int]:
    """Import with a limit; gives what was said, whether reading went on, and rows stored."""
    folder.mkdir()
    shutil.copy(source, folder / DATABASE_NAME)
    context = processes()
    here, there = context.Pipe(duplex=False)
    child = context.Process(target=import_on_a_small_disk,
                            args=(folder, limit, ROWS, halves, there))
    child.start()
    there.close()
    words, readable = here.recv()
    child.join()
    with open_store(folder=folder) as store:
        assert store.health()["integrity"] == "ok"
        return words, readable, len(store.fleet())


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("furnished")
    with open_store(folder=folder) as store:
        furnish(store)
    return folder / DATABASE_NAME


def test_an_import_is_there_or_not_and_says_so(tmp_path: Path, source: Path):
    size = source.stat().st_size
    told = stored = 0
    for step in range(STEPS):
        # From "not even the raw file" to "everything fits", through journal and database.
        limit = [10, 600, 5000][step] if step < 3 else size // 8 + step * size // 10
        words, readable, rows = starve(tmp_path / str(step), source, limit=limit, halves=False)
        if words:
            assert rows == 0
            assert ("the disk could not be written or read" in words
                    or "the file must be kept, found 'File too large'" in words
                    or "must be able to write in its folder" in words)
            told += 1
        else:
            assert (rows, readable) == (ROWS, True)
            stored += 1
    assert told >= 5
    assert stored >= 1


def test_control_row_by_row_leaves_a_half(tmp_path: Path, source: Path):
    limit = source.stat().st_size + 60_000
    words, _, rows = starve(tmp_path / "half", source, limit=limit, halves=True)
    assert words
    assert 0 < rows < ROWS
