"""The command that copies a season."""

import pytest

from vinemap.cli import main
from vinemap.files.season_file import open_season, read_season
from vinemap.service.sample import make_season, sample_folder


@pytest.fixture(scope="module")
def season_path(tmp_path_factory):
    folder = tmp_path_factory.mktemp("copy")
    return make_season(sample_folder() / "wattlequern", folder / "mine.vinemap", 1)


def test_a_season_is_copied_while_it_is_open(season_path, tmp_path, capsys):
    target = tmp_path / "copy.vinemap"
    with open_season(season_path) as opened:
        assert main(["copy", str(season_path), str(target)]) == 0
        assert read_season(target).estate.name == opened.season.estate.name
    assert capsys.readouterr().out == f"copied to {target}\n"
    assert main(["copy", str(season_path), str(target)]) == 2
    assert "There is already a file “copy.vinemap”" in capsys.readouterr().err


def test_what_is_no_season_is_not_copied(tmp_path, capsys):
    (tmp_path / "a.csv").write_text("a,b\n1,2\n")
    assert main(["copy", str(tmp_path / "a.csv"), str(tmp_path / "b.vinemap")]) == 2
    assert "is not a season file" in capsys.readouterr().err
    assert not (tmp_path / "b.vinemap").exists()
