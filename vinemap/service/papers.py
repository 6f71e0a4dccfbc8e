"""What goes on paper: the crew's map of each block, from the rows in order."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence

from vinemap.ground.block import Block
from vinemap.scouting.rounds import Round
from vinemap.season.value import Season
from vinemap.service.answers import MOST_NOT_KNOWN, BlockRead, Ranking
from vinemap.service.pages import at_threshold, read_page
from vinemap.service.report import counted
from vinemap.sheets.bands import Piece
from vinemap.sheets.crew_map import BlockPlan, KeepOut
from vinemap.sheets.read_ledger import RowShare
from vinemap.sheets.read_map import ReadPlan
from vinemap.sheets.words import Both
from vinemap.vineclock.stage import date_words
from vinemap.work.conditions import closed_on
from vinemap.work.ranking import OPEN, RowWork

WALKING_LETTERS = ("D", "F", "L", "P")


def block_plan(block: Block, scouted: Round, ranking: Ranking, season: Season, printed: dt.datetime) -> BlockPlan:
    """The plan of one block on the day of a round: rows to open, then rows to spray, first ones only."""
    opening = [work for work in ranking.opening if work.block == block.name and work.is_first]
    spraying = [work for work in ranking.spraying if work.block == block.name and work.is_first]
    opened_rows = {work.row for work in opening}
    both = [work.row for work in spraying if work.row in opened_rows]
    works = sorted(opening + [work for work in spraying if work.row not in opened_rows], key=_walking_order)
    closed = closed_on(block.name, season.sprays, ranking.date)
    return BlockPlan(
        block=block,
        vines=ranking.reads[block.name].vines,
        estate=season.estate.name,
        date=ranking.date,
        pieces=tuple(_piece(work, ranking) for work in works),
        round_words=f"round {scouted.number} of {date_words(scouted.date)}",
        plan_words=f"from {counted(len(ranking.reads[block.name].stops), 'stop')}",
        code=sheet_code(season, block.name, ranking.date),
        printed=printed,
        keep_out=(KeepOut(*closed),) if closed else (),
        cautions=_spray_after(block, both),
        why_none=Both(*_why_none(block.name, ranking)) if not works else Both("", ""),
        is_invented=season.estate.is_invented,
    )


def _piece(work: RowWork, ranking: Ranking) -> Piece:
    if work.work != OPEN:
        return Piece(work.row, work.first_vine, work.last_vine, work.letter, 0, "", max(work.hours * 60.0, 1.0))
    first = ranking.faces[work.block].choice(work.row).first
    side, face = (2, "both") if work.letter == "D" else (first.side, first.name)
    return Piece(work.row, work.first_vine, work.last_vine, work.letter, side, face, max(work.hours * 60.0, 1.0))


def _walking_order(work: RowWork) -> tuple[int, int]:
    """The hardest openings first, for they are the worst places; rows as they lie; sprays last."""
    return WALKING_LETTERS.index(work.letter), work.row


def row_ranges(block: Block, rows: Sequence[int]) -> str:
    """Rows in words, neighbours drawn together: "1–7, 9, 16a–19a"."""
    words: list[str] = []
    ordered = sorted(rows)
    start = 0
    for at in range(1, len(ordered) + 1):
        if at == len(ordered) or ordered[at] != ordered[at - 1] + 1:
            first, last = block.rows.labels[ordered[start]], block.rows.labels[ordered[at - 1]]
            words.append(first if first == last else f"{first}–{last}")
            start = at
    return ", ".join(words)


def _spray_after(block: Block, sprayed: list[int]) -> tuple[Both, ...]:
    if not sprayed:
        return ()
    rows = row_ranges(block, sprayed)
    return (Both(f"Sprayed after opening: rows {rows}.", f"Se pulverizan después de abrir: hileras {rows}."),)


def _why_none(name: str, ranking: Ranking) -> tuple[str, str]:
    if name not in ranking.days:
        return "Nobody has scouted here in this round.", "Nadie ha revisado aquí en esta ronda."
    day = ranking.days[name]
    if day.horizon <= day.date or day.window == 0.0:
        return "The fruit resists now: no new infection.", "La fruta ya resiste: no hay infección nueva."
    return "Other blocks come first this week.", "Otros bloques van primero esta semana."


def read_plan(read: BlockRead, scouted: Round, threshold: float, season: Season, printed: dt.datetime) -> ReadPlan | None:
    """The map of a block's field for paper, or None where nothing was scouted."""
    if read.field is None:
        return None
    page = read_page(read, scouted, threshold)
    rows = at_threshold(read, threshold)
    living = rows.vines > 0
    shares = tuple(
        RowShare(
            label=read.block.rows.labels[row],
            vines=f"1–{int(read.block.rows.vine_count[row])}",
            share=float(rows.mean[row]),
            low=float(rows.low[row]),
            high=float(rows.high[row]),
            chance_over=float(rows.chance_above[row]),
            is_known=bool(rows.not_known_frac[row] <= MOST_NOT_KNOWN),
        )
        for row in range(len(read.block.rows))
        if living[row]
    )
    return ReadPlan(
        block=read.block,
        vines=read.vines,
        field=read.field,
        stops=read.stops,
        threshold=threshold,
        rows=shares,
        estate=season.estate.name,
        date=scouted.date,
        round_words=f"round {scouted.number} of {date_words(scouted.date)}",
        code=sheet_code(season, read.block.name, scouted.date),
        printed=printed,
        facts=tuple((fact.label, fact.value) for fact in page.facts),
        note=page.note,
        is_invented=season.estate.is_invented,
    )


def sheet_code(season: Season, block: str, date: dt.date) -> str:
    """A short code that tells one printed sheet from another: same estate, block and date, same code."""
    text = f"{season.estate.name}|{block}|{date.isoformat()}"
    letters = hashlib.blake2s(text.encode(), digest_size=4).hexdigest().upper()
    initials = "".join(word[0] for word in season.estate.name.split()[:2]).upper()
    return f"{initials}-{letters[:4]}"
