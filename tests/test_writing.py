"""Files are written whole or not at all."""

import os
import stat
import sys
from pathlib import Path

import pytest

from evenweave.errors import FileProblem
from evenweave.writing import write_whole


def test_a_file_is_written_and_replaced(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    write_whole(path, b"one")
    write_whole(path, b"two")
    assert path.read_bytes() == b"two"
    assert os.listdir(tmp_path) == ["a.txt"]


def test_what_cannot_be_put_in_place_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(FileProblem, match=r"there is no folder .*absent; make it first"):
        write_whole(tmp_path / "absent" / "a.txt", b"one")
    with pytest.raises(FileProblem, match="it is a folder"):
        write_whole(tmp_path, b"one")
    assert os.listdir(tmp_path) == []


def test_an_existing_file_is_kept_when_asked(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_bytes(b"one")
    with pytest.raises(FileProblem, match="exists already"):
        write_whole(path, b"two", replace=False)
    assert path.read_bytes() == b"one"


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX permissions")
def test_permissions_stay_and_links_are_followed(tmp_path: Path) -> None:
    path, link = tmp_path / "a.txt", tmp_path / "link"
    path.write_bytes(b"one")
    path.chmod(0o640)
    link.symlink_to(path)
    write_whole(link, b"two")
    assert link.is_symlink()
    assert path.read_bytes() == b"two"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


@pytest.mark.skipif(sys.platform == "win32", reason="no such device")
def test_a_device_is_written_to_and_stays_a_device() -> None:
    write_whole(Path(os.devnull), b"one")
    assert not Path(os.devnull).is_file()
