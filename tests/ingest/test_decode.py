import pytest

from oiltrend.errors import FileRefused
from oiltrend.ingest.decode import decode

TEXT = "engine;Öl km\nE1;5\n"


@pytest.mark.parametrize(("encoding", "named"), [
    ("utf-8", "utf-8"), ("utf-8-sig", "utf-8"), ("utf-16", "utf-16"), ("cp1252", "cp1252")])
def test_encodings_that_are_decided(encoding, named):
    found = decode(TEXT.encode(encoding), filename="a.csv")
    assert (found.text, found.encoding) == (TEXT, named)


def test_big_endian_utf16_with_its_mark():
    assert decode(b"\xfe\xff" + TEXT.encode("utf-16-be"), filename="a.csv").text == TEXT


def test_only_a_guess_carries_a_note():
    assert decode(TEXT.encode(), filename="a.csv").notes == ()
    note, = decode(TEXT.encode("cp1252"), filename="a.csv").notes
    assert (note.line, note.raw) == (1, "engine;Öl km")


def test_the_user_may_say_the_encoding():
    assert decode(b"\x80", filename="a.csv", encoding="latin-1").text == "\x80"
    assert decode(b"\x80", filename="a.csv").text == "€"


def test_a_byte_order_mark_wins_over_what_was_said():
    assert decode(TEXT.encode("utf-16"), filename="a.csv", encoding="latin-1").text == TEXT


def test_what_was_said_and_is_not_so_is_refused():
    with pytest.raises(FileRefused) as refused:
        decode(b"\xff\xff", filename="a.csv", encoding="utf-8")
    assert str(refused.value) == ("a.csv: must be utf-8 text, found bytes that are not; "
                                  "save the file as UTF-8 and import it again")


def test_padding_is_left_out_with_a_note_but_not_inside():
    note, = decode(b"a,b\n" + b"\0" * 5, filename="a.csv").notes
    assert note.text.startswith("5 NUL bytes at the end of the file were left out")
    with pytest.raises(FileRefused, match="found a NUL byte on line 2"):
        decode(b"a,b\n1,\x002\n" + b"\0" * 5, filename="a.csv")


def test_one_nul_at_the_end_is_no_padding():
    with pytest.raises(FileRefused, match="found a NUL byte on line 2"):
        decode(b"a,b\n\0", filename="a.csv")
