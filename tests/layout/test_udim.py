"""UDIM numbers of tiles, against OpenUSD and published files that spread over several tiles."""

from pathlib import Path

import numpy as np
import pytest
from pxr import Sdf, UsdShade
from tests import shapes

from evenweave.check.rules.place import crosses
from evenweave.layout import udim
from evenweave.limits.limits import Limits
from evenweave.mesh.asset import Asset
from evenweave.picture.outlines import painted_tiles, tile_files
from evenweave.pipeline import review


def square(u: float, v: float, width: float = 0.98, height: float = 0.98) -> Asset:
    return shapes.plane(width, height, bounds=(u, v, u + width, v + height))


def numbers(asset: Asset) -> list[int | None]:
    judged = review(asset, Limits(udim=True)).layouts[0]
    return [udim.number(*tile) for tile in judged.measures.coverage.tile.tolist()]


def test_openusd_resolves_the_files_of_exactly_the_tiles_that_have_a_number(tmp_path: Path) -> None:
    tiles = [(column, row) for row in range(-1, 12) for column in range(-1, 12)]
    numbered = {udim.number(*tile) for tile in tiles} - {None}
    for number in range(990, 1130):
        (tmp_path / f"brass.{number}.png").touch()
    layer = Sdf.Layer.CreateNew(str(tmp_path / "prop.usda"))
    found = UsdShade.UdimUtils.ResolveUdimTilePaths(str(tmp_path / "brass.<UDIM>.png"), layer)
    assert {int(number) for _, number in found} == numbered
    names = tile_files(tmp_path / "brass.png", [(0, 0), (9, 9), (3, 1)])
    assert {path.name for path in names.values()} <= {Path(path).name for path, _ in found}


@pytest.mark.parametrize("column", [-1, 0, 4, 9, 10])
@pytest.mark.parametrize("row", [-1, 0, 9, 10])
def test_one_tile_and_many_are_judged_alike(column: int, row: int) -> None:
    tile = np.array([[column, row]], dtype=np.int32)
    is_numbered = udim.number(column, row) is not None
    assert udim.has_number(tile).tolist() == [is_numbered]
    assert (udim.beyond_numbers(tile) == 0).all() == is_numbered


def test_six_squares_in_six_tiles() -> None:
    """The UVs of the example model six_tiles_cube of MaterialX."""
    places = [(0, 0), (1, 0), (2, 0), (0, 1), (1, 1), (2, 1)]
    cube = shapes.together(*(square(u + 0.01, v + 0.01) for u, v in places))
    assert sorted(filter(None, numbers(cube))) == [1001, 1002, 1003, 1011, 1012, 1013]
    (judged,) = review(cube, Limits(udim=True)).layouts
    assert painted_tiles(judged) == sorted(places)
    assert "outside-tile" not in {finding.check for finding in judged.findings}


def test_one_rectangle_over_twenty_tiles() -> None:
    """The rectangle of OpenUSD's test file usdUdims.usda, texture coordinates 0-10 by 0-2."""
    rectangle = square(0.0, 0.0, 10.0, 2.0)
    assert numbers(rectangle) == [1016]  # the tile up and right of its middle, (5, 1)
    (judged,) = review(rectangle, Limits(udim=True)).layouts
    assert crosses(judged.measures.island, Limits(udim=True)).all()
