"""What growers call the columns of our tables, in six languages, without accents and in lower case.

Common words of the trade, from memory: English, Spanish, French, German, Italian, Portuguese.
"""

from __future__ import annotations

from vinemap.files.diary_reader import PASS_NEEDED, SPRAY_NEEDED
from vinemap.files.head_units import UNIT_WORDS
from vinemap.files.rod_reader import KNOWN as ROD_KNOWN
from vinemap.files.rod_reader import NEEDED as ROD_NEEDED
from vinemap.files.stop_reader import KNOWN, NEEDED
from vinemap.files.vine_reader import NEEDED as VINE_NEEDED
from vinemap.files.weather_units import KNOWN as WEATHER_KNOWN
from vinemap.files.weather_units import NEEDED as WEATHER_NEEDED
from vinemap.files.weather_units import SAID as WEATHER_SAID
from vinemap.files.weather_units import UNITS as WEATHER_UNITS


def _listed(words: str) -> list[str]:
    return words.split()


TABLES: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "stops": (NEEDED, KNOWN),
    "weather": (WEATHER_NEEDED, WEATHER_KNOWN),
    "passes": (PASS_NEEDED, ()),
    "sprays": (SPRAY_NEEDED, ()),
    "rods": (ROD_NEEDED, ROD_KNOWN),
    "vines": (VINE_NEEDED, ()),
}
"""For each kind of table the columns it needs, and those it may have."""

DRAWN: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "outlines": (
        ("block",),
        ("row_spacing_m", "vine_spacing_m", "bearing_deg", "varieties", "training", "vigour"),
    ),
    "rows": (("row",), ("block", "vine_spacing_m", "vines")),
    "stops": (NEEDED, tuple(name for name in KNOWN if name not in ("lon", "lat", "x_m", "y_m"))),
}
"""The same for each kind of drawn feature, whose place is its shape; the block of rows may be told for all of them."""

_ROWS = "row line fila hilera rang rangee reihe zeile rebzeile filare fila riga linha fileira rg"

_CLUSTERS = _listed(
    "clusters cluster bunches bunch racimos racimo grappes grappe trauben traube grappoli grappolo cachos cacho"
)
_LEAVES = _listed("leaves leaf hojas hoja feuilles feuille blatter blatt foglie foglia folhas folha")
_LOOKED_AT = _listed(
    "examined inspected checked sampled assessed observed total examinados examinadas revisados revisadas observados "
    "observadas muestreados examines examinees observes observees controles controlees untersucht untersuchte gepruft "
    "geprufte kontrolliert kontrollierte gesamt esaminati esaminate osservati osservate controllati controllate totale "
    "avaliados avaliadas mirados miradas vistos vistas seen vus vues angesehen angeschaut guardati guardate visti viste"
)
_HIT = _listed(
    "infected diseased mildewed affected positive infectados infectadas afectados afectadas enfermos enfermas oidio "
    "infectes infectees atteints atteintes touches touchees malades oidium befallen befallene krank kranke infiziert "
    "infizierte befall mehltau infetti infette colpiti colpite malati malate infetados infetadas atacados atacadas "
    "doentes"
)


def _both_ways(things: list[str], states: list[str]) -> list[str]:
    """Clusters examined, examined clusters."""
    return [f"{first} {last}" for thing in things for state in states for first, last in ((thing, state), (state, thing))]


