"""What the README and the guide say is what the program does: commands, columns, assumptions, keys, links."""

from __future__ import annotations

import argparse
import re
import shlex
from dataclasses import fields
from pathlib import Path

import pytest
from scipy.special import ndtr

from vinemap.cli import _parser
from vinemap.errors import Problem
from vinemap.files import diary_reader, stop_reader, vine_reader, weather_reader
from vinemap.files.text import LARGEST_BYTES
from vinemap.season.history import LIMIT_STEPS
from vinemap.service.bring_in import bring_in
from vinemap.service.sample import make_season, sample_folder
from vinemap.sheets.words import KIND_WORDS
from vinemap.work.assumptions import SOURCES, Assumptions
from vinemap.work.materials import MATERIALS, UNKNOWN
from vinemap.work.varieties import VARIETIES

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"
GUIDE = ROOT / "resources" / "guide"
PAGES = (README, *sorted(GUIDE.glob("*.md")))
LARGEST_PICTURE = 300_000


def text_of(page: Path) -> str:
    return page.read_text(encoding="utf-8")


ALL_TEXT = "\n".join(text_of(page) for page in PAGES)


def guide_page(number: int) -> str:
    (page,) = GUIDE.glob(f"{number}-*.md")
    return text_of(page)


def fenced(text: str, kind: str = "") -> list[str]:
    """The blocks of code of one kind."""
    return [body for found, body in re.findall(r"^```(\w*)\n(.*?)^```$", text, re.M | re.S) if found == kind]


def table_rows(text: str) -> list[list[str]]:
    """Cells of every line of every table, heads and rules included."""
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in text.splitlines() if line.startswith("|")]


def commands() -> dict[str, argparse.ArgumentParser]:
    (subparsers,) = (each for each in _parser()._actions if isinstance(each, argparse._SubParsersAction))
    return dict(subparsers.choices)


def test_the_first_paragraph_says_the_job() -> None:
    lines = text_of(README).splitlines()
    assert lines[0] == "# Vinemap"
    paragraph = " ".join(lines[1 : lines.index("", 2)]).strip()
    assert not paragraph.startswith(("#", "!", "`", "-"))
    for word in ("vineyard", "powdery mildew", "every vine", "how sure", "rows in order", "face", "map"):
        assert word in paragraph, word
    assert 3 <= paragraph.count(". ") + 1 <= 4
    assert len(lines) < 200


def test_both_starting_commands_stand_before_the_picture() -> None:
    text = text_of(README)
    picture = text.index("![")
    for command in ("python3 packaging/run.py", "python3 packaging/test.py"):
        assert 0 < text.index(command) < picture
        assert (ROOT / command.split()[1]).is_file()


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_links_and_pictures_exist(page: Path) -> None:
    targets = [each for each in re.findall(r"\]\(([^)]+)\)", text_of(page)) if "://" not in each]
    assert targets
    for target in targets:
        path, _, anchor = target.partition("#")
        file = (page.parent / path).resolve() if path else page
        assert file.is_file(), target
        if anchor:
            heads = [
                re.sub(r"[^\w -]", "", head.lower()).replace(" ", "-")
                for head in re.findall(r"^#+ (.*)$", text_of(file), re.M)
            ]
            assert anchor in heads, target


def test_pictures_are_small_and_used() -> None:
    pictures = sorted((GUIDE / "pictures").glob("*.png"))
    assert pictures
    for picture in pictures:
        assert picture.stat().st_size < LARGEST_PICTURE, picture.name
        assert f"pictures/{picture.name})" in ALL_TEXT, picture.name


def test_every_command_and_option_is_described() -> None:
    found = commands()
    assert len(found) > 5
    for name, parser in found.items():
        assert f"vinemap {name} " in ALL_TEXT, name
        for action in parser._actions:
            for option in action.option_strings:
                if option.startswith("--"):
                    assert f"{option} " in ALL_TEXT or f"{option}`" in ALL_TEXT, f"{name} {option}"
    assert "vinemap --version" in ALL_TEXT


def command_lines() -> list[str]:
    blocks = [block for page in PAGES for block in fenced(text_of(page))]
    return [line for block in blocks for line in block.splitlines() if line.startswith("vinemap ")]


@pytest.mark.parametrize("line", command_lines())
def test_every_command_written_down_is_understood(line: str) -> None:
    asked = _parser().parse_args(shlex.split(line)[1:])
    assert callable(asked.run)


