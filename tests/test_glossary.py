"""One word for one thing: the glossary in DEVELOPERS.md, held over every identifier."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
FILES = sorted((ROOT / "app" / "evenweave").rglob("*.py"))
GLOSSARY = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")

# "| finding | what a check found | warning, remark, told |": the last column is not used in code.
ROWS = re.findall(r"^\| \*\*(.+?)\*\* \| (.+?) \|(.*)\|$", GLOSSARY, re.MULTILINE)
REFUSED = {word: row[0] for row in ROWS for word in re.findall(r"`(\w+)`", row[2])}
NAMELESS = {"one", "found", "done", "each", "told", "it", "thing", "data_", "tmp", "obj"}
"""Names of parameters that say nothing of what they are."""


def identifiers(tree: ast.AST) -> set[str]:
    """Every name that a file gives: classes, functions, parameters, attributes, variables."""
    names = set()
    for node in ast.walk(tree):
        match node:
            case ast.ClassDef() | ast.FunctionDef():
                names.add(node.name)
            case ast.arg():
                names.add(node.arg)
            case ast.Name(ctx=ast.Store()) if node.id != "WARNING":  # the grade
                names.add(node.id)
            case ast.Attribute(ctx=ast.Store()):
                names.add(node.attr)
    return names


def words(identifier: str) -> set[str]:
    """The words of an identifier, in small letters and the singular."""
    split = re.findall(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])", identifier)
    return {word.lower() for word in split} | {word.lower().removesuffix("s") for word in split}


def test_the_glossary_has_rows_and_refuses_words() -> None:
    assert len(ROWS) >= 15
    assert "straggler" in REFUSED


def test_words_are_split_and_singular() -> None:
    assert words("PackWish") == {"pack", "wish"}
    assert "warning" in words("_most_warnings")


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT / "app")))
def test_no_identifier_uses_a_word_that_the_glossary_refuses(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    wrong = {
        f"{name}: say {REFUSED[word]}"
        for name in identifiers(tree)
        for word in words(name) & REFUSED.keys()
    }
    assert not wrong


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT / "app")))
def test_parameters_say_what_they_are(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    wrong = {
        f"{node.name}({argument.arg})"
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef)
        for argument in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
        if argument.arg in NAMELESS
    }
    assert not wrong
