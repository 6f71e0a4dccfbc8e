"""What goes on paper: the crew's map of each block, from the rows in order."""

from __future__ import annotations

import datetime as dt
import hashlib

from vinemap.ground.block import Block
from vinemap.scouting.rounds import Round
from vinemap.season.value import Season
from vinemap.service.answers import Ranking
from vinemap.sheets.bands import Piece
from vinemap.sheets.crew_map import BlockPlan, KeepOut
from vinemap.sheets.words import Both
from vinemap.vineclock.stage import date_words
from vinemap.work.conditions import closed_until
from vinemap.work.ranking import OPEN, RowWork


def block_plan(block: Block, scouted: Round, ranking: Ranking, season: Season, printed: dt.datetime) -> BlockPlan:
    """The plan of one block on the day of a round: rows to open, then rows to spray, first ones only."""
    opening = [work for work in ranking.opening if work.block == block.name and work.is_first]
    spraying = [work for work in ranking.spraying if work.block == block.name and work.is_first]
    opened_rows = {work.row for work in opening}
    both = [work for work in spraying if work.row in opened_rows]
    works = opening + [work for work in spraying if work.row not in opened_rows]
    at = dt.datetime.combine(ranking.date, dt.time(0, 0))
    closed = closed_until(block.name, season.sprays, at)
    return BlockPlan(
        block=block,
        vines=ranking.reads[block.name].vines,
        estate=season.estate.name,
        date=ranking.date,
        pieces=tuple(_piece(work, ranking) for work in works),
        round_words=f"round {scouted.number} of {date_words(scouted.date)}",
        plan_words=f"from {len(ranking.reads[block.name].stops)} stops",
        code=sheet_code(season, block.name, ranking.date),
        printed=printed,
        keep_out=(KeepOut(at, closed),) if closed else (),
        cautions=_spray_after(both),
        why_none=Both(*_why_none(block.name, ranking)) if not works else Both("", ""),
        is_invented=season.estate.is_invented,
    )


def _piece(work: RowWork, ranking: Ranking) -> Piece:
    if work.work != OPEN:
        return Piece(work.row, work.first_vine, work.last_vine, work.letter, 0, "", work.hours * 60.0)
    first = ranking.faces[work.block].choice(work.row).first
    side, face = (2, "both") if work.letter == "D" else (first.side, first.name)
    return Piece(work.row, work.first_vine, work.last_vine, work.letter, side, face, work.hours * 60.0)


def _spray_after(works: list[RowWork]) -> tuple[Both, ...]:
    if not works:
        return ()
    rows = ", ".join(work.label for work in sorted(works, key=lambda work: work.row))
    return (Both(f"Sprayed after opening: rows {rows}.", f"Se pulverizan después de abrir: hileras {rows}."),)


def _why_none(name: str, ranking: Ranking) -> tuple[str, str]:
    if name not in ranking.days:
        return "Nobody has scouted here in this round.", "Nadie ha revisado aquí en esta ronda."
    day = ranking.days[name]
    if day.horizon <= day.date or day.window == 0.0:
        return "The fruit resists now: no new infection.", "La fruta ya resiste: no hay infección nueva."
    return "Other blocks come first this week.", "Otros bloques van primero esta semana."


def sheet_code(season: Season, block: str, date: dt.date) -> str:
    """A short code that tells one printed sheet from another: same estate, block and date, same code."""
    text = f"{season.estate.name}|{block}|{date.isoformat()}"
    letters = hashlib.blake2s(text.encode(), digest_size=4).hexdigest().upper()
    initials = "".join(word[0] for word in season.estate.name.split()[:2]).upper()
    return f"{initials}-{letters[:4]}"
