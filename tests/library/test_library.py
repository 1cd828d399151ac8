"""What scripts call: the same numbers as the command, from files and from trimesh's meshes."""

import doctest
import json
import subprocess
import sys

import jsonschema
import numpy as np
import pytest
import trimesh

import evenweave
from evenweave.library import review as review_module
from evenweave.places import resource

SQUARE = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], float)
HALVES = [[0, 1, 2], [0, 2, 3]]


def plate(scale: float = 0.5, *, wide: float = 1.0, material: str = "steel") -> trimesh.Trimesh:
    """A square of one metre whose island is `scale * wide` by `scale` of the tile."""
    uv = SQUARE[:, :2] * [scale * wide, scale] + 0.1
    visual = trimesh.visual.TextureVisuals(
        uv=uv, material=trimesh.visual.material.SimpleMaterial(name=material)
    )
    return trimesh.Trimesh(SQUARE, HALVES, visual=visual, process=False)


@pytest.mark.parametrize("module", [evenweave, review_module])
def test_the_examples_in_the_words_run(module: object) -> None:
    failed, tried = doctest.testmod(module)  # type: ignore[arg-type]
    assert tried > 0
    assert failed == 0


def test_the_example_in_the_readme_runs(tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    readme = resource("checks.toml").parents[1] / "README.md"
    failed, tried = doctest.testfile(str(readme), module_relative=False)
    assert tried > 3
    assert failed == 0


def test_nothing_heavy_is_loaded_before_it_is_used() -> None:
    program = (
        "import sys, evenweave; assert set(evenweave.__all__) <= set(dir(evenweave));"
        "print([m for m in sys.modules if m.split('.')[0] in ('numpy', 'numba', 'trimesh')])"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], check=True, capture_output=True, text=True
    )
    assert done.stdout.strip() == "[]"


def test_all_public_names_are_there_and_no_others() -> None:
    for name in evenweave.__all__:
        assert getattr(evenweave, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        _ = evenweave.nonsense


def test_a_plate_has_the_numbers_worked_out_by_hand() -> None:
    done = evenweave.review(plate(0.5, wide=1.2))
    (island,) = done.islands
    assert island["surface_m2"] == pytest.approx(1.0)
    assert island["area_uv"] == pytest.approx(0.3)
    assert island["stretch_p95"] == pytest.approx(1.2)
    assert island["density_px_per_m"] == pytest.approx(2048 * 0.3**0.5)
    (layout,) = done.layouts
    assert (layout.name, layout.uv_set, layout.islands) == ("steel", "uv", 1)
    assert layout.coverage == pytest.approx(0.3, abs=1e-3)


def test_the_unit_of_a_mesh_can_be_stated() -> None:
    done = evenweave.review(plate(), metres_per_unit=0.01)
    assert done.islands["surface_m2"][0] == pytest.approx(1e-4)


def test_a_scene_is_judged_as_its_graph_places_it() -> None:
    scene = trimesh.Scene()
    scene.add_geometry(plate(0.3, material="oak"), node_name="lid", geom_name="plate")
    grown = np.diag([2.0, 2.0, -2.0, 1.0])
    scene.graph.update(frame_to="base", matrix=grown, geometry="plate")
    done = evenweave.review(scene)
    assert sorted(done.islands["name"]) == ["base", "lid"]
    surface = dict(zip(done.islands["name"], done.islands["surface_m2"], strict=True))
    assert surface["base"] == pytest.approx(4 * surface["lid"])


def test_further_sets_are_vertex_attributes() -> None:
    mesh = plate()
    mesh.vertex_attributes["lightmap"] = SQUARE[:, :2] * 0.25
    done = evenweave.review(mesh, uv_set="lightmap")
    assert done.layouts[0].uv_set == "lightmap"
    assert done.islands["area_uv"][0] == pytest.approx(1 / 16)


def test_a_scene_comes_back_as_it_was_judged() -> None:
    lantern = evenweave.review(evenweave.sample("lantern_second_pass.obj"))
    again = evenweave.review(lantern.to_trimesh(), limits=lantern.whole.limits)
    for name in ("surface_m2", "area_uv", "stretch_p95", "density_px_per_m"):
        np.testing.assert_allclose(
            np.sort(again.islands[name]), np.sort(lantern.islands[name]), rtol=1e-6
        )
    assert {one.name for one in again.layouts} == {one.name for one in lantern.layouts}


def test_a_mesh_without_faces_is_one_sentence() -> None:
    with pytest.raises(evenweave.FileProblem, match="it has no faces; give a mesh with triangles"):
        evenweave.review(trimesh.Trimesh())


def test_a_file_that_is_not_there_is_one_sentence(tmp_path) -> None:
    with pytest.raises(evenweave.FileProblem):
        evenweave.review(tmp_path / "none.obj")


def test_a_dictionary_is_what_the_command_writes() -> None:
    schema = json.loads(resource("result.schema.json").read_text(encoding="utf-8"))
    told = evenweave.review(evenweave.sample("lantern_first_pass.obj")).to_dict()
    whole = {"evenweave": evenweave.__version__, "schema": 1, "files": [told]}
    jsonschema.validate(whole, schema)
    assert told["counts"]["open"]["fault"] > 0


def test_a_data_frame_holds_the_same_columns() -> None:
    pandas = pytest.importorskip("pandas")
    frame = evenweave.review(plate()).to_pandas()
    assert isinstance(frame, pandas.DataFrame)
    assert list(frame.columns) == list(evenweave.review(plate()).islands.dtype.names)


def test_what_is_safe_is_done_on_a_copy() -> None:
    uv = plate().visual.uv
    mesh = plate(0.2)
    mesh.visual.uv = uv + np.array([0.7, 0.0])
    done = evenweave.improve(mesh, seconds=0.5)
    checks = [{finding.check for finding in one.findings} for one in (done.before, done.after)]
    assert "crosses-tile" in checks[0]
    assert "crosses-tile" not in checks[1]
    assert done.has_changed
    assert done.files == ()
    np.testing.assert_array_equal(mesh.visual.uv, uv + np.array([0.7, 0.0]))


def test_a_copy_is_written_where_asked(tmp_path) -> None:
    source = tmp_path / "square.obj"
    source.write_text("v 0 0 0\nv 1 0 0\nv 1 1 0\nvt .8 .1\nvt 1.3 .1\nvt 1.3 .6\nf 1/1 2/2 3/3\n")
    done = evenweave.improve(source, tmp_path / "better.obj", seconds=0.5)
    assert done.files == (tmp_path / "better.obj",)
    again = evenweave.review(tmp_path / "better.obj")
    assert "crosses-tile" not in {finding.check for finding in again.findings}