def test_every_command_has_an_example() -> None:
    assert {line.split()[1] for line in command_lines()} == set(commands())


def test_every_assumption_stands_with_its_default_and_source() -> None:
    rows = {cells[1].strip("`"): cells for cells in table_rows(guide_page(5)) if len(cells) == 4 and cells[1].startswith("`")}
    assert set(rows) == {field.name for field in fields(Assumptions)} == set(SOURCES)
    for name, cells in rows.items():
        assert float(cells[2].split()[0]) == getattr(Assumptions(), name), name
        assert cells[3] == SOURCES[name], name


def test_every_material_stands_with_its_times() -> None:
    rows = {cells[0]: cells[1:] for cells in table_rows(guide_page(5)) if len(cells) == 6}
    for each in (*MATERIALS, UNKNOWN):
        cover = ", ".join(f"{days:g}" for days in each.cover_days)
        assert rows.pop(each.name) == [each.frac, f"{each.reentry_hours:g}", f"{each.preharvest_days}", cover, each.source]
    assert len(rows) == 2  # head and rule


def test_varieties_of_middling_rating_are_listed() -> None:
    assert {each.mildew for each in VARIETIES.values()} == {2, 3}
    (listed,) = re.findall(r"from memory of the trade: (.*)\.$", guide_page(5), re.M)
    assert set(listed.split(", ")) == {name for name, each in VARIETIES.items() if each.mildew == 2}


def test_letters_of_work_are_told_in_both_languages() -> None:
    rows = {cells[0]: cells[1:] for cells in table_rows(guide_page(8)) if len(cells[0]) == 1}
    assert rows == {letter: [words.english, words.spanish] for letter, words in KIND_WORDS.items()}


def test_every_column_that_is_read_is_named() -> None:
    columns = {*diary_reader.PASS_NEEDED, *diary_reader.SPRAY_NEEDED, *vine_reader.NEEDED}
    columns |= {*stop_reader.NEEDED, *stop_reader.KNOWN, *weather_reader.NEEDED, *weather_reader.KNOWN}
    words = set(re.findall(r"\w+", " ".join(re.findall(r"`([^`]+)`", guide_page(2)))))
    assert columns - words == set()


def test_figures_in_the_text_are_the_program_s() -> None:
    from vinemap.scouting.walk import MINUTES_A_STOP, WALKING_KMH
    from vinemap.service.next_walk import WALK_STOPS

    assert f"the last {LIMIT_STEPS} edits" in text_of(README)
    assert f"plans {WALK_STOPS} stops" in guide_page(3)
    assert f"a minute a stop and {WALKING_KMH:g} km/h" in " ".join(guide_page(3).split())
    assert MINUTES_A_STOP == 1.0
    assert f"Largest file: {LARGEST_BYTES // 10**6} MB" in guide_page(2)


def test_the_examples_of_the_readme_are_a_whole_estate(tmp_path: Path) -> None:
    pattern = r"^`([\w.]+)` \([^\n]*\)\n\n```(?:csv|json)\n(.*?)^```$"
    found = dict(re.findall(pattern, text_of(README), re.M | re.S))
    assert len(found) == 7
    for name, text in found.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    season, report = bring_in([tmp_path / name for name in found], None, "none")
    assert [str(problem) for problem in report.problems] == []
    assert [block.name for block in season.blocks] == ["Long Acre"]
    assert len(season.blocks[0].rows) == 2
    assert len(season.rounds[0].stops) == 2
    assert season.weather is not None
    assert (len(season.passes), len(season.sprays), len(season.stages)) == (1, 1, 2)


def test_every_figure_can_be_changed_in_the_window_as_the_guide_says(qtbot) -> None:
    pytest.importorskip("PySide6")
    from PySide6.QtWidgets import QDoubleSpinBox, QLabel, QWidget

    from vinemap.desk.figures import FiguresDialog
    from vinemap.desk.window import LEFT
    from vinemap.sheets.ink import LIGHT

    assert f"**{LEFT['Work']}** on step Work lists them all, each with its\nsource" in guide_page(5)
    holder = QWidget()
    qtbot.addWidget(holder)
    dialog = FiguresDialog(Assumptions(), LIGHT, holder)
    said = [label.text() for label in dialog.findChildren(QLabel)]
    assert set(SOURCES.values()) <= set(said)
    assert len(dialog.findChildren(QDoubleSpinBox)) == len(fields(Assumptions))
    assert dialog.figures() == Assumptions()


