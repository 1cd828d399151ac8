"""The front door: which reader, which sentence, and what every reading has in common."""

import hashlib
import os
import zipfile
from pathlib import Path

import pytest
import trimesh

from evenweave.errors import Cancelled, FileProblem
from evenweave.mesh.formats import format_of
from evenweave.mesh.read import _read_safely, read
from evenweave.progress import silent

OBJ = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 0 1\nf 1/1 2/2 3/3\n"


def files() -> dict[str, bytes]:
    """Return one small triangle in several formats."""
    mesh = trimesh.Trimesh([[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[0, 1, 2]], process=False)
    return {
        "obj": OBJ,
        "glb": trimesh.exchange.gltf.export_glb(mesh),
        "ply": trimesh.exchange.ply.export_ply(mesh),
        "collada": trimesh.exchange.dae.export_collada(mesh),
    }


@pytest.mark.parametrize("found", ["obj", "glb", "ply", "collada"])
@pytest.mark.parametrize("suffix", [".obj", ".ply", ".dae", ".glb", ".usd", ".OBJ", ".txt", ""])
def test_a_file_is_read_by_what_it_holds_whatever_its_suffix(
    tmp_path: Path, found: str, suffix: str
) -> None:
    path = tmp_path / f"lantern{suffix}"
    path.write_bytes(files()[found])
    asset = read(path)
    assert (asset.format, asset.face_count) == (found, 1)


def test_a_comment_longer_than_what_is_looked_at_leaves_the_suffix_to_decide(
    tmp_path: Path,
) -> None:
    path = tmp_path / "lantern.obj"
    path.write_bytes(b"# long\n" * 20_000 + OBJ)
    assert read(path).format == "obj"


@pytest.mark.parametrize(
    ("name", "data", "expected"),
    [
        ("a.usda", b"#usda 1.0\n", "usd"),
        ("a.bin", b"PXR-USDC\0\0", "usd"),
        ("a.txt", b' {"scenes": [], "asset": {"version": "2.0"}}', "gltf"),
        ("a.gltf", b"junk", "gltf"),
        ("a.txt", b"\xef\xbb\xbf<?xml version='1.0'?><COLLADA>", "collada"),
        ("a.xyz", b"# made by hand\nmtllib a.mtl\n", "obj"),
        ("a.obj", b"\xff\xfev\0 \0", "obj"),
    ],
)
def test_formats_are_told_by_their_first_bytes_then_by_suffix(
    tmp_path: Path, name: str, data: bytes, expected: str
) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    assert format_of(path) == expected


def test_a_package_whose_first_member_is_a_usd_file_is_usd(tmp_path: Path) -> None:
    for member, expected in (("a.usdc", "usd"), ("a.txt", None)):
        path = tmp_path / "package.zip"
        with zipfile.ZipFile(path, "w") as archive:
            archive.writestr(member, b"")
        if expected:
            assert format_of(path) == expected
        else:
            with pytest.raises(FileProblem, match="no mesh file of a known format"):
                format_of(path)


def test_the_digest_is_that_of_the_bytes_and_the_file_stays_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "lantern.obj"
    path.write_bytes(OBJ)
    path.chmod(0o444)
    before = path.stat()
    asset = read(path)
    assert asset.digest == hashlib.sha256(OBJ).hexdigest()
    assert asset.path == path
    assert path.read_bytes() == OBJ
    assert path.stat().st_mtime_ns == before.st_mtime_ns
    assert [entry.name for entry in tmp_path.iterdir()] == ["lantern.obj"]


def test_every_array_is_read_only(tmp_path: Path) -> None:
    path = tmp_path / "lantern.obj"
    path.write_bytes(OBJ)
    asset = read(path)
    arrays = [value for value in vars(asset).values() if hasattr(value, "flags")]
    arrays += [asset.uv_sets[0].uv, asset.uv_sets[0].corner_uv]
    assert len(arrays) == 10
    assert not any(array.flags.writeable for array in arrays)


def test_progress_grows_to_one_and_may_cancel(tmp_path: Path) -> None:
    path = tmp_path / "lantern.obj"
    path.write_bytes(OBJ)
    shares: list[float] = []
    read(path, lambda share, doing: shares.append(share))
    assert shares == sorted(shares)
    assert shares[-1] == 1.0

    def cancel(share: float, doing: str) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        read(path, cancel)


@pytest.mark.parametrize(
    ("name", "data", "sentence"),
    [
        ("a.obj", b"", "a.obj: the file is empty (0 bytes); export the mesh again."),
        (
            "a.obj",
            b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR",
            "a.obj: it is not text, as OBJ files are;"
            " choose an OBJ, glTF, GLB, USD, PLY or COLLADA file.",
        ),
        (
            "a.stl",
            b"solid a\nendsolid a\n",
            "a.stl: it is no mesh file of a known format;"
            " choose an OBJ, glTF, GLB, USD, PLY or COLLADA file.",
        ),
        (
            "a.dae",
            b"<svg/>",
            "a.dae: it is an XML file but no COLLADA document; choose a mesh file.",
        ),
    ],
)
def test_a_file_that_is_no_mesh_is_one_sentence(
    tmp_path: Path, name: str, data: bytes, sentence: str
) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(FileProblem) as problem:
        read(path)
    assert str(problem.value) == sentence


def test_what_is_no_file_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(FileProblem) as problem:
        read(tmp_path)
    assert str(problem.value).endswith(": it is a folder; choose a mesh file inside it.")
    with pytest.raises(FileProblem) as problem:
        read(tmp_path / "nothing.obj")
    assert str(problem.value) == "nothing.obj: there is no such file; check its name and place."
    (tmp_path / "file").write_bytes(OBJ)
    with pytest.raises(FileProblem, match="cannot be reached"):
        read(tmp_path / "file" / "inside.obj")
    with pytest.raises(FileProblem, match="cannot be reached"):
        read(tmp_path / "null\0byte.obj")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_is_refused_without_waiting_for_it(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.obj")
    with pytest.raises(FileProblem, match="device or pipe"):
        read(tmp_path / "pipe.obj")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="may read everything")
def test_a_file_without_permission_is_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "lantern.obj"
    path.write_bytes(OBJ)
    path.chmod(0)
    with pytest.raises(FileProblem, match="cannot be opened"):
        read(path)


@pytest.mark.parametrize(
    ("raised", "cause"),
    [
        (MemoryError(), "reading it needs more memory than there is"),
        (RecursionError(), "it is nested too deeply"),
        (OSError(5, "Input/output error"), "reading failed \\(input/output error\\)"),
    ],
)
def test_what_goes_wrong_around_a_reader_becomes_a_sentence(raised: Exception, cause: str) -> None:
    def reader(path, progress):
        raise raised

    with pytest.raises(FileProblem, match=cause):
        _read_safely(reader, Path("lantern.usd"), silent)


def test_what_a_library_raises_becomes_one_line_and_a_bug_of_ours_keeps_its_traceback() -> None:
    odd = type("ErrorException", (RuntimeError,), {"__module__": "pxr.Tf"})

    def failing(path, progress):
        raise odd("\n\tError in 'here':\n" + "long " * 100)

    with pytest.raises(FileProblem) as problem:
        _read_safely(failing, Path("lantern.usd"), silent)
    assert "\n" not in str(problem.value)
    assert len(str(problem.value)) < 200

    def buggy(path, progress):
        raise KeyError("bug")

    with pytest.raises(KeyError):
        _read_safely(buggy, Path("lantern.usd"), silent)
