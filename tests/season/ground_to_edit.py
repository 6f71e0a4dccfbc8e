"""An invented season with everything that names its ground, to put right."""

from __future__ import annotations

import datetime as dt

import numpy as np
import shapely

from vinemap.ground.block import DEAD, REPLANT, Block
from vinemap.ground.follow import marked
from vinemap.ground.frame import Frame
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.vines import place_vines, whole_codes
from vinemap.scouting.rounds import Round, Stops
from vinemap.season.value import Estate, Season, StageDates
from vinemap.work.diary import Pass, Spray

DAY = dt.date(2031, 5, 20)
FRAME = Frame("EPSG:32610", 500000.0, 4200000.0, 38.0, -123.0, 0.0)


def blended(name, outline, bearing_deg, varieties, seed):
    """A block with some marked vines."""
    block = Block(name, outline, make_rows(outline, bearing_deg, 2.5, 1.5), 2.5, 1.5, varieties)
    dice = np.random.default_rng(seed)
    status, variety = whole_codes(block)
    status[dice.choice(len(status), 20, replace=False)] = DEAD
    status[dice.choice(len(status), 9, replace=False)] = REPLANT
    variety[dice.choice(len(status), 60, replace=False)] = len(varieties) - 1
    return marked(block, status, variety)


def scouted(number, *blocks, each=12):
    """A round with stops at some vines of blocks."""
    dice = np.random.default_rng(number)
    names, rows, vine, x_m, y_m, block_of = [block.name for block in blocks], [], [], [], [], []
    for index, block in enumerate(blocks):
        vines = place_vines(block)
        for at in np.sort(dice.choice(len(vines), each, replace=False)):
            block_of.append(index)
            rows.append(block.rows.labels[vines.row[at]])
            vine.append(int(vines.ordinal[at]))
            x_m.append(vines.x_m[at])
            y_m.append(vines.y_m[at])
    n = len(rows)
    examined, infected = np.full(n, 20), np.arange(n) % 7
    stops = Stops(tuple(names), block_of, tuple(rows), vine, x_m, y_m, examined, infected, [0] * n, [0] * n, [False] * n)
    return Round(number, DAY, "scout", "random", stops)


def season_to_edit():
    """Two blocks side by side with a lane of 6 m, and one far away."""
    dogleg = blended(
        "Dogleg", shapely.Polygon([(0, 0), (40, 0), (40, 60), (25, 60), (25, 30), (0, 30)]), 0.0, ("Syrah", "Carignan"), 1
    )
    wren = blended("Wrenfield", shapely.box(46, 0, 80, 60), 0.0, ("Carignan", "Grenache"), 2)
    far = blended("Peña Alta", shapely.box(300, 0, 340, 60), 90.0, ("Zinfandel", "Petite Sirah"), 3)
    passes = (
        Pass(DAY, "Dogleg", (), "F", "east", 4, 6.0),
        Pass(DAY, "Dogleg", ("12", "3", "4"), "L", "west", 2, 1.5),
        Pass(DAY, "Peña Alta", ("2",), "R", "both", 2, 1.5),
    )
    start = dt.datetime(2031, 5, 20, 6)
    sprays = (
        Spray(start, start + dt.timedelta(hours=2), "Dogleg", (), ("sulfur",), 5.0, 600.0),
        Spray(start, start + dt.timedelta(hours=1), "Wrenfield", ("1", "2"), ("sulfur",), 5.0, 600.0),
    )
    stages = (StageDates("", budbreak=dt.date(2031, 4, 1)), StageDates("Peña Alta", budbreak=dt.date(2031, 4, 9)))
    rounds = (scouted(1, dogleg, wren, far), scouted(2, dogleg))
    return Season(Estate("Invented", FRAME, -8.0, True), (dogleg, wren, far), rounds, passes, sprays, stages)


def ground(season):
    """Every vine of a season as place, status and variety, whatever block and row it is in, in order of place."""
    found = []
    for block in season.blocks:
        vines = place_vines(block)
        names = [block.varieties[code] for code in vines.variety]
        places = zip(vines.x_m.round(4) + 0.0, vines.y_m.round(4) + 0.0, vines.status.tolist(), names, strict=True)
        found += [tuple(each) for each in places]
    return sorted(found)


def counts(season):
    """Every stop of a season as round, place and counts, in order."""
    found = []
    for each in season.rounds:
        stops = each.stops
        places = zip(stops.x_m.round(4) + 0.0, stops.y_m.round(4) + 0.0, stops.infected.tolist(), strict=True)
        found += [(each.number, *one) for one in places]
    return sorted(found)


def stops_stand_at_their_vines(season):
    """Is every stop at the vine that it names?"""
    for each in season.rounds:
        stops = each.stops
        for stop in range(len(stops)):
            block = season.block(stops.blocks[stops.block[stop]])
            vines = place_vines(block)
            at = int(vines.row_start[block.rows.labels.index(stops.rows[stop])]) + int(stops.vine[stop]) - 1
            if np.hypot(vines.x_m[at] - stops.x_m[stop], vines.y_m[at] - stops.y_m[stop]) > 1e-6:
                return False
    return True