def test_every_verb_at_the_foot_of_the_ledger_is_in_the_guide(tmp_path: Path, qtbot) -> None:
    pytest.importorskip("PySide6")
    from vinemap.desk.window import LEFT, Window
    from vinemap.service.book import open_book

    window = Window(open_book(make_season(sample_folder() / "wattlequern", tmp_path / "w.vinemap", 1)))
    qtbot.addWidget(window)
    verbs = {window.open_verb.text(), "Undo", *LEFT.values()}
    window.close()
    assert len(verbs) == 6
    assert {verb for verb in verbs if f"**{verb}**" not in ALL_TEXT} == set()


def test_what_is_left_out_is_shown_as_the_guide_says() -> None:
    pytest.importorskip("PySide6")
    from vinemap.desk.asking import _left_out

    said = _left_out([Problem("a.csv", f"line {number}", "", "", "is bad", "mend it") for number in range(1, 8)])
    assert "The window shows the first four" in guide_page(2)
    assert "line 4" in said
    assert "line 5" not in said
    assert "7" in said


def test_choices_behind_map_and_gain_are_as_the_guide_says() -> None:
    from vinemap.service.answers import MOST_NOT_KNOWN
    from vinemap.surface.field import NEARLY_CLEAN_FRAC, WIDE_FRAC
    from vinemap.surface.latent import NOT_KNOWN_FROM, UNSURE_FROM
    from vinemap.work.gains import ENDS, FIFTHS

    points = [f"{100 * share:.0f}" for share in ndtr(FIFTHS)]
    assert f"its {', '.join(points[:-1])} and {points[-1]} % points" in " ".join(guide_page(5).split())
    assert ndtr(ENDS).tolist() == pytest.approx([0.05, 0.95], abs=1e-4)
    reading = " ".join(guide_page(4).split())
    assert f"begins below {100 * NEARLY_CLEAN_FRAC:.0f} % and is wider than {100 * WIDE_FRAC:.0f} points" in reading
    assert f"where {100 * UNSURE_FROM:.0f} %, and not known from where {100 * NOT_KNOWN_FROM:.0f} %" in reading
    assert MOST_NOT_KNOWN == 0.5
    assert "more than half of a span is not known" in reading


def keys_of(section: str) -> set[str]:
    """Keys in the tables of the keyboard page under one heading."""
    (body,) = re.findall(rf"^## {section}\n(.*?)(?=^## |\Z)", guide_page(9), re.M | re.S)
    return {key for cells in table_rows(body) for key in re.findall(r"`([^`]+)`", cells[0])}


def test_every_shortcut_of_the_window_is_on_the_keyboard_page(tmp_path: Path, qtbot) -> None:
    pytest.importorskip("PySide6")
    from PySide6.QtGui import QShortcut

    from vinemap.desk.window import Window
    from vinemap.service.book import open_book

    window = Window(open_book(make_season(sample_folder() / "wattlequern", tmp_path / "w.vinemap", 1)))
    qtbot.addWidget(window)
    shortcuts = {shortcut.key().toString() for shortcut in window.findChildren(QShortcut)}
    deeds = set(window.finding._deeds)
    window.close()
    assert len(shortcuts) > 10
    assert shortcuts == keys_of("Anywhere")
    (told,) = re.findall(r"something to do: (.*?)\.$", guide_page(1), re.M | re.S)
    assert deeds == set(re.findall(r"`([^`]+)`", told))


KEY_WORDS = {"PageDown": "Page Down", "PageUp": "Page Up", "Plus": "+", "Equal": "=", "Minus": "-", "Return": "Enter"}
KEY_WORDS["Escape"] = "Esc"
PARTS = {
    "canvas.py": "On the map",
    "head.py": "In the find line",
    "ledger_table.py": "In the ledger",
    "strip.py": "In the season strip",
    "paper_view.py": "On paper",
    "weather_view.py": "On the page of the pressure",
}


def test_every_key_of_a_part_of_the_window_is_on_the_keyboard_page() -> None:
    desk = ROOT / "vinemap" / "desk"
    with_keys = {file.name for file in desk.glob("*.py") if "def keyPressEvent" in text_of(file)}
    assert with_keys == set(PARTS)
    for name, section in PARTS.items():
        used = set(re.findall(r"Qt\.Key\.Key_(\w+)", text_of(desk / name)))
        assert used
        assert {KEY_WORDS.get(key, key) for key in used} == keys_of(section), name
