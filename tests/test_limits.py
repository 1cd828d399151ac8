"""Limits: ranges, rules by name, and their file."""

import os
import tomllib
from dataclasses import fields, replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenweave.check.catalogue import CHECK_IDS
from evenweave.errors import FileProblem, SettingsProblem
from evenweave.limits import file as limits_file
from evenweave.limits.file import (
    discover,
    limits_toml,
    read_limits,
    save_user_limits,
    write_limits,
)
from evenweave.limits.limits import (
    DEFAULT,
    SETTINGS,
    Importance,
    Limits,
    complaint,
    kind_of,
    range_of,
)

STUDIO = Limits(
    tile_width=4096,
    target_density=1024.0,
    padding_px=24.0,
    mip_level=5,
    density_unit="cm",
    udim=True,
    purposes=(("wall*", "tiling"), ("brass", "unique")),
    severities=(("stack", "off"), ("tiny", "fault")),
    importance=(
        Importance("material", "", 0.5),
        Importance("part", 'a "quoted" \\ name\n', 2.0),
        Importance("island", "brass/door 2", 3.0),
    ),
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "evenweave.toml"


def problem(path: Path, text: str) -> str:
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsProblem) as caught:
        read_limits(path)
    return str(caught.value)


# Values


def test_defaults_are_the_published_ones() -> None:
    assert (DEFAULT.stretch_p95, DEFAULT.stretch_median) == (1.5, 1.15)
    assert (DEFAULT.density_octaves, DEFAULT.density_range_octaves) == (0.25, 0.5)
    assert (DEFAULT.coverage, DEFAULT.tiny_px, DEFAULT.bow) == (0.7, 4.0, 0.02)
    assert (DEFAULT.required_padding_px, DEFAULT.required_margin_px) == (16.0, 8.0)


def test_padding_and_margin_follow_the_larger_side_of_the_tile() -> None:
    wide = Limits(tile_width=4096, tile_height=1024)
    assert (wide.required_padding_px, wide.required_margin_px) == (32.0, 16.0)
    assert replace(wide, padding_px=3.0).required_padding_px == 3.0


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("tile_width", 0),
        ("tile_width", 20000),
        ("tile_width", 2.0),
        ("coverage", 1.1),
        ("coverage", float("nan")),
        ("stretch_p95", 0.5),
        ("stretch_p95", None),
        ("target_density", 0.0),
        ("udim", 1),
        ("bow", True),
        ("density_unit", "inch"),
        ("mip_level", -1),
    ],
)
def test_values_out_of_range_are_refused(name: str, value: object) -> None:
    with pytest.raises(ValueError, match=name):
        replace(DEFAULT, **{name: value})


def test_an_importance_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="above 0"):
        Limits(importance=(Importance("part", "door", 0.0),))


@pytest.mark.parametrize("name", SETTINGS)
def test_every_setting_says_what_it_is_and_accepts_its_bounds(name: str) -> None:
    span, kind = range_of(name), kind_of(name)
    assert span.group
    assert span.meaning.endswith((".", "…"))
    assert complaint(name, getattr(DEFAULT, name)) == ""
    if kind in (int, float) and abs(span.least) < 1e300:
        assert complaint(name, kind(span.least)) == ""
        assert complaint(name, kind(span.least) - 1) != ""
    assert complaint(name, None) == ("" if span.word else f"must be {span.allowed(kind)}")


# Rules by name


def importance(limits: Limits, island: str = "door 2") -> float:
    return limits.importance_of(
        island, layout="brass", parts=["door", "hinge"], materials=["brass"]
    )


@pytest.mark.parametrize(
    ("rules", "factor"),
    [
        ([], 1.0),
        ([("material", "brass", 0.5)], 0.5),
        ([("material", "brass", 0.5), ("part", "hinge", 2.0)], 2.0),
        ([("part", "door", 2.0), ("part", "hinge", 3.0)], 3.0),
        ([("part", "d*", 2.0)], 2.0),
        ([("part", "door", 2.0), ("part", "d*", 5.0)], 2.0),
        ([("part", "d*", 2.0), ("part", "do*", 5.0)], 5.0),
        ([("part", "door", 2.0), ("island", "door 2", 0.25)], 0.25),
        ([("island", "brass/door 2", 4.0)], 4.0),
        ([("island", "glass/door 2", 4.0)], 1.0),
        ([("part", "DOOR", 4.0)], 1.0),
    ],
)
def test_the_most_particular_rule_counts(
    rules: list[tuple[str, str, float]], factor: float
) -> None:
    told = tuple(Importance(kind, name, value) for kind, name, value in rules)  # type: ignore[arg-type]
    assert importance(Limits(importance=told)) == factor


