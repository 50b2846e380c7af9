import re
import sqlite3

import pytest
from sqlalchemy.exc import IntegrityError, OperationalError

from oiltrend.errors import StoreError
from oiltrend.store.faults import plain_fault, plain_faults


@pytest.mark.parametrize(("fault", "words"), [
    (sqlite3.OperationalError("database is locked"),
     "writing: another program has been writing for longer than ten seconds (database is locked); "
     "try again"),
    (sqlite3.OperationalError("disk I/O error"),
     "writing: the disk could not be written or read (disk I/O error); free some space, then try "
     "again"),
    (sqlite3.OperationalError("database or disk is full"),
     "writing: the disk could not be written or read (database or disk is full); free some space, "
     "then try again"),
    (sqlite3.OperationalError("attempt to write a readonly database"),
     "writing: the database may only be read here (attempt to write a readonly database); ask for "
     "the right to write in its folder"),
    (sqlite3.DatabaseError("database disk image is malformed"),
     "writing: the database is damaged (database disk image is malformed); restore the last "
     "backup; keep the damaged file"),
    (sqlite3.OperationalError("no such table: x"),
     "writing: the database refused (no such table: x); see the health page"),
    (sqlite3.OperationalError(""), "writing: the database refused (OperationalError); see the "
     "health page")])
def test_sentences(fault, words):
    assert str(plain_fault(fault, during="writing")) == words


def test_values_and_statements_stay_out_of_the_sentence():
    inner = sqlite3.IntegrityError("CHECK constraint failed: ck_car_rev")
    outer = IntegrityError("INSERT INTO car VALUES (?)", ("secret",), inner)
    assert str(plain_fault(outer, during="writing")) == (
        "writing: a rule of the store was broken (CHECK constraint failed: ck_car_rev); correct "
        "the value")


def test_damaged_text_surfaces_as_such():
    with pytest.raises(StoreError, match=re.escape(
            "reading: the database is damaged ('utf-8' codec can't decode byte 0xff in position "
            "0: invalid start byte); restore the last backup; keep the damaged file")), \
            plain_faults("reading"):
        b"\xff".decode()


def test_only_faults_of_the_database_are_turned():
    with pytest.raises(KeyError, match="mine"), plain_faults("reading"):
        raise KeyError("mine")
    with pytest.raises(StoreError, match="reading: "), plain_faults("reading"):
        raise OperationalError("SELECT", (), sqlite3.OperationalError("x"))
