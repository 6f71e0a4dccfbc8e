"""Which face to open first: the one with the least hot sun, then the one the drying wind meets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from vinemap.canopy.faces import Face, FaceSun, faces_of
from vinemap.canopy.wind import WindRose, windward
from vinemap.errors import InputError

HOT_SHARE = 0.50
"""Sectors of a free-standing vine with more hot sun than this share of the hottest are spared (stated assumption)."""
HARMLESS_KWH_M2 = 1.0
"""Hot sun below this until harvest does no harm that is worth a choice (stated assumption)."""


@dataclass(frozen=True, slots=True)
class FaceChoice:
    """``first``: open this face first; ``second``: the next one that is safe to open, if any; ``spared``: faces to open only
    where infection is bad; ``margin``: how much less hot sun the first face takes than its rival, 0..1; ``reasons``: why,
    in plain sentences; ``hot_first``, ``hot_other``: hot sun until harvest [kWh/m2] on the first face and on the hottest.
    """

    first: Face
    second: Face | None
    spared: tuple[Face, ...]
    margin: float
    reasons: tuple[str, ...]
    hot_first: float
    hot_other: float


def choose_faces(
    bearing_deg: float,
    training: str,
    sun: Sequence[FaceSun],
    rose: WindRose | None,
    convergence_deg: float = 0.0,
    alike_share: float = 0.10,
) -> FaceChoice:
    """The faces to open first and next, and those to spare, from the direct sun on each face and the drying wind.

    ``bearing_deg`` of the row [degrees clockwise from grid north]; ``sun``: one for each face, in the order of ``faces_of``;
    ``rose`` None where no wind was read; ``alike_share``: hot sun that differs by less than this share of the hottest face is
    taken as alike. Raises InputError when a face has no sun, or the training is unknown.
    Source: common practice: the morning face of north-south rows and the face towards the pole of east-west rows first, the
    hot face only in part; air along and through the leaves next (Gallina on west faces; Gambetta et al. 2021 on sunburn).
    """
    faces = faces_of(bearing_deg, training, convergence_deg)
    if len(faces) != len(sun):
        raise InputError("Each face needs its own sun.", "Compute the sun of every face of the row first.")
    hot = {face: each.hot_sun_kwh_m2 for face, each in zip(faces, sun, strict=True)}
    wind = {face: windward(face.normal_true_deg, rose) if rose else 0.0 for face in faces}
    by_hot = sorted(faces, key=lambda face: (hot[face], -wind[face], face.normal_true_deg))
    hottest = hot[by_hot[-1]]
    alike = [face for face in by_hot if _margin(hot[by_hot[0]], hot[face], hottest) < alike_share]
    first = max(alike, key=lambda face: (round(wind[face], 6), -hot[face])) if rose else by_hot[0]
    if len(faces) == 2:
        spared = tuple(face for face in faces if face not in alike)
    else:
        spared = tuple(face for face in faces if face not in alike and hot[face] > HOT_SHARE * hottest)
    safe = [face for face in by_hot if face != first and face not in spared]
    second = max(safe, key=lambda face: (round(wind[face], 6), -hot[face])) if safe else None
    rival = next(face for face in reversed(by_hot) if face != first)
    margin = max(0.0, _margin(hot[first], hot[rival], hottest))
    is_close = len(alike) == len(faces)
    reasons = [
        _sun_reason(first, rival, hot, is_close),
        *_wind_reason(first, second, wind, rose, is_close),
        *_spare_reason(spared, dict(zip(faces, sun, strict=True))),
    ]
    return FaceChoice(first, second, spared, margin, tuple(reasons), hot[first], hot[rival])


def _margin(less: float, more: float, hottest: float) -> float:
    """Difference as a share of the hottest face; nothing where no face takes hot sun that matters."""
    return (more - less) / hottest if hottest >= HARMLESS_KWH_M2 else 0.0


def _sun_reason(first: Face, rival: Face, hot: dict[Face, float], is_close: bool) -> str:
    """What the sun says."""
    figures = f"{hot[first]:.0f} against {hot[rival]:.0f} kWh/m² until harvest, under a clear sky"
    if is_close:
        return f"Hot sun differs little between the {first.name} and the {rival.name} face ({figures})."
    less = 100 * (1 - hot[first] / hot[rival])
    if less >= 95:
        return f"The {first.name} face takes hardly any hot sun, the {rival.name} face much ({figures})."
    return f"The {first.name} face takes {less:.0f} % less hot sun than the {rival.name} face ({figures})."


def _wind_reason(
    first: Face, second: Face | None, wind: dict[Face, float], rose: WindRose | None, is_close: bool
) -> list[str]:
    """What the wind says."""
    if rose is None:
        return ["No wind was read, so wind had no say."]
    said = []
    if is_close:
        said.append(f"So the wind decides: {100 * wind[first]:.0f} % of the drying wind blows onto the {first.name} face.")
    elif second is None:
        said.append(f"{100 * wind[first]:.0f} % of the drying wind blows onto the {first.name} face.")
    if second is not None:
        said.append(f"Next the {second.name} face: {100 * wind[second]:.0f} % of the drying wind blows onto it.")
    return said


def _spare_reason(spared: tuple[Face, ...], sun: dict[Face, FaceSun]) -> list[str]:
    """Which faces wait, and how they are opened when they can't."""
    if not spared:
        return []
    late = max(sun[face].late_kwh_m2 for face in spared)
    names = [face.name for face in spared]
    listed = f"{', '.join(names[:-1])} and {names[-1]} faces" if len(names) > 1 else f"{names[0]} face"
    verb = "take up to" if len(names) > 1 else "takes"
    when = f" ({verb} {late:.1f} kWh/m² a day of sun after three o’clock by the sun)" if late >= 0.05 else ""
    return [
        f"Open the {listed} only where infection is bad{when}: take laterals and inner leaves, leave an outer leaf as a roof."
    ]
