"""The catalogue: every number is named, written and explained in one place."""

import csv
import io
import json
import math
from typing import get_args

import pytest

from evenweave.limits.limits import DEFAULT
from evenweave.mesh.read import read
from evenweave.notes.outcome import Outcome
from evenweave.picture.scene.heat import heat
from evenweave.pipeline import review
from evenweave.places import resource, sample_assets
from evenweave.quantities.catalogue import BY_MODE, CATALOGUE, COVERAGE, OCTAVES, PADDING
from evenweave.quantities.quantity import Quantity
from evenweave.quantities.reference import reference
from evenweave.raster.look import COLOURS, Colours
from evenweave.report.machine.machine import file_result
from evenweave.report.machine.table import COLUMNS


def test_ids_are_used_once_and_every_quantity_is_explained() -> None:
    assert len({q.id for q in CATALOGUE}) == len(CATALOGUE)
    for q in CATALOGUE:
        assert q.label
        assert q.header
        assert q.formula
        assert q.source
        assert q.what.endswith(".")


def test_every_colour_mode_with_numbers_is_a_quantity_and_the_heat_reads_it() -> None:
    assert (
        set(BY_MODE)
        == set(COLOURS) - {"islands", "plain"}
        == set(get_args(Colours))
        - {
            "islands",
            "plain",
        }
    )
    layout = review(read(sample_assets() / "lantern_first_pass.obj"), DEFAULT).layouts[0]
    for mode, quantity in BY_MODE.items():
        shown = heat(layout, mode)  # type: ignore[arg-type]
        assert shown is not None
        assert (shown.label, shown.unit) == (quantity.label, quantity.unit)
        assert not quantity.tops or shown.high in quantity.tops


@pytest.mark.parametrize(
    ("quantity", "value", "written", "said"),
    [
        (OCTAVES, -1.0, "−1.00", "−1.00 octaves"),
        (OCTAVES, 0.004, "0.00", "0.00 octaves"),
        (COVERAGE, 0.618, "61.8", "61.8 %"),
        (PADDING, math.inf, "∞", "∞ texels"),
        (PADDING, math.nan, "–", "–"),
        (PADDING, 15.98, "16", "16 texels"),
    ],
)
def test_values_are_written_one_way(
    quantity: Quantity, value: float, written: str, said: str
) -> None:
    assert quantity.write(value) == written
    assert quantity.say(value) == said


def test_the_fields_named_stand_in_results_and_their_schema_says_the_same() -> None:
    asset = read(sample_assets() / "lantern_second_pass.obj")
    told = file_result(Outcome(asset.path, review=review(asset, DEFAULT)))
    schema = json.loads(resource("result.schema.json").read_text(encoding="utf-8"))["$defs"]
    for q in CATALOGUE:
        if not q.field:
            continue
        kind, *path = q.field.split(".")
        layout = told["layouts"][0]
        value, part = (layout["islands"][0] if kind == "island" else layout), schema[kind]
        for name in path:
            value, part = value[name], part["properties"][name]
        assert value is None or isinstance(value, int | float)
        assert part["description"] == f"{q.what} {q.formula}.", q.id


def test_the_columns_named_stand_in_the_table() -> None:
    columns = {q.column for q in CATALOGUE if q.column}
    assert columns <= set(COLUMNS)
    assert next(csv.reader(io.StringIO(",".join(COLUMNS)))) == list(COLUMNS)


def test_the_reference_page_is_current() -> None:
    assert resource("reference.md").read_text(encoding="utf-8") == reference()


def test_the_reference_page_names_every_measure_check_and_limit() -> None:
    from evenweave.check.catalogue import CHECK_IDS
    from evenweave.limits.limits import SETTINGS

    page = reference()
    for q in CATALOGUE:
        assert q.label in page
    for name in (*(f"`{id}`" for id in CHECK_IDS), *SETTINGS):
        assert name in page
