"""Figures that stand in until the estate's own are known. Each has a source; all can be edited."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Assumptions:
    """Editable figures behind the gain of a piece of work.

    Each default names its source in ``SOURCES``; [A] there means a stated assumption where published work is silent.
    """

    threshold: float = 0.10
    clusters_per_vine: float = 30.0
    kg_per_cluster: float = 0.15
    growth_per_day: float = 0.20
    opening_effect: float = 0.50
    spray_effect: float = 0.70
    spread_along_m: float = 4.0
    spread_across_m: float = 2.5
    spread_share: float = 0.30
    minutes_open: float = 0.8
    minutes_open_both: float = 1.5
    least_kg_per_hour: float = 5.0
    crew_hours: float = 60.0
    sprayer_hours: float = 2.0
    productive_share: float = 0.80
    sprayer_kmh: float = 6.0
    sprayer_efficiency: float = 0.65
    sprayer_row_minutes: float = 2.0
    last_spray_days: float = 30.0
    fruit_resists_days: float = 28.0
    closing_degree_days: float = 300.0
    late_opening_effect: float = 0.30
    faces_alike: float = 0.10
    burn_share: float = 0.10
    burn_loss: float = 0.50
    burn_hot_kwh_m2: float = 150.0
    heat_caution_degc: float = 33.0
    heat_stop_degc: float = 35.0


SOURCES = {
    "threshold": "bunch closure, share of clusters below which protection need not be prolonged: 10 % (La Vigne 2012)",
    "clusters_per_vine": "stated assumption for an old, vigorous vine; enter your own count",
    "kg_per_cluster": "stated assumption; enter your own weight",
    "growth_per_day": "logistic rates of 0.11 to 0.19 a day are usual in worked epidemics (van der Plank 1963); "
    "a cycle of five days at high pressure (Gubler et al. 1999) with about three daughters gives 0.22",
    "opening_effect": "leaf removal cut cluster severity by 54 to 73 % (Chellemi & Marois 1992); taken low",
    "spray_effect": "stated assumption: a targeted spray that reaches opened fruit; taken low",
    "spread_along_m": "gradient of 2 to 5 m, along the row about 1.5 to 2 times across it; stated assumption",
    "spread_across_m": "gradient of 2 to 5 m; stated assumption",
    "spread_share": "stated assumption: of new infections, the share that comes from outside the span",
    "minutes_open": "leaf removal on one side 0.5 to 1.5 minutes a vine (common practice)",
    "minutes_open_both": "leaf removal on both sides 1 to 2.5 minutes a vine (common practice)",
    "least_kg_per_hour": "fruit that an hour must save to be worth it: stated assumption; enter your own",
    "crew_hours": "hand hours to give away in a week: stated assumption; enter your own",
    "sprayer_hours": "hours of sprayer to give away in a week: stated assumption; enter your own",
    "productive_share": "common practice in planning crews",
    "sprayer_kmh": "common practice",
    "sprayer_efficiency": "field efficiency of a sprayer with turns and refills, common practice",
    "sprayer_row_minutes": "to drive into one row and out of it, stated assumption; enter your own",
    "last_spray_days": "buyers usually ask that sulfur stops 30 to 60 days before harvest (common practice); "
    "the label may ask more",
    "fruit_resists_days": "berries are nearly immune about four weeks after bloom (Ficke et al. 2003)",
    "closing_degree_days": "leaves of laterals appear about one in 50 degree days above 10 °C (from memory, Schultz 1992; "
    "Lebon et al. 2004); six of them close an opening, stated assumption",
    "late_opening_effect": "of the effect of opening, what is left from five weeks after bloom on where one goes by "
    "practice (common practice; trials found none, Austin & Wilcox 2011): stated assumption",
    "faces_alike": "hot sun on two faces that differs by less than this share is taken as alike: stated assumption",
    "burn_share": "of clusters laid bare after veraison on the hottest face, those that burn: stated assumption",
    "burn_loss": "fruit that a burned cluster loses: stated assumption",
    "burn_hot_kwh_m2": "hot sun until harvest on the hottest face of a warm place: stated assumption",
    "heat_caution_degc": "air from which sunburn is to be watched: planning figure, berries in sun are 5 to 10 °C above "
    "the air (common practice)",
    "heat_stop_degc": "forecast within five days that keeps a hot face closed: planning figure (common practice)",
}
