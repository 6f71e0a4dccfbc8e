"""Give out what the season holds, asked for by hand: what, where to, and for a sprayer how much."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFileDialog, QInputDialog

from vinemap.desk.verbs import Verb
from vinemap.errors import InputError
from vinemap.files.taskdata import LEAST_L_PER_HA, MOST_L_PER_HA, XML_NAME
from vinemap.service.give_out import give_out
from vinemap.service.given import WHATS, Asked
from vinemap.service.given_tables import ESTATE, TABLES

if TYPE_CHECKING:
    from vinemap.desk.window import Window

GIVE = "Give out"
TASK = f"a task for a sprayer (*.zip {XML_NAME})"
MAPS = (
    "GeoPackage (*.gpkg)",
    "GeoJSON (*.geojson)",
    "shapefile (*.shp)",
    "table (*.csv)",
    "KML (*.kml)",
    "waypoints for a phone (*.gpx)",
)
ENDINGS = (".gpkg", ".geojson", ".json", ".shp", ".csv", ".kml", ".gpx", ".zip", ".xml")
_FIRST = {"walk": MAPS[-1], "zones": TASK}


class Giving:
    """The verb and the deed of giving out."""

    def __init__(self, window: Window) -> None:
        self._window = window
        self.verb = Verb(GIVE, window.ink)
        self.verb.clicked.connect(self.give)

    # ---- asking: replaced in tests

    def ask_what(self) -> str:
        """What to give out; "" when the manager thinks again."""
        lines = [f"{name}: {words}" for name, words in WHATS.items()]
        line, is_chosen = QInputDialog.getItem(self._window, GIVE, "What shall be given out?", lines, editable=False)
        return line.partition(":")[0] if is_chosen else ""

    def ask_rate(self) -> float | None:
        """Litres per hectare of the strips to spray."""
        words = "Litres per hectare, as the label allows:"
        rate, is_given = QInputDialog.getDouble(self._window, GIVE, words, LEAST_L_PER_HA, LEAST_L_PER_HA, MOST_L_PER_HA, 1)
        return rate if is_given else None

    def ask_place(self, proposed: Path, kinds: tuple[str, ...]) -> Path | None:
        """Where to; the dialog asks before a file that is in the way is replaced."""
        name, kind = QFileDialog.getSaveFileName(self._window, GIVE, str(proposed), ";;".join(kinds))
        if not name:
            return None
        ending = "." + kind.partition("*.")[2].split(")")[0].split()[0] if "*." in kind else ""
        is_told = Path(name).suffix.lower() in ENDINGS
        whole = Path(name if is_told else name + ending)
        # nobody was asked about a file of the longer name
        return whole if str(whole) == name or not whole.exists() else Path(name)

    # ---- doing

    def give(self) -> None:
        """Give out what is asked for, as it is known in the round in view."""
        what = self.ask_what()
        if not what:
            return
        rate = self.ask_rate() if what == "zones" else None
        if what == "zones" and rate is None:
            return
        window = self._window
        kinds: tuple[str, ...] = (MAPS[3],) if what in TABLES else ("JSON (*.json)",) if what == ESTATE else MAPS
        first = _FIRST.get(what)
        if first:
            kinds = (first, *(kind for kind in kinds if kind != first))
        place = self.ask_place(window.book.path.with_name(f"{window.book.path.stem}-{what}"), kinds)
        if place is not None:
            window.try_to(lambda: self._give(Asked(what, place, rate)))

    def _give(self, asked: Asked) -> None:
        window = self._window
        season = window.book.season
        if asked.out.suffix == ".vinemap" or (asked.out.exists() and asked.out.samefile(window.book.path)):
            raise InputError(f"{asked.out.name} can't be written over.", "Choose another name.")
        scouted = window.steps.round_of(season, window.state) if asked.what != "stops" else None
        answers = window.steps.answers
        if scouted is not None:
            # what takes long is made beside the window, never while it waits
            needs_rows = asked.what in ("work", "zones")
            if needs_rows and not answers.has_ranking(season, scouted):
                raise InputError("The rows are not in order yet.", "Go to step Work, and give them out once it shows them.")
            if asked.what in ("field", "walk") and not answers.has_reads(season, scouted):
                raise InputError(
                    "The map of this round is not made yet.", "Go to step Read, and give it out once it is shown."
                )
        said = give_out(season, scouted, answers, asked)
        window.ledger.show_refusal(" ".join(f"{each[:1].upper()}{each[1:].rstrip('.')}." for each in said))