def test_a_name_with_brackets_fits_itself() -> None:
    limits = Limits(importance=(Importance("island", "door [2]", 2.0),))
    assert importance(limits, "door [2]") == 2.0


def test_a_purpose_goes_by_exact_name_before_patterns() -> None:
    limits = Limits(purposes=(("brass", "unique"), ("*", "tiling")))
    assert limits.purpose_of("brass") == "unique"
    assert limits.purpose_of("wall") == "tiling"
    assert DEFAULT.purpose_of("wall") == "unique"
    assert limits.states_purpose_of("brass")
    assert not DEFAULT.states_purpose_of("brass")


# The file


@pytest.mark.parametrize("limits", [DEFAULT, STUDIO], ids=["default", "studio"])
def test_what_is_written_is_read_back(path: Path, limits: Limits) -> None:
    write_limits(path, limits)
    assert read_limits(path) == limits


def test_the_file_names_every_setting_with_a_comment() -> None:
    text = limits_toml(DEFAULT)
    for name in SETTINGS:
        (at,) = (i for i, line in enumerate(text.splitlines()) if line.startswith(f"{name} = "))
        assert text.splitlines()[at - 1].startswith("# ")
    assert max(map(len, text.splitlines())) <= 100


def test_the_examples_in_comments_are_valid_when_uncommented(path: Path) -> None:
    lines = limits_toml(DEFAULT).splitlines()
    examples = {'# "wall*" = "tiling"', '# stack = "off"', "# brass = 1.5", '# "screw*" = 0.5',
                '# "brass/door" = 2.0'}  # fmt: skip
    assert examples <= set(lines)
    path.write_text("\n".join(line[2:] if line in examples else line for line in lines))
    assert len(read_limits(path).importance) == 3


def test_an_empty_file_is_the_defaults(path: Path) -> None:
    path.write_bytes(b"\xef\xbb\xbf")
    assert read_limits(path) == DEFAULT


_NAMES = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)


@settings(deadline=None, derandomize=True, max_examples=60)
@given(
    st.dictionaries(_NAMES, st.sampled_from(["unique", "tiling"]), max_size=3),
    st.dictionaries(_NAMES, st.floats(1e-6, 1e6), max_size=3),
    st.dictionaries(st.sampled_from(CHECK_IDS), st.sampled_from(["off", "note", "fault"])),
)
def test_any_names_survive_the_file(
    tmp_path_factory: pytest.TempPathFactory,
    purposes: dict[str, str],
    factors: dict[str, float],
    severities: dict[str, str],
) -> None:
    path = tmp_path_factory.mktemp("limits") / "evenweave.toml"
    limits = Limits(
        purposes=tuple(purposes.items()),  # type: ignore[arg-type]
        severities=tuple(severities.items()),
        importance=tuple(Importance("part", name, factor) for name, factor in factors.items()),
    )
    write_limits(path, limits)
    assert read_limits(path) == limits


def test_a_name_that_is_not_unicode_becomes_a_pattern_that_fits_it(path: Path) -> None:
    write_limits(path, Limits(importance=(Importance("part", "d\udcffr", 2.0),)))
    assert importance_of_part(read_limits(path), "d\udcffr") == 2.0


def importance_of_part(limits: Limits, part: str) -> float:
    return limits.importance_of("?", layout="brass", parts=[part], materials=[])


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("\nstrech_p95 = 2", "evenweave.toml, line 2: strech_p95 is not known; the nearest known "
         "name is stretch_p95."),
        ("coverage = 70", "evenweave.toml, line 1: coverage = 70 is not allowed; it must be a "
         "number from 0 to 1."),
        ('padding_px = "none"', 'evenweave.toml, line 1: padding_px = "none" is not allowed; it '
         'must be a number from 0 to 64, or "auto".'),
        ("udim = 1", "evenweave.toml, line 1: udim = 1 is not allowed; it must be true or false."),
        ("[severity]\nstack = \"loud\"", 'evenweave.toml, line 2: stack = "loud" is not allowed; '
         'use one of "off", "note", "warning", "fault".'),
        ("[severity]\nstrech = \"off\"", "evenweave.toml, line 2: severity strech is not known; "
         "the nearest known name is stretch."),
        ("[purpose]\nwall = \"tile\"", 'evenweave.toml, line 2: wall = "tile" is not allowed; '
         'use one of "unique", "tiling".'),
        ("[importance.part]\n\"door\" = -1", "evenweave.toml, line 2: importance -1 of door is "
         "not allowed; it must be a number above 0."),
        ("[importance.parts]\ndoor = 1", "evenweave.toml, line 1: importance parts is not known; "
         "the nearest known name is part."),
        ("importance = 3", "evenweave.toml, line 1: importance is not a table; write it as "
         "[importance] with lines below."),
        ("tile_width = 2048\ncoverage = ", "evenweave.toml, line 2: not valid TOML, invalid value; "
         "correct this line."),
        ("bow = 0.1\nbow = 0.2", "evenweave.toml, line 2: not valid TOML, cannot overwrite a "
         "value; correct this line."),
    ],
)  # fmt: skip
def test_a_complaint_names_line_key_and_what_is_allowed(
    path: Path, text: str, sentence: str
) -> None:
    assert problem(path, text) == sentence


