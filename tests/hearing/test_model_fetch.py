"""A zipped model is checked before it is unpacked, and cannot write outside its folder."""

import shutil
import stat
import zipfile
from pathlib import Path

import pytest

from sayso.hearing.model_fetch import fetch_model, file_sha256, unpack
from sayso.hearing.speech_model import ModelError, SpeechModel, load_model


@pytest.fixture(scope="module")
def archive(model: SpeechModel, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("archive")
    shutil.copytree(model.path, folder / "in" / "some-small-model")
    return Path(shutil.make_archive(str(folder / "some-small-model"), "zip", folder / "in"))


def test_a_local_archive_becomes_a_model_that_loads(archive: Path, tmp_path: Path) -> None:
    done = fetch_model(str(archive), sha256=file_sha256(archive), into=tmp_path)
    assert done.directory == tmp_path / "some-small-model"
    assert load_model(done.directory).knows("yes")
    assert [p.name for p in tmp_path.iterdir()] == ["some-small-model"]  # nothing left lying about


def test_an_address_is_fetched(archive: Path, tmp_path: Path) -> None:
    import functools
    import threading
    from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer

    class Quiet(SimpleHTTPRequestHandler):
        def log_message(self, *_: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(Quiet, directory=str(archive.parent)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        address = f"http://127.0.0.1:{server.server_port}"
        assert fetch_model(f"{address}/{archive.name}", into=tmp_path).sha256 == file_sha256(archive)
        with pytest.raises(ModelError, match="could not be fetched"):
            fetch_model(f"{address}/nothing.zip", into=tmp_path)
    finally:
        server.shutdown()
        server.server_close()


def test_a_wrong_checksum_unpacks_nothing(archive: Path, tmp_path: Path) -> None:
    with pytest.raises(ModelError, match="checksum is"):
        fetch_model(str(archive), sha256="00" * 32, into=tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_what_is_there_is_not_overwritten(archive: Path, tmp_path: Path) -> None:
    fetch_model(str(archive), into=tmp_path)
    with pytest.raises(ModelError, match="is there already"):
        fetch_model(str(archive), into=tmp_path)


@pytest.mark.parametrize("name", ["../out.txt", "/out.txt", "a/../../out.txt", "..\\out.txt", "C:/out.txt"])
def test_a_member_that_leaves_the_folder_is_refused(tmp_path: Path, name: str) -> None:
    with zipfile.ZipFile(tmp_path / "bad.zip", "w") as bundle:
        bundle.writestr("fine.txt", "x")
        bundle.writestr(zipfile.ZipInfo(name), "x")
    with pytest.raises(ModelError, match="outside its folder"):
        unpack(tmp_path / "bad.zip", tmp_path / "into")
    assert not (tmp_path / "into").exists()


def test_a_link_is_refused(tmp_path: Path) -> None:
    link = zipfile.ZipInfo("link")
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    with zipfile.ZipFile(tmp_path / "bad.zip", "w") as bundle:
        bundle.writestr(link, "/etc/passwd")
    with pytest.raises(ModelError, match="link or a device"):
        unpack(tmp_path / "bad.zip", tmp_path / "into")


def test_something_else_than_a_zip_is_told(tmp_path: Path) -> None:
    (tmp_path / "x.zip").write_text("<html>not found</html>")
    with pytest.raises(ModelError, match="not a readable zip"):
        fetch_model(str(tmp_path / "x.zip"), into=tmp_path / "into")


@pytest.mark.parametrize("source", ["file:///etc/passwd", "ftp://x/y.zip"])
def test_only_https_and_files(tmp_path: Path, source: str) -> None:
    with pytest.raises(ModelError, match="only https"):
        fetch_model(source, into=tmp_path)