_WRITTEN = {
    "round": "round|survey|visit|ronda|vuelta|tour|passage|tournee|rundgang|durchgang|begehung|giro|rilievo|rodada|volta",
    "date": "date|day|scouting date|fecha|dia|date observation|jour|datum|tag|data|giorno|data osservazione|dt",
    "scout": "scout|observer|scouted by|observador|monitor|tecnico|observateur|notateur|beobachter|boniteur|osservatore|"
    "rilevatore|initials|iniciales|name scout",
    "block": "block|field|plot|parcel|vineyard|site|bloque|parcela|lote|cuartel|cuadro|vina|bloc|parcelle|vigne|schlag|"
    "parzelle|flurstuck|feld|weinberg|lage|blocco|parcella|appezzamento|vigneto|vigna|talhao|bloco|vinha|blk",
    "row": "|".join((*_ROWS.split(), "row label", "vine row")),
    "rows": "rows|lines|filas|hileras|rangs|rangees|reihen|zeilen|filari|linhas|fileiras|" + "|".join(_ROWS.split()),
    "vine": "vine|plant|vine position|position|panel vine|cepa|planta|vid|parra|cep|pied|souche|plante|rebstock|rebe|stock|"
    "pflanze|ceppo|vite|pianta|videira|pe|stk",
    "lon": "lon|long|lng|longitude|longitud|longitudine|lange|laenge|langengrad|laengengrad|geogr lange",
    "lat": "lat|latitude|latitud|latitudine|breite|breitengrad|geogr breite",
    "x_m": "x|easting|este|est|ostwert|rechtswert|utm x|utm e|coord x|e",
    "y_m": "y|northing|norte|nord|nordwert|hochwert|utm y|utm n|coord y|n",
    "sample_type": "sample type|sampling|type sample|tipo muestra|muestreo|type echantillon|echantillonnage|probenart|"
    "stichprobe|tipo campione|campionamento|tipo amostra|amostragem",
    "light": "light|daylight|light through|see through|luz|luz a traves|lumiere|lumiere a travers|licht|durchblick|luce|"
    "luce attraverso|luz atraves",
    "status": "status|state|condition|vine status|estado|situacion|etat|statut|zustand|stato|situacao",
    "row_spacing_m": "row spacing|spacing row|row sp|row space|row distance|row width|rowspacing|between rows|spacing|"
    "distancia entre filas|entre filas|entre hileras|distancia hileras|marco filas|ancho calle|entre rangs|inter rang|"
    "interrang|ecartement|ecartement rangs|distance rangs|reihenabstand|zeilenabstand|zeilenbreite|gassenbreite|"
    "distanza filari|interfila|tra filari|sesto filari|entrelinha|entre linhas|distancia linhas",
    "vine_spacing_m": "vine spacing|spacing vine|vine sp|vine space|vine distance|vinespacing|between vines|plant spacing|"
    "in row spacing|distancia entre cepas|entre cepas|entre plantas|marco cepas|distancia plantas|entre pieds|interpied|"
    "inter pied|distance pieds|stockabstand|rebabstand|pflanzabstand|distanza ceppi|tra ceppi|tra viti|sulla fila|"
    "distancia videiras|entre videiras|na linha",
    "bearing_deg": "bearing|row bearing|azimuth|row azimuth|row direction|orientation|rumbo|orientacion|azimut|cap|richtung|"
    "reihenrichtung|orientamento|direzione filari|orientacao",
    "training": "training|training system|trellis|trellis system|conduccion|sistema conduccion|formacion|conduite|"
    "mode conduite|taille|erziehung|erziehungsform|erziehungssystem|allevamento|forma allevamento|sistema allevamento|"
    "conducao|sistema conducao",
    "vigour": "vigour|vigor|vigueur|wuchs|wuchskraft|vigoria",
    "vines": "vines|vine count|plants|cepas|plantas|pieds|ceps|souches|reben|rebstocke|stocke|pflanzen|ceppi|viti|piante|"
    "videiras",
    "variety": "variety|cultivar|grape|grape variety|var|variedad|cepage|variete|sorte|rebsorte|varieta|vitigno|variedade|"
    "casta",
    "time": "time|date time|time hour|datetime|timestamp|date|hour|fecha hora|fecha|hora|heure|date heure|horodatage|zeit|"
    "datum zeit|datum uhrzeit|zeitstempel|datum|uhrzeit|data ora|data|ora|data hora|valid|observation time",
    "kind": "kind|work|operation|task|tipo|labor|trabajo|operacion|tipo labor|type|travail|art|arbeit|massnahme|tipo lavoro|"
    "lavoro|operazione|trabalho|operacao",
    "face": "face|side|cara|lado|cote|seite|lato|faccia",
    "people": "people|workers|crew|persons|personas|trabajadores|personnes|ouvriers|personen|leute|arbeiter|persone|operai|"
    "pessoas|trabalhadores",
    "hours": "hours|hrs|horas|heures|stunden|std|ore",
    "start": "start|begin|started|start time|from|inicio|comienzo|hora inicio|debut|heure debut|beginn|anfang|von|inizio|"
    "ora inizio|hora inicio",
    "end": "end|finish|finished|end time|to|fin|final|termino|hora fin|heure fin|ende|bis|fine|ora fine|fim|hora fim",
    "insertions": "insertions|rods|rod|point quadrat|inserciones|varillas|piqures|stabe|stiche|inserzioni|astine|"
    "insercoes|varetas",
    "materials": "materials|material|active ingredient|active|ingredient|a i|materia activa|ingrediente activo|producto|"
    "substance active|matiere active|produit|wirkstoff|mittel|praparat|sostanza attiva|principio attivo|prodotto|"
    "substancia ativa|produto",
    "rate_kg_per_ha": "rate|dose|rate kg ha|dose kg ha|dosis|dosis kg ha|aufwandmenge|dosierung|aufwand|dose ha|dosagem",
    "water_l_per_ha": "water|volume|water l ha|spray volume|volume l ha|agua|caldo|caldo l ha|volumen|eau|volume bouillie|"
    "bouillie|wasser|wasseraufwand|bruhe|acqua|volume acqua|calda|volume calda",
}
SAID: dict[str, tuple[str, ...]] = {
    **WEATHER_SAID,
    **{ours: tuple(dict.fromkeys(words.split("|"))) for ours, words in _WRITTEN.items()},
    "examined": (*_LOOKED_AT, *_CLUSTERS, "sample size", "muestra", "effectif", *_both_ways(_CLUSTERS, _LOOKED_AT)),
    "infected": (*_HIT, "with mildew", "con oidio", "com oidio", *_both_ways(_CLUSTERS, _HIT)),
    "leaves_examined": (*_LEAVES, *_both_ways(_LEAVES, _LOOKED_AT)),
    "leaves_infected": tuple(_both_ways(_LEAVES, _HIT)),
    "varieties": (
        *_WRITTEN["variety"].split("|"),
        *_listed("varieties cultivars variedades cepages sorten rebsorten vitigni"),
    ),
}
"""What each of our columns is called elsewhere."""

