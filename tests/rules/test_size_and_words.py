"""Files stay small, functions stay short, public names explain themselves, and no text leaks a place or a private page."""

from __future__ import annotations

import ast
import os
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FILE_LINES, FUNCTION_LINES, PARAMETERS = 400, 60, 8
PURE = ("ground", "scouting", "surface", "vineclock", "canopy", "work", "season", "sheets")
Function = ast.FunctionDef | ast.AsyncFunctionDef


def python_files(*tops: str) -> list[Path]:
    return sorted(file for top in tops for file in (ROOT / top).rglob("*.py"))


def functions(tree: ast.AST) -> Iterator[Function]:
    return (node for node in ast.walk(tree) if isinstance(node, Function))


def code_lines(function: Function, text: list[str]) -> int:
    """Count lines with code on them: no blank lines, comments or docstring."""
    body = function.body
    doc = range(0)
    if ast.get_docstring(function, clean=False) is not None:
        doc = range(body[0].lineno, (body[0].end_lineno or body[0].lineno) + 1)
    numbers = range(function.lineno, (function.end_lineno or function.lineno) + 1)
    return sum(1 for n in numbers if n not in doc and text[n - 1].strip() and not text[n - 1].lstrip().startswith("#"))


def parameter_count(function: Function) -> int:
    taken = function.args
    names = [each.arg for each in (*taken.posonlyargs, *taken.args, *taken.kwonlyargs)]
    return len([name for name in names if name not in ("self", "cls")])


def oversize(text: str) -> list[str]:
    lines = text.splitlines()
    found = [f"{len(lines)} lines"] if len(lines) > FILE_LINES else []
    for function in functions(ast.parse(text)):
        if (count := code_lines(function, lines)) > FUNCTION_LINES:
            found.append(f"{function.name} has {count} lines of code")
        if (count := parameter_count(function)) > PARAMETERS:
            found.append(f"{function.name} takes {count} parameters")
    return found


def test_files_and_functions_stay_within_their_budget() -> None:
    files = python_files("vinemap", "packaging", "sample_blocks")
    assert len(files) > 20
    found = {str(file.relative_to(ROOT)): oversize(file.read_text(encoding="utf-8")) for file in files}
    assert {name: what for name, what in found.items() if what} == {}


def test_test_files_stay_within_their_budget() -> None:
    found = {file.name: len(file.read_text(encoding="utf-8").splitlines()) for file in python_files("tests")}
    assert {name: count for name, count in found.items() if count > FILE_LINES} == {}


def test_the_budget_notices() -> None:
    long = 'def f():\n    """Long\n    words."""\n' + "    # why\n\n    a = 1\n" * (FUNCTION_LINES - 1)
    assert oversize(long) == []
    assert oversize(long + "    a = 2\n") == ["f has 61 lines of code"]
    assert oversize("def f(a, b, c, d, e, f, g, h, *, i): ...") == ["f takes 9 parameters"]
    assert oversize("def f(self, a, b, c, d, e, f, g, h): ...") == []
    assert oversize("a = 1\n" * 401) == ["401 lines"]


def undocumented(text: str) -> list[str]:
    """Return public functions, classes and public methods of public classes that say nothing of themselves.

    A protocol speaks for its members: they are only the columns that it asks of others.
    """
    tree = ast.parse(text)
    found = [] if ast.get_docstring(tree) else ["the module"]
    nodes = [("", node) for node in tree.body]
    classes = [node for node in tree.body if isinstance(node, ast.ClassDef) and node.name[0] != "_"]
    open_classes = [each for each in classes if "Protocol" not in [ast.unparse(base) for base in each.bases]]
    nodes += [(f"{each.name}.", node) for each in open_classes for node in each.body]
    for owner, node in nodes:
        if isinstance(node, Function | ast.ClassDef) and node.name[0] != "_" and not ast.get_docstring(node):
            found.append(owner + node.name)
    return found


def test_public_names_of_pure_packages_explain_themselves() -> None:
    files = python_files(*(f"vinemap/{package}" for package in PURE))
    files += [ROOT / "vinemap" / f"{name}.py" for name in ("errors", "units", "columns")]
    found = {str(file.relative_to(ROOT)): undocumented(file.read_text(encoding="utf-8")) for file in files}
    assert {name: what for name, what in found.items() if what} == {}


def test_the_docstring_check_notices() -> None:
    text = '"""M."""\ndef open(): ...\ndef _own(): ...\nclass Row:\n    """R."""\n    def at(self): ...\n'
    assert undocumented(text) == ["open", "Row.at"]
    assert undocumented("") == ["the module"]
    assert undocumented('"""M."""\nclass Row(Protocol):\n    """R."""\n    def at(self): ...\n') == []


# Each is split so that this file does not hold it.
UNWANTED = {
    "a path of one machine": r"(?<![\w.])/(?:wo" r"rk|tm" r"p|ro" r"ot|ho" r"me/\w+|Us" r"ers)/|[A-Z]:\\Us" r"ers",
    "a package server": r"py" r"pi\.org|python" r"hosted|regis" r"try\.|arti" r"factory",
    "a private page": r"(?i)\bhand"
    r"book\b|\bdes"
    r"ign\.md|\bsty"
    r"le\.md|\blo"
    r"ok\.md|\btok"
    r"ens\.md|\bthe br"
    r"ief\b",
    "how it was made": r"(?i)\bsub-?ag" r"ent\b|\bhel" r"per (?:says|said)\b|\bclau" r"de\b|\blanguage mod" r"el\b",
}
TEXT = {".py", ".md", ".toml", ".txt", ".json", ".csv", ".geojson", ".cfg", ".yml", ".yaml", ".sh", ".svg", ""}
NOT_OURS = {".git", ".venv", "__pycache__", "vinemap-out", "build", "dist", ".hypothesis", "OFL.txt"}


def text_files() -> list[Path]:
    caches = re.compile(r"\..*_cache$")
    found = []
    for folder, folders, files in os.walk(ROOT):
        folders[:] = [name for name in folders if name not in NOT_OURS and not caches.match(name)]
        found += [Path(folder) / name for name in files if Path(name).suffix in TEXT and name not in NOT_OURS]
    return sorted(found)


def unwanted(text: str) -> list[str]:
    return [f"{what}: {hit[0]}" for what, pattern in UNWANTED.items() for hit in re.finditer(pattern, text)]


def test_no_text_names_a_machine_or_a_private_page() -> None:
    files = text_files()
    assert ROOT / "pyproject.toml" in files
    assert Path(__file__) in files
    found = {str(file.relative_to(ROOT)): unwanted(file.read_text(encoding="utf-8")) for file in files}
    assert {name: what for name, what in found.items() if what} == {}


@pytest.mark.parametrize(
    "text",
    [
        "see /" + "work/main",
        "in /" + "tmp/x",
        "https://py" + "pi.org/simple",
        "the hand" + "book, part 2",
        "C:\\Us" + "ers\\me",
    ],
)
def test_the_word_check_notices(text: str) -> None:
    assert len(unwanted(text)) == 1
    assert unwanted("vinemap/work/diary.py, https://example.invalid/home/page, workplace") == []
