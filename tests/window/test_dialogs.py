"""The dialogs: limits, importance, severities, materials, pictures."""

from dataclasses import fields, replace
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot
from tests.window.reviews import sheet_review, show

from evenweave.limits.file import read_limits, user_limits_path
from evenweave.limits.limits import DEFAULT, SETTINGS, Importance, Limits
from evenweave.limits.sets import SetLimits
from evenweave.window.dialogs.export_dialog import SIZES, ExportChoice, ExportDialog
from evenweave.window.dialogs.limits_dialog import LimitsDialog
from evenweave.window.dialogs.merge_dialog import MergeDialog
from evenweave.window.dialogs.setting_field import SettingField
from evenweave.window.services.session import Session

UNUSUAL = Limits(
    tile_width=4096, tile_height=1024, tile_from_texture=False, udim=True, target_density=812.5,
    layout_density_octaves=0.3, density_unit="cm",
    density_octaves=0.5, density_range_octaves=1.0, density_step_octaves=0.75, stretch_p95=2.5,
    stretch_median=1.25, mirrored=True, overlap_px2=3.0, padding_px=12.0, margin_px=6.5,
    mip_level=3, coverage=0.5, tiny_px=8.0, fragment_surface=0.004,
    fragment_outline=0.4, hard_edge_m=0.125, bow=0.05, purposes=(("brass", "tiling"),),
    severities=(("stretch", "fault"), ("stack", "off")),
    sets=(SetLimits("lm*", "lightmap", (("tile_width", 128), ("padding_px", None))),),
    importance=(Importance("part", "part 1", 2.0), Importance("material", "gl*", 0.5)),
)  # fmt: skip


def test_the_dialog_gives_back_every_limit_as_it_was_given(session: Session, qtbot: QtBot) -> None:
    assert all(getattr(UNUSUAL, one.name) != getattr(DEFAULT, one.name) for one in fields(Limits))
    show(session, sheet_review(6))
    dialog = LimitsDialog(session)
    qtbot.addWidget(dialog)
    for limits in (UNUSUAL, DEFAULT):
        dialog.show_limits(limits)
        assert dialog.edited == limits


@pytest.mark.parametrize("name", SETTINGS)
def test_every_limit_has_a_name_of_its_own_and_says_what_it_means(name: str, qtbot: QtBot) -> None:
    field = SettingField(name)
    qtbot.addWidget(field)
    assert field.title[0].isupper()
    assert field.meaning
    field.set_value(getattr(UNUSUAL, name))
    assert field.value == getattr(UNUSUAL, name)


def test_limits_kept_for_good_lie_in_the_users_file_and_apply(
    session: Session, qtbot: QtBot
) -> None:
    show(session, sheet_review(6))
    dialog = LimitsDialog(session)
    qtbot.addWidget(dialog)
    dialog.show_limits(replace(DEFAULT, stretch_p95=2.0))
    dialog.keep_own()
    assert read_limits(user_limits_path()).stretch_p95 == 2.0
    assert session.limits.stretch_p95 == 2.0
    assert session.limits_path == user_limits_path()
    assert str(user_limits_path()) in dialog.source.text()


def test_a_file_of_limits_that_cannot_be_written_is_told(
    session: Session, qtbot: QtBot, tmp_path: Path
) -> None:
    show(session, sheet_review(6))
    dialog = LimitsDialog(session)
    qtbot.addWidget(dialog)
    dialog.keep_as(tmp_path)
    assert "folder" in dialog.problem.text()
    assert session.limits_path is None


def test_materials_are_put_together_and_taken_apart(qtbot: QtBot) -> None:
    dialog = MergeDialog(("brass", "glass", "cork"), ())
    qtbot.addWidget(dialog)
    dialog.list.item(0).setSelected(True)
    dialog.list.item(2).setSelected(True)
    dialog.join.click()
    assert dialog.merged == (("brass", "cork"),)
    assert dialog.list.count() == 2
    dialog.list.item(0).setSelected(True)
    dialog.part.click()
    assert dialog.merged == ()


def test_the_export_dialog_offers_sizes_and_asks_for_a_proof(qtbot: QtBot) -> None:
    dialog = ExportDialog(ExportChoice(view="solid", width=1000, height=500))
    qtbot.addWidget(dialog)
    assert dialog.size_choice.currentIndex() == len(SIZES)
    with qtbot.waitSignal(dialog.proof_asked) as asked:
        dialog.size_choice.setCurrentIndex(3)
        dialog.size_choice.activated.emit(3)
    assert asked.args[0] == ExportChoice(view="solid", width=3840, height=2160)
    dialog.width_box.setValue(4000)
    assert dialog.size_choice.currentIndex() == len(SIZES)
