"""The colours of each theme: tokens by name, and the 256 colours of incidence. One ramp, one direction, in every theme."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from vinemap.columns import Floats

INCIDENCE_TOP = 0.40
"""Incidence at the dark end of the ramp: fixed for the season, so that two rounds share one scale."""

INCIDENCE_POWER = 0.62
INCIDENCE_TICKS = (0.0, 0.02, 0.10, 0.20, 0.40)

UNSURE, NOT_KNOWN = 0.80, 0.92
"""Deviation over the root of the sill from which the field is unsure, and not known."""

FAMILY_OF_KIND = {"L": "open", "F": "open", "D": "open", "R": "open", "T": "open", "P": "spray", "C": "cut", "V": "look"}


@dataclass(frozen=True, slots=True)
class Ink:
    """The colours of one theme, "#RRGGBB". ``ramp``: 256 colours of incidence; ``steps``: those of its classes."""

    ground: str
    sheet: str
    ink: str
    ink_soft: str
    ink_faint: str
    rule: str
    hair: str
    wash: str
    focus: str
    selection: str
    selection_halo: str
    caution: str
    caution_ink: str
    water: str
    work_open: str
    work_spray: str
    work_cut: str
    work_look: str
    gain: tuple[str, ...]
    steps: tuple[str, ...]
    ramp: tuple[str, ...]

    def of_kind(self, kind: str) -> str:
        """The family colour of a kind of work, by its letter."""
        colours = {"open": self.work_open, "spray": self.work_spray, "cut": self.work_cut, "look": self.work_look}
        return colours[FAMILY_OF_KIND[kind]]


def _split(run: str) -> tuple[str, ...]:
    """Colours written without a break, six figures each."""
    return tuple(f"#{run[k : k + 6]}" for k in range(0, len(run), 6))


_LIGHT_RAMP = _split(
    "F6EDDDF6ECDBF5EBDAF5EAD9F4E9D8F4E8D7F3E7D5F3E6D4F2E5D3F1E4D2F1E3D1F0E2CFF0E1CEEFE0CD"
    "EFDFCCEEDFCBEEDECAEDDDC8EDDCC7ECDBC6ECDAC5EBD9C4EBD8C3EAD7C2EAD6C0E9D5BFE9D4BEE8D3BD"
    "E8D2BCE7D1BBE7D0BAE6CFB9E6CEB8E5CDB6E5CCB5E5CBB4E4CAB3E4C9B2E4C8B1E3C7AFE3C6AEE3C5AD"
    "E2C4ACE2C3ABE2C2AAE1C1A9E1C0A8E1BFA7E1BEA5E0BDA4E0BCA3E0BBA2DFBAA1DFB9A0DFB89FDEB79E"
    "DEB69DDEB59CDDB49BDDB39ADDB299DDB098DCAF97DCAE97DCAD96DBAC95DBAB94DBAA93DAA992DAA891"
    "DAA790DAA68FD9A58FD9A48ED9A38DD8A28CD8A18BD8A08BD79E8AD79D89D79C88D69B88D69A87D69986"
    "D69885D59785D59684D59583D49483D49382D49281D39081D38F80D28E7FD28D7FD28C7ED18B7ED18A7D"
    "D0897DD0887CCF877BCF867BCF857ACE847ACE8379CD8279CD8178CC8078CC7F77CB7E77CB7D76CA7C76"
    "C97B76C97A75C87875C87774C77674C77573C67473C67373C57272C57172C47071C46F71C36E71C26D70"
    "C26C70C16B70C16A6FC0696FBF686FBE686EBD676EBC666EBC656EBB646DBA636DB9626DB8616CB7616C"
    "B7606CB65F6CB55E6BB45D6BB35C6BB25B6BB15B6AB15A6AB0596AAF586AAE5769AD5669AC5669AB5569"
    "AA5468A95368A95268A85268A75167A65067A54F67A44F67A34E66A24D66A04D669F4C669E4B659D4B65"
    "9C4A659B49659A49649948649847649747649546639445639345639244629144629043628F42628E4261"
    "8C41618B41618A4060893F60883F60873E5F863E5F853D5F833C5E823C5E813B5E803B5D7F3A5D7D3A5D"
    "7C395C7B395C7A385B78385B77375B76375A75365A7436597236597135587035586F34576D34576C3356"
    "6B33566A3256693255673155663154653054643053633053612F52602F515F2E515E2E505D2D505B2D4F"
    "5A2C4F592C4E582C4E562B4D552B4C542A4C532A4B522A4B50294A4F29494E28494D28484C27474A2747"
    "4927464826454726454625444525434325434224424124414023413F23403E223F3D223F3C223E3B213D"
    "39213C38203C37203B361F3A"
)
_DARK_RAMP = _split(
    "342E39352F3A362F3B37303C38303C38313D39313E3A323F3B32403C33413D33413E34423F3543403544"
    "41364541364542374643374744384845384946394A47394A483A4B493A4C4A3B4D4B3C4E4C3C4E4D3D4F"
    "4E3D504F3E51503E52513F52523F535340545440555541555641565742575942585A43585B43595C445A"
    "5D445B5E455B5F455C60465D62465E63475E64475F6548606648616749616949626A4A636B4A636C4B64"
    "6D4B656F4C65704C66714D67724D67734E68754E69764E69774F6A784F6A7A506B7B516B7C516C7D526C"
    "7E526D80536D81536E82546E83546F84556F8655708756708856718957718B57728C58728D58738E5973"
    "905974915A74925A74935B75945B75965C76975C76985D76995E779B5E779C5F789D5F789E60789F6079"
    "A06179A26279A3627AA4637AA5647AA6647BA7657BA8667BA9667CAA677CAB687CAC687DAD697DAE6A7D"
    "AF6A7DB06B7EB16C7EB26C7EB36D7FB46E7FB56E7FB66F80B77080B87180B97180BA7281BB7381BC7381"
    "BD7481BE7582BF7682C07682C17783C27883C27983C37A83C47B84C47C84C57D84C67D85C77E85C77F85"
    "C88085C98186C98286CA8386CB8487CB8587CC8587CD8688CE8788CE8888CF8989CF8A89D08B89D18C8A"
    "D18D8AD28E8BD38F8BD38F8BD4908CD5918CD5928DD6938DD6948DD7958ED7968ED8978FD8988FD99990"
    "D99A90DA9B91DA9C91DA9D92DB9E92DB9F93DCA093DCA194DDA294DDA395DEA495DEA596DEA696DFA797"
    "DFA898E0A998E0AA99E1AB99E1AC9AE1AD9BE2AE9BE2AF9CE3B09DE3B19DE3B29EE4B39FE4B49FE5B5A0"
    "E5B6A1E5B7A1E6B8A2E6B9A3E6BAA4E7BBA4E7BCA5E8BDA6E8BEA7E8BFA7E9C0A8E9C1A9E9C2AAEAC3AB"
    "EAC4ABEBC5ACEBC6ADEBC7AEECC8AFECC9B0ECCAB1EDCBB1EDCCB2EECDB3EECEB4EECFB5EFD0B6EFD1B7"
    "EFD2B8F0D3B9F0D3BAF1D4BBF1D5BCF2D6BDF2D7BEF2D8BFF3D9C0F3DAC1F4DBC2F4DCC3F4DDC4F5DEC5"
    "F5DFC6F6E0C7F6E1C8F7E2C9F7E3CAF7E4CBF8E5CCF8E6CDF9E7CEF9E8CFFAE9D0FAE9D1FBEAD2FBEBD3"
    "FCECD4FCEDD6FCEED7FDEFD8"
)
_OUTDOOR_STEPS = ("#F9F3E8", "#E1B9A3", "#CB7276", "#883E60", "#2F1E31")

LIGHT = Ink(
    ground="#FBF8F1",
    sheet="#FFFDF8",
    ink="#26221D",
    ink_soft="#5E574D",
    ink_faint="#857D71",
    rule="#CFC7B8",
    hair="#E4DDCF",
    wash="#E7E0D2",
    focus="#2F4FB5",
    selection="#26221D",
    selection_halo="#FFFDF8",
    caution="#F3C24B",
    caution_ink="#26221D",
    water="#5C7F92",
    work_open="#4F6A22",
    work_spray="#1F567F",
    work_cut="#5A2A12",
    work_look="#57514A",
    gain=("#F4F1E5", "#DEDBC2", "#C7C6A0", "#AFB181", "#939B63"),
    steps=("#F6EDDD", "#E6CEB8", "#DCAE96", "#D28B7E", "#C16B6F", "#A65067", "#823C5E", "#5B2D4F", "#361F3A"),
    ramp=_LIGHT_RAMP,
)
DARK = Ink(
    ground="#1D1A17",
    sheet="#24211D",
    ink="#F1EADC",
    ink_soft="#BDB4A4",
    ink_faint="#8C8477",
    rule="#4A443B",
    hair="#342F29",
    wash="#38332C",
    focus="#9DB4FF",
    selection="#FFF8EA",
    selection_halo="#1D1A17",
    caution="#F3C24B",
    caution_ink="#1D1A17",
    water="#7FA6BA",
    work_open="#9DBA66",
    work_spray="#86BBE6",
    work_cut="#F3D3B6",
    work_look="#BDB4A4",
    gain=("#34362B", "#4F523A", "#6E734B", "#939764", "#C0BE86"),
    steps=("#342E39", "#523F53", "#774F6A", "#9E5F78", "#BF7582", "#D5928C", "#E3B19D", "#EFD1B7", "#FDEFD8"),
    ramp=_DARK_RAMP,
)
OUTDOOR = Ink(
    ground="#FFFFFF",
    sheet="#FFFFFF",
    ink="#000000",
    ink_soft="#2B2B2B",
    ink_faint="#4A4A4A",
    rule="#000000",
    hair="#8A8A8A",
    wash="#E4E4E4",
    focus="#0A2FA8",
    selection="#000000",
    selection_halo="#FFFFFF",
    caution="#FFC400",
    caution_ink="#000000",
    water="#1D5A7A",
    work_open="#4A6A14",
    work_spray="#003F70",
    work_cut="#4A1F00",
    work_look="#2B2B2B",
    gain=("#F2F1E9", "#C9C8AD", "#9C9E76", "#70764B", "#424A27"),
    steps=_OUTDOOR_STEPS,
    ramp=tuple(_OUTDOOR_STEPS[min(k * 5 // 256, 4)] for k in range(256)),
)

THEMES = {"light": LIGHT, "dark": DARK, "outdoor": OUTDOOR}


def ramp_rgba(ink: Ink) -> npt.NDArray[np.uint8]:
    """The ramp as a table (256, 4) of red, green, blue, alpha, 0..255, row 0 for no mildew."""
    figures = [[int(colour[k : k + 2], 16) for k in (1, 3, 5)] + [255] for colour in ink.ramp]
    return np.array(figures, np.uint8)


def place_on_ramp(incidence: Floats, top: float = INCIDENCE_TOP) -> npt.NDArray[np.uint8]:
    """Index 0..255 into the ramp of incidence [0..1], any shape: (incidence / top) ** 0.62, held at the top."""
    share = np.clip(np.asarray(incidence, np.float64) / top, 0.0, 1.0)
    return np.rint(255.0 * share**INCIDENCE_POWER).astype(np.uint8)


def grey_of(colour: str) -> str:
    """The grey a photocopier makes of "#RRGGBB": luma of ITU-R BT.601 (1982)."""
    red, green, blue = (int(colour[k : k + 2], 16) for k in (1, 3, 5))
    luma = round(0.299 * red + 0.587 * green + 0.114 * blue)
    return f"#{luma:02X}{luma:02X}{luma:02X}"
