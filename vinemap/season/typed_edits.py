"""Edits of the ground as a manager writes them: “Dogleg row 12, vines 30 to 44 dead”. Case and order are forgiven."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from vinemap.errors import InputError, Problem
from vinemap.ground.block import Block
from vinemap.ground.renumber import TOWARD_DEG
from vinemap.ground.rowmaker import free_label
from vinemap.ground.rows_by_hand import side_words
from vinemap.season import (
    ground_edits,
    typed_around,
    typed_belief,
    typed_marks,
    typed_rods,
    typed_rounds,
    typed_rules,
    typed_stages,
    typed_stations,
)
from vinemap.season.edits import without_block
from vinemap.season.typed_words import (
    PLACE,
    SIDE,
    STEP,
    ToLocal,
    about_block,
    not_understood,
    place_m,
    plain_text,
    resolved_block,
    row_named,
    rows_named,
    step_m,
)
from vinemap.season.value import Season
from vinemap.season.variety_list import with_variety_list

Answer = tuple[Season, str]
Form = Callable[["_Asked", re.Match[str]], Answer]


@dataclass(frozen=True, slots=True, eq=False)
class Done:
    """What a typed edit made: the season, what undo will call it, what there is to say, and what was left out."""

    season: Season
    label: str
    said: tuple[str, ...]
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    season: Season
    text: str
    block: Block | None
    to_local: ToLocal

    def one_block(self) -> Block:
        """The block that was named, or the only one. Raises InputError."""
        if self.block is not None:
            return self.block
        if len(self.season.blocks) == 1:
            return self.season.blocks[0]
        names = ", ".join(block.name for block in self.season.blocks) or "none yet"
        raise InputError(f"It is not said which block. There are: {names}.", "Begin with its name.")


def typed_edit(season: Season, text: str, to_local: ToLocal) -> Done:
    """The season after one typed edit. ``to_local`` turns longitude, latitude [degrees] into metres of the estate's frame.

    Raises InputError when it is not understood, with an example, or when it can't be done, with what is in the way.
    """
    text = unicodedata.normalize("NFC", text).strip().removesuffix(".").strip()
    label = " ".join(text.split())
    listed = re.match(r"(?:paste\s+)?varieties\b(?P<of>[^:]*):(?P<list>.*)$", text, re.IGNORECASE | re.DOTALL)
    if listed:
        block, _ = about_block(season, listed["of"].strip())
        name = _Asked(season, text, block, to_local).one_block().name
        made, said, problems = with_variety_list(season, name, listed["list"])
        return Done(made, f"varieties of {name}", said, problems)
    text = label
    for other in _OTHERS:
        answer = other.typed(season, text)
        if answer is not None:
            return Done(answer[0], label, (answer[1],))
    for pattern, form in _WHOLE_FORMS:
        found = re.fullmatch(pattern, plain_text(text))
        if found:
            return _done(season, label, form(_Asked(season, text, None, to_local), found))
    block, rest = about_block(season, text)
    asked = _Asked(season, rest, block, to_local)
    for pattern, form in _FORMS:
        found = re.fullmatch(pattern, plain_text(rest))
        if found:
            return _done(season, label, form(asked, found))
    mark = typed_marks.read_mark(rest)
    if mark is None:
        raise not_understood(label)
    return _done(season, label, typed_marks.with_mark(season, asked.one_block(), mark, label))


def looks_like_edit(season: Season, text: str) -> bool:
    """Is this meant as an edit, whether or not it can be done? A name of a block, or the beginning of one, is none."""
    plain = plain_text(text).strip()
    if any(plain_text(block.name).startswith(plain) for block in season.blocks):
        return False
    forms = [plain]
    with suppress(InputError):
        block, rest = about_block(season, " ".join(text.split()))
        # behind a name that stands first only the rest can ask for anything
        is_first = block is not None and plain.startswith(plain_text(block.name))
        forms = [plain_text(rest).strip()] if is_first else [plain, plain_text(rest).strip()]
    signs = (*_SIGNS, *(other.SIGN for other in _OTHERS))
    return any(re.search(pattern, form) for pattern in signs for form in forms)


_OTHERS = (typed_around, typed_belief, typed_rods, typed_rounds, typed_rules, typed_stages, typed_stations)
"""Modules of edits that are not about the ground: each has a SIGN, by which they are told from names, and ``typed``."""


_SIGNS = (
    r"^(?:reverse|flip|renumber|merge|join|split|spread|relabel|rename)\b",
    r"^(?:delete|remove) (?:the )?(?:rows?|corner|block)\b",
    rf"^move\b.*(?:{STEP}|{PLACE})$",
    r"^add (?:a |the )?(?:row|corner|variety)\b",
    r"^turn (?:all|rows?)\b",
    r"\brows?\b.*\b(?:vines?|dead|missing|replant|replanted|living|alive|turned|has)\b",
    r"\bvines?\b.*\brow\b",
    r"^(?:paste )?varieties\b.*:",
    r"/.*\b(?:dead|missing|replant|replanted|living|alive)$",
)


def _done(season: Season, label: str, answer: Answer) -> Done:
    made, said = answer
    if made is season:
        return Done(season, label, ("Nothing changes: it is so already.",))
    followed = [
        word
        for word, was, now in (
            ("stops", season.rounds, made.rounds),
            ("passes", season.passes, made.passes),
            ("sprays", season.sprays, made.sprays),
            ("dates of growth", season.stages, made.stages),
            ("rods", season.rods, made.rods),
        )
        if was is not now
    ]
    more = (f"What named it follows: {', '.join(followed)}.",) if followed else ()
    return Done(made, label, (said, *more))


def _part(asked: _Asked, found: re.Match[str], group: str) -> str:
    """A part as it was written, in its own case."""
    start, end = found.span(group)
    return asked.text[start:end].strip() if start >= 0 else ""


def _merge(asked: _Asked, found: re.Match[str]) -> Answer:
    one, two = (resolved_block(asked.season, _part(asked, found, group)) for group in ("one", "two"))
    name = _part(asked, found, "new") or one.name
    made, relabelled = ground_edits.merge_blocks(asked.season, one.name, two.name, name)
    said = f"{one.name} and {two.name} are one block now, {name}."
    if relabelled:
        said += f" Rows of {two.name} with new labels: {', '.join(f'{old} is {new}' for old, new in relabelled)}."
    return made, said


def _split_after(asked: _Asked, found: re.Match[str]) -> Answer:
    block = resolved_block(asked.season, _part(asked, found, "name")) if _part(asked, found, "name") else asked.one_block()
    row, new = row_named(block, _part(asked, found, "row")), _part(asked, found, "new") or f"{block.name} 2"
    made = ground_edits.split_after(asked.season, block.name, row, new)
    return made, _split_words(made, block.name, new)


def _split_along(asked: _Asked, found: re.Match[str]) -> Answer:
    block = resolved_block(asked.season, _part(asked, found, "name")) if _part(asked, found, "name") else asked.one_block()
    new = _part(asked, found, "new") or f"{block.name} 2"
    ends = np.array([place_m(_part(asked, found, group), asked.to_local) for group in ("from", "to")])
    made = ground_edits.split_along(asked.season, block.name, ends, new)
    return made, _split_words(made, block.name, new)


def _split_words(made: Season, old: str, new: str) -> str:
    rows = [len(ground_edits.block_named(made, name).rows) for name in (old, new)]
    return f"{old} keeps {rows[0]} rows, {new} has {rows[1]}."


def _rename_block(asked: _Asked, found: re.Match[str]) -> Answer:
    block, new = resolved_block(asked.season, _part(asked, found, "name")), _part(asked, found, "new")
    return ground_edits.rename_block(asked.season, block.name, new), f"{block.name} is called {new} now."


def _delete_block(asked: _Asked, found: re.Match[str]) -> Answer:
    block = resolved_block(asked.season, _part(asked, found, "name"))
    return without_block(asked.season, block.name), f"{block.name} is deleted, with its {len(block.rows)} rows."


def _move_block(asked: _Asked, found: re.Match[str]) -> Answer:
    block, step = resolved_block(asked.season, _part(asked, found, "name")), step_m(_part(asked, found, "step"))
    made = ground_edits.move_block(asked.season, block.name, float(step[0]), float(step[1]))
    return made, f"{block.name} is moved, with its rows."


def _add_variety(asked: _Asked, found: re.Match[str]) -> Answer:
    name, variety = _part(asked, found, "name"), _part(asked, found, "variety")
    block = resolved_block(asked.season, name) if name else asked.one_block()
    return ground_edits.add_variety(asked.season, block.name, variety), f"{block.name} lists {variety} now."


def _reverse(asked: _Asked, found: re.Match[str]) -> Answer:
    block = asked.one_block()
    rows = rows_named(block, _part(asked, found, "rows"))
    made = ground_edits.reverse_rows(asked.season, block.name, rows)
    return made, f"{block.name}: {_rows_words(rows)} turned round, vine 1 stands at the other end now."


def _renumber(asked: _Asked, found: re.Match[str]) -> Answer:
    block, how = asked.one_block(), plain_text(_part(asked, found, "how"))
    side = re.search(rf"({SIDE}) to (?:the )?(?:{SIDE})|(?:from|starting(?: in| at)?) (?:the )?({SIDE})|\b({SIDE})\b", how)
    first, step = re.search(r"\b(?:from|starting (?:at|with)|at) (\d+)", how), re.search(r"(?:every|by|steps of) (\d+)", how)
    rest = how
    for part in (side, first, step):
        rest = rest.replace(part[0], " ") if part else rest
    if re.sub(r"\b(?:in|the|and|nd|rd|th|rows?|from|number|numbers|one|starting)\b|[,\s]|(?<=\d)(?:nd|rd|th)", "", rest):
        raise not_understood(asked.text)
    where = next((word for word in side.groups() if word), "") if side else side_words(block)[0]
    start, every = int(first[1]) if first else 1, int(step[1]) if step else 1
    made = ground_edits.renumber_rows(asked.season, block.name, start, every, where)
    labels = ground_edits.block_named(made, block.name).rows.labels
    return (
        made,
        f"{block.name}: rows numbered from {start} by {every} from the {where}; row {block.rows.labels[0]} is {labels[0]}.",
    )


def _delete_rows(asked: _Asked, found: re.Match[str]) -> Answer:
    block = asked.one_block()
    rows = rows_named(block, _part(asked, found, "rows"))
    made = ground_edits.delete_rows(asked.season, block.name, rows)
    lost = len(block.exceptions.vine) - len(ground_edits.block_named(made, block.name).exceptions.vine)
    with_marks = f", and the marks of {lost} of their vines" if lost else ""
    return made, f"{block.name}: {_rows_words(rows)} deleted{with_marks}."


def _add_row(asked: _Asked, found: re.Match[str]) -> Answer:
    block = asked.one_block()
    beside, side = row_named(block, _part(asked, found, "beside")), found["side"]
    label = _part(asked, found, "label") or free_label(beside, 1, block.rows.labels)
    made = ground_edits.add_row(asked.season, block.name, beside, TOWARD_DEG[side], label)
    rows = ground_edits.block_named(made, block.name).rows
    return made, f"{block.name}: row {label} added {side} of row {beside}, {rows.vine_count[rows.labels.index(label)]} vines."


def _rename_row(asked: _Asked, found: re.Match[str]) -> Answer:
    block, new = asked.one_block(), _part(asked, found, "new")
    row = row_named(block, _part(asked, found, "row"))
    return ground_edits.rename_row(asked.season, block.name, row, new), f"{block.name}: row {row} is {new} now."


def _move_row(asked: _Asked, found: re.Match[str]) -> Answer:
    block = asked.one_block()
    row, ends = row_named(block, _part(asked, found, "row")), found["ends"] or "both"
    line = block.rows.line_m(block.rows.labels.index(row))
    if found["step"]:
        step = step_m(found["step"])
        steps = [step if ends != "end" else np.zeros(2), step if ends != "start" else np.zeros(2)]
    elif ends in ("start", "end"):
        to = np.array(place_m(_part(asked, found, "place"), asked.to_local))
        steps = [to - line[0] if ends == "start" else np.zeros(2), to - line[-1] if ends == "end" else np.zeros(2)]
    else:
        raise InputError("Only one end of a row can be moved to a place.", "Write “move start of row 12 to ...”.")
    made = ground_edits.move_row(asked.season, block.name, row, steps[0], steps[1])
    rows = ground_edits.block_named(made, block.name).rows
    spacing_m = rows.vine_spacing_m[rows.labels.index(row)]
    return made, f"{block.name}: row {row} is moved; its vines stand {spacing_m:.2f} m apart."


def _corner(asked: _Asked, found: re.Match[str]) -> Answer:
    block, corner = asked.one_block(), int(found["corner"])
    if found["step"]:
        made = ground_edits.shift_corner(asked.season, block.name, corner, step_m(found["step"]))
    else:
        to = np.array(place_m(_part(asked, found, "place"), asked.to_local))
        made = ground_edits.place_corner(asked.season, block.name, corner, to)
    return made, f"{block.name}: corner {corner} is moved. {_area_words(made, block)}"


def _add_corner(asked: _Asked, found: re.Match[str]) -> Answer:
    block, corner = asked.one_block(), int(found["corner"])
    at = np.array(place_m(_part(asked, found, "place"), asked.to_local))
    made = ground_edits.add_corner(asked.season, block.name, corner, at)
    return made, f"{block.name}: corner {corner + 1} is new, those after it count one more. {_area_words(made, block)}"


def _delete_corner(asked: _Asked, found: re.Match[str]) -> Answer:
    block, corner = asked.one_block(), int(found["corner"])
    made = ground_edits.delete_corner(asked.season, block.name, corner)
    return made, f"{block.name}: corner {corner} is deleted, those after it count one less. {_area_words(made, block)}"


def _area_words(made: Season, block: Block) -> str:
    now = ground_edits.block_named(made, block.name).outline.area
    return f"{block.outline.area / 1e4:.3f} ha became {now / 1e4:.3f} ha."


def _spread(asked: _Asked, found: re.Match[str]) -> Answer:
    block = asked.one_block()
    rows = rows_named(block, _part(asked, found, "rows"))
    made = ground_edits.spread_vines(asked.season, block.name, rows)
    return made, f"{block.name}: the vines of {_rows_words(rows)} are spread from end to end."


def _count(asked: _Asked, found: re.Match[str]) -> Answer:
    block = asked.one_block()
    row, count = row_named(block, _part(asked, found, "row")), int(found["count"])
    was = block.rows.vine_count[block.rows.labels.index(row)]
    made = ground_edits.count_row(asked.season, block.name, row, count)
    return made, f"{block.name}: row {row} has {count} vines now, it had {was}."


def _rows_words(rows: tuple[str, ...]) -> str:
    if len(rows) == 1:
        return f"row {rows[0]}"
    return f"rows {', '.join(rows)}" if len(rows) <= 6 else f"{len(rows)} rows"


_NEW = r"(?: (?:as|into|called|to) (?P<new>.+))?"
_WHOLE_FORMS: tuple[tuple[str, Form], ...] = (
    (typed_around.EDGE_FORM, lambda asked, found: typed_around.with_typed_edge(asked.season, found, asked.to_local)),
    (rf"(?:merge|join) (?:blocks? )?(?P<one>.+?) (?:and|with) (?P<two>.+?){_NEW}", _merge),
    (rf"split (?:(?:block )?(?P<name>.+?) )?(?:after|behind) row (?P<row>\S+?){_NEW}", _split_after),
    (
        rf"split (?:(?:block )?(?P<name>.+?) )?(?:along|from) (?P<from>{PLACE})(?: to| and)? (?P<to>{PLACE}){_NEW}",
        _split_along,
    ),
    (r"(?:rename|call) (?!row )(?:block )?(?P<name>.+?) (?:as|to) (?P<new>.+)", _rename_block),
    (r"(?:delete|remove) (?:the )?block (?P<name>.+)", _delete_block),
    (rf"move (?!(?:the )?(?:start|end|both|row|corner)\b)(?:block )?(?P<name>.+?) (?P<step>{STEP})", _move_block),
    (r"add (?:the |a )?variety (?P<variety>.+?)(?: to (?:block )?(?P<name>.+))?", _add_variety),
)
_FORMS: tuple[tuple[str, Form], ...] = (
    (r"(?:reverse|flip|turn) (?P<rows>(?:all|rows?)\b.*?)(?: (?:round|around))?", _reverse),
    (r"renumber(?: (?:all|the))*(?: rows?)?(?P<how>.*)", _renumber),
    (r"(?:delete|remove) (?:the )?(?P<rows>rows? .+)", _delete_rows),
    (rf"move (?:the )?corner (?P<corner>\d+) (?:(?P<step>{STEP})|to (?P<place>{PLACE}))", _corner),
    (rf"add (?:a )?corner (?:after|behind) (?:corner )?(?P<corner>\d+) at (?P<place>{PLACE})", _add_corner),
    (r"(?:delete|remove) (?:the )?corner (?P<corner>\d+)", _delete_corner),
    (
        r"move (?:the )?(?:(?P<ends>start|end|both)(?: ends)? (?:of )?)?row (?P<row>\S+) "
        rf"(?:(?P<step>{STEP})|to (?P<place>{PLACE}))",
        _move_row,
    ),
    (rf"add (?:a )?row(?: (?!{SIDE})(?P<label>\S+))?(?: to the)? (?P<side>{SIDE}) of (?:row )?(?P<beside>\S+)", _add_row),
    (r"(?:rename|relabel|call) row (?P<row>\S+) (?:as |to )?(?P<new>\S+)", _rename_row),
    (r"spread (?:the )?(?:vines (?:of|in) )?(?P<rows>(?:all|rows?)\b.*?)(?: evenly)?", _spread),
    (r"row (?P<row>\S+) has (?P<count>\d{1,6})(?: vines| places)?", _count),
)