def test_files_that_are_no_limits_are_refused_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "latin.toml").write_bytes(b'[purpose]\n"caf\xe9" = "tiling"\n')
    (tmp_path / "large.toml").write_bytes(b"#" * (limits_file.LARGEST_BYTES + 1))
    for name, cause in [
        ("latin.toml", "not text in UTF-8"),
        ("large.toml", "too large"),
        ("absent.toml", "no such file"),
        (".", "is a directory"),
    ]:
        with pytest.raises(SettingsProblem, match=cause):
            read_limits(tmp_path / name)


def test_limits_are_never_written_over_a_file_that_is_to_be_kept(path: Path) -> None:
    path.write_text("coverage = 0.5\n")
    with pytest.raises(FileProblem, match="exists already"):
        write_limits(path, DEFAULT, replace=False)
    assert path.read_text() == "coverage = 0.5\n"


def test_the_nearest_file_upward_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    deep = tmp_path / "assets" / "lantern"
    deep.mkdir(parents=True)
    root = Path(tmp_path.anchor)
    assert discover(root) == limits_file.FoundLimits(DEFAULT, None)
    own = save_user_limits(Limits(coverage=0.1))
    assert discover(root) == limits_file.FoundLimits(Limits(coverage=0.1), own)
    write_limits(tmp_path / "evenweave.toml", Limits(coverage=0.2))
    assert discover(deep).limits.coverage == 0.2
    write_limits(deep / "evenweave.toml", Limits(coverage=0.3))
    monkeypatch.chdir(deep)
    assert discover(Path()).limits.coverage == 0.3


def test_saving_leaves_nothing_behind_but_the_file(tmp_path: Path) -> None:
    write_limits(tmp_path / "evenweave.toml", DEFAULT)
    assert os.listdir(tmp_path) == ["evenweave.toml"]


def test_limits_are_plain_data_that_can_be_compared_and_hashed() -> None:
    assert hash(STUDIO) == hash(replace(STUDIO))
    assert STUDIO != DEFAULT
    assert {field.name for field in fields(Limits)} == {
        *SETTINGS, "purposes", "severities", "importance", "sets",
    }  # fmt: skip
    assert tomllib.loads(limits_toml(DEFAULT)).keys() == {
        *SETTINGS, "purpose", "severity", "importance",
    }  # fmt: skip


def test_a_file_that_gives_a_tile_leaves_it_no_texture_to_decide(tmp_path: Path) -> None:
    path = tmp_path / "evenweave.toml"
    path.write_text("tile_width = 2048\n")
    assert not read_limits(path).takes_tile_from_texture
    path.write_text("tile_width = 2048\ntile_from_texture = true\n")
    assert read_limits(path).takes_tile_from_texture
    path.write_text("udim = true\n")
    assert read_limits(path).takes_tile_from_texture


LIT = """
[set."lm*"]
use = "lightmap"
padding_px = 3

[set.TEXCOORD_1]
coverage = 0.2
"""


def test_a_set_has_limits_of_its_own(path: Path) -> None:
    path.write_text(LIT)
    limits = read_limits(path)
    lightmap = limits.in_set("lm0")
    assert limits.use_of("lm0") == "lightmap"
    assert (lightmap.tile_width, lightmap.padding_px, lightmap.coverage) == (256, 3, 0.7)
    assert limits.in_set("TEXCOORD_1").coverage == 0.2
    assert limits.use_of("TEXCOORD_1") == "texture"
    assert limits.in_set("uv") is limits
    write_limits(path, limits)
    assert read_limits(path) == limits


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ('[set.a]\nuse = "shadow"\n', "line 2", '"texture" or "lightmap"'),
        ("[set.a]\ntile_width = 0\n", "line 2", "a whole number from 1"),
        ("[set.a]\ntiles = 3\n", "line 2", "set a tiles is not known"),
        ("set = 3\n", "line 1", "table"),
    ],
)
def test_a_complaint_about_a_set_names_its_line(
    path: Path, text: str, line: str, words: str
) -> None:
    path.write_text(text)
    with pytest.raises(SettingsProblem) as told:
        read_limits(path)
    assert told.value.place == line
    assert words in str(told.value)
