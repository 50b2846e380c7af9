import pytest
from flask.testing import FlaskClient

from oiltrend.dashboard.security import MOST_BYTES
from oiltrend.dashboard.uploads import Upload, UploadShelf, plain_name
from oiltrend.errors import NotThere
from oiltrend.records import Caller

INES, TOMEK = Caller("Ines", "shop"), Caller("Tomek", "shop")
GONE = ("file: must be one that was sent within the last hour, found none; choose the file again")


class Clock:
    now = 0.0

    def __call__(self) -> float:
        return self.now


def upload(text: str = "a", caller: Caller = INES) -> Upload:
    return Upload(text.encode(), "a.csv", caller)


def test_a_file_is_found_by_its_word_only() -> None:
    shelf = UploadShelf()
    word = shelf.put(upload("x"))
    assert shelf.get(word, INES).data == b"x"
    assert len(word) >= 32
    for other in ("", word + "x", word.upper(), None, 7, {"token": word}, [word]):
        with pytest.raises(NotThere) as caught:
            shelf.get(other, INES)
        assert str(caught.value) == GONE


def test_a_file_of_someone_else_is_not_there() -> None:
    shelf = UploadShelf()
    word = shelf.put(upload())
    with pytest.raises(NotThere) as caught:
        shelf.get(word, TOMEK)
    assert str(caught.value) == GONE


def test_a_file_waits_for_its_time_and_no_longer() -> None:
    clock = Clock()
    shelf = UploadShelf(seconds=60, clock=clock)
    word = shelf.put(upload())
    clock.now = 59
    assert shelf.get(word, INES).data == b"a"
    clock.now = 61
    with pytest.raises(NotThere, match="found none"):
        shelf.get(word, INES)


def test_the_oldest_goes_first_when_there_is_no_room() -> None:
    shelf = UploadShelf(most=2)
    words = [shelf.put(upload(str(k))) for k in range(3)]
    assert [shelf.get(word, INES).data for word in words[1:]] == [b"1", b"2"]
    with pytest.raises(NotThere, match="found none"):
        shelf.get(words[0], INES)


def send(client: FlaskClient, data: bytes, name: str = "a.csv") -> int:
    body = (b'--cut\r\nContent-Disposition: form-data; name="file"; filename="'
            + name.encode() + b'"\r\n\r\n' + data + b"\r\n--cut--\r\n")
    return client.post("/api/upload", data=body,
                       content_type="multipart/form-data; boundary=cut").status_code


def test_size_and_emptiness_are_checked_by_the_server(client: FlaskClient) -> None:
    assert send(client, b"x" * 1000) == 200
    assert send(client, b"x" * MOST_BYTES) == 413
    assert send(client, b"") == 400
    assert client.post("/api/upload", data={}).status_code == 400
    assert client.post("/api/upload", data={"file": "text"}).status_code == 400


@pytest.mark.parametrize(("sent", "kept"), [
    ("C:\\lab\\march.csv", "march.csv"), ("/etc/passwd", "passwd"), ("..", "file"),
    ("a\x00\x1b[31mb.csv", "a[31mb.csv"), ("x" * 500 + ".csv", "x" * 120),
    ("März.csv", "März.csv")])
def test_a_name_loses_its_folders_and_what_cannot_be_seen(sent: str, kept: str) -> None:
    assert plain_name(sent) == kept
