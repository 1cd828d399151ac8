"""The catalogue: ids never change, and every check has its words."""

import string

import pytest

from evenweave.check.catalogue import CHECK_IDS, CHECKS
from evenweave.check.texts import FIELDS, templates

# Ids stand in people's files of limits and build scripts: add to this list, never change it.
IDS_FOR_EVER = {
    "no-uvs", "not-finite", "degenerate", "tiling-hint", "outside-tile", "crosses-tile", "overlap",
    "self-overlap", "padding", "margin", "mip", "stretch", "density", "density-range",
    "density-step", "budget", "flipped", "tiny", "coverage", "hard-edge", "fragment", "bowed",
    "stack", "own-check", "udim-hint", "unit-hint", "texture-size",
    "layout-density", "lightmap-stack", "mirrored-bake",
}  # fmt: skip


def test_ids_never_change_and_are_used_once() -> None:
    assert set(CHECK_IDS) == IDS_FOR_EVER
    assert len(CHECK_IDS) == len(IDS_FOR_EVER)


def test_the_texts_are_those_of_the_checks_in_the_same_file() -> None:
    assert set(templates()) == set(CHECK_IDS)


@pytest.mark.parametrize("check", CHECK_IDS)
def test_every_check_has_all_words(check: str) -> None:
    for field in FIELDS:
        assert templates()[check][field].strip()


@pytest.mark.parametrize("check", CHECK_IDS)
def test_sentences_end_with_a_full_stop_and_titles_do_not(check: str) -> None:
    for key, text in templates()[check].items():
        if key.startswith("title"):
            assert not text.endswith(".")
        else:
            assert text.endswith("."), f"{check}.{key}"
        assert "  " not in text
        assert "!" not in text


@pytest.mark.parametrize("check", CHECK_IDS)
def test_what_is_one_sentence_or_two_and_carries_what_was_found(check: str) -> None:
    for key, text in templates()[check].items():
        if key.startswith("what"):
            assert any(name for _, name, _, _ in string.Formatter().parse(text)), f"{check}.{key}"
            assert text.count(". ") <= 1


@pytest.mark.parametrize("check", [check.id for check in CHECKS if check.unit == "texels"])
def test_texels_are_said_to_be_texels(check: str) -> None:
    assert "texel" in templates()[check]["what"]