ALONE: dict[tuple[str, str], frozenset[str]] = {
    ("outlines", "block"): frozenset(_listed("name nombre nom nome bezeichnung label id code codigo parcel ranch")),
    ("rows", "row"): frozenset(
        _listed("name nombre nom nome bezeichnung label id code codigo no num number numero nr nummer n")
    ),
}
"""Words that are enough for a column of one kind of drawn feature, and would say nothing in a table."""

NAMING = frozenset(_listed("name nombre nom nome id code codigo label etiqueta bezeichnung etichetta"))
"""Words beside another that only say that it is named."""

LITTLE = frozenset(
    _listed(
        "a al con com with mit avec o of the de del d des du da do dos das di della delle dei der die den im la le les el "
        "il lo los las l no nr num n nb nbre nombre numero number nummer anzahl count cantidad quantita quantidade per por "
        "par pro"
    )
)
"""Words that say nothing about which column it is."""

UNITS: dict[str, frozenset[str]] = {
    **WEATHER_UNITS,
    "rate_kg_per_ha": frozenset(("kg ha", "kg per ha", "kg ha 1")),
    "water_l_per_ha": frozenset(("l ha", "l per ha", "l ha 1", "litres ha", "liter ha")),
    "x_m": frozenset(("m",)),
    "y_m": frozenset(("m",)),
    "lon": frozenset(("deg", "grad", "degrees", "grados", "gradi", "graus", "degres")),
    "lat": frozenset(("deg", "grad", "degrees", "grados", "gradi", "graus", "degres")),
    "hours": frozenset(("h", "hrs", "std")),
    "row_spacing_m": frozenset(("m", "metres", "meters", "metros", "metri", "meter")),
    "vine_spacing_m": frozenset(("m", "metres", "meters", "metros", "metri", "meter")),
    "bearing_deg": frozenset(("deg", "grad", "degrees", "grados", "gradi", "graus", "degres")),
}
"""Units that may stand beside a name without changing what its figures mean."""

OTHER_UNITS = (
    frozenset(_listed("f degf fahrenheit k kelvin in inch inches cm percent kmh mph kn kt knots ft feet min minutes g kg ac"))
    | {"deg f", "km h", "lb ac", "lbs ac", "gal ac", "g ha", "ml ha", "oz ac", "hl ha"}
    | UNIT_WORDS
)
"""Units that another table may have and ours has not; some of them are turned."""
