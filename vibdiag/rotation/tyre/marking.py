"""Reading a tyre's marking as people write it, and saying what is wrong with an impossible one.

A marking is read in two halves: the size (`LT265/75R16`) by one of a few patterns, then the words behind it
(`121/118S`, `XL`, `6PR`) one by one. Numbers are judged only after the pattern is known, so that the sentence
can name the part that is wrong.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import replace
from typing import Final

from vibdiag.rotation.tyre.ratings import HIGHEST_LOAD_INDEX, LOWEST_LOAD_INDEX, SPEED_SYMBOL_KMH
from vibdiag.rotation.tyre.shape import TyreMarkingError, is_flotation, rim_inches, shape_of
from vibdiag.rotation.tyre.size import Construction, Tyre

__all__ = ["parse_tyre"]

_EXAMPLE: Final = "as in 225/45R17 91W"
_LONGEST: Final = 80  # characters; a marking is one line on a sidewall

_NUMBER = r"[0-9]+(?:\.[0-9]+)?"
_D = "[0-9]"
_ALONE = r"(?P<rest>|[^0-9.].*)"  # no further digit belongs to the number before
_HEAD = r"(?P<prefix>LT|ST|P|T)? ?"
_RIM = rf" ?(?P<rim>{_NUMBER})(?P<rest>.*)"
_LETTERS = r"(?P<letters>[A-Z]{1,3}|-)"
_PATTERNS: Final = tuple(
    re.compile(pattern, re.ASCII)
    for pattern in (
        # 225/45R17, LT31x10.50-15, 225/45 17, 225/45/17
        rf"{_HEAD}(?P<first>{_NUMBER}) ?[/X] ?(?P<second>{_NUMBER})(?: ?{_LETTERS}| ?/| ){_RIM}",
        # 225 45 17, 225-45-17, 225 45 R17: only with an aspect ratio that can be one, since 185-14 82S exists
        rf"{_HEAD}(?P<first>[0-9]{{3}})[ -](?P<second>[2-9][0-9])(?: ?{_LETTERS}| ){_RIM}",
        # 2254517
        rf"(?P<prefix>)(?P<first>{_D}{_D}{_D})(?P<second>{_D}{_D})(?P<letters>)(?P<rim>{_D}{_D}){_ALONE}",
        # 185R14, 11R22.5, 7.00-15
        rf"{_HEAD}(?P<first>{_NUMBER})(?P<second>) ?{_LETTERS}{_RIM}",
    )
)
_SERVICE_DESCRIPTION: Final = re.compile(
    r"(?P<index>[0-9]{1,3})(?:/(?P<dual>[0-9]{1,3}))?(?P<symbol>A[1-8]|[A-Z])?", re.ASCII
)
_PLY_OR_LOAD_RANGE: Final = re.compile(r"[0-9]{1,2}PR|LR[A-N]|[B-G]")
_EXTRA_LOAD: Final = frozenset({"XL", "EL", "RF", "REINFORCED", "EXTRALOAD"})
_SERVICES: Final = frozenset({"LT", "ST", "C", "CP"})
_SAYS_NOTHING_HERE: Final = frozenset(
    {"SL", "HL", "TL", "TT", "TUBELESS", "TUBETYPE", "M+S", "M&S", "MS", "3PMSF", "RUNFLAT", "STANDARDLOAD"}
    | {"BSW", "WSW", "OWL", "OBL", "RWL"}  # colour of the sidewall's letters
)
_LOOKALIKES: Final = str.maketrans("×✕–—‐−⁄∕", "XX----//")
_SPEED_LETTERS_BEFORE_R: Final = "QRSTUHVWYZ"
_TWO_WORDS: Final = ("EXTRA LOAD", "STANDARD LOAD", "RUN FLAT", "LOAD RANGE ")


def parse_tyre(marking: str) -> Tyre:
    """The tyre a marking describes, such as `225/45R17 91W`, `P215/65 R 15`, `31x10,50R15LT` or `11R22.5`.

    Case, spaces, a decimal comma and the sign for "times" do not matter. A missing aspect ratio counts as
    80 % in a metric size (inspection texts say 82; 80 fits the published diameters better); for sizes in
    inches see shape.py. A hyphen behind an aspect ratio (`205/55-16`) is how many people write a radial, so
    the construction is left "unstated" there; without one (`7.00-15`) it means diagonal, as in UN R30.

    >>> tyre = parse_tyre("lt265/75 r16 121/118s")
    >>> tyre.width_mm, tyre.aspect_percent, tyre.rim_in, tyre.load_index, tyre.dual_load_index
    (265.0, 75.0, 16.0, 121, 118)

    Raises TyreMarkingError, and nothing else, for text that is no marking.
    """
    text = _tidy(marking)
    if re.search(r"[0-9][OI]|[OI][0-9]", text):  # neither letter stands beside a digit in any marking
        raise TyreMarkingError(
            f"The tyre marking {text!r} has a letter O or I where a digit belongs; write it {_EXAMPLE}."
        )
    for pattern in _PATTERNS:
        match = pattern.fullmatch(text)
        if match:
            return _build(match)
    raise TyreMarkingError(_unreadable(text))


def _tidy(marking: str) -> str:
    if len(marking) > _LONGEST:
        raise TyreMarkingError(
            f"A tyre marking is one short line, not {len(marking)} characters; write the size, {_EXAMPLE}."
        )
    text = unicodedata.normalize("NFKC", marking).upper()
    text = text.translate(_LOOKALIKES)
    text = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text)
    return " ".join(text.replace("(", " ").replace(")", " ").split())


def _unreadable(text: str) -> str:
    if not text:
        return f"The tyre marking is empty; write it as on the sidewall, {_EXAMPLE}."
    if not re.search(r"[0-9]", text, re.ASCII):
        return f"There is no number in the tyre marking {text!r}; write it as on the sidewall, {_EXAMPLE}."
    return f"The tyre marking {text!r} cannot be read; write width, aspect ratio, R and rim, {_EXAMPLE}."


def _build(match: re.Match[str]) -> Tyre:
    part = {name: text or "" for name, text in match.groupdict().items()}
    first, second = float(part["first"]), float(part["second"]) if part["second"] else None
    letters, before_r = _construction_letters(part["letters"])
    tyre = replace(
        shape_of(first, second, rim_inches(float(part["rim"]))),
        construction=_construction(letters, aspect_marked=second is not None),
        service=part["prefix"],
        speed_symbol=None if before_r in ("", "Z") else before_r,
    )
    tyre = _read_words(tyre, part["rest"])
    numbers = _plain(part["first"])
    if second is not None:
        numbers += ("x" if is_flotation(first, second) else "/") + _plain(part["second"])
    construction = ("Z" if before_r == "Z" else "") + letters
    suffix = "" if part["prefix"] else tyre.service
    return replace(tyre, size=f"{part['prefix']}{numbers}{construction}{_plain(part['rim'])}{suffix}")


def _plain(number: str) -> str:
    """The number as written, without leading zeros: `10.50` stays `10.50`."""
    return re.sub(r"^0+(?=[0-9])", "", number)


def _construction_letters(letters: str) -> tuple[str, str]:
    """Split `ZR`, `HR`, `RF`, `D` into the construction letter and the speed letter in front of it."""
    if not letters:  # 225/45 17, 225/45/17: nobody writes a diagonal so
        return "R", ""
    core = letters[:-1] if letters.endswith("RF") else letters  # RF: run-flat radial (UN R30)
    if core in ("R", "D", "B", "-"):
        return core, ""
    if len(core) == 2 and core[1] == "R" and core[0] in _SPEED_LETTERS_BEFORE_R:
        return "R", core[0]
    raise TyreMarkingError(
        f"{letters!r} before the rim is no construction; R or ZR is radial, D or - diagonal, B bias-belted."
    )


def _construction(letters: str, *, aspect_marked: bool) -> Construction:
    if letters == "-" and aspect_marked:
        return "unstated"
    constructions: dict[str, Construction] = {
        "R": "radial",
        "D": "diagonal",
        "-": "diagonal",
        "B": "bias-belted",
    }
    return constructions[letters]


def _read_words(tyre: Tyre, rest: str) -> Tyre:
    for phrase in _TWO_WORDS:
        rest = rest.replace(phrase, phrase.replace(" ", "").replace("LOADRANGE", "LR"))
    words = rest.removeprefix("/").split()
    for position, word in enumerate(words):
        tyre = _read_word(tyre, word, directly_behind_rim=position == 0 and not rest.startswith(" "))
    return tyre


def _read_word(tyre: Tyre, word: str, *, directly_behind_rim: bool) -> Tyre:
    if word in _SERVICES and (word != "C" or directly_behind_rim or tyre.load_index is None):
        return replace(tyre, service=word) if not tyre.service else tyre
    if word in _EXTRA_LOAD:
        return replace(tyre, extra_load=True)
    if word in _SAYS_NOTHING_HERE or _PLY_OR_LOAD_RANGE.fullmatch(word):
        return tyre
    if word in SPEED_SYMBOL_KMH:
        return replace(tyre, speed_symbol=word)
    description = _SERVICE_DESCRIPTION.fullmatch(word)
    if description is None:
        raise TyreMarkingError(
            f"{word!r} behind the rim is not known; load index and speed (91W), LT, C or XL may follow."
        )
    if tyre.load_index is not None:  # a second description, for another speed: 121/118S (123/120Q)
        return tyre
    symbol = description["symbol"] or tyre.speed_symbol
    if symbol is not None and symbol not in SPEED_SYMBOL_KMH:
        raise TyreMarkingError(
            f"{symbol!r} in {word!r} is not a speed symbol; they are A1 to A8 and B to Y without I, O, X."
        )
    return replace(
        tyre,
        load_index=_load_index(description["index"]),
        dual_load_index=_load_index(description["dual"]) if description["dual"] else None,
        speed_symbol=symbol,
    )


def _load_index(digits: str) -> int:
    index = int(digits)
    if not LOWEST_LOAD_INDEX <= index <= HIGHEST_LOAD_INDEX:
        raise TyreMarkingError(
            f"A load index of {index} does not exist on a road vehicle's tyre; it "
            f"runs from {LOWEST_LOAD_INDEX} to {HIGHEST_LOAD_INDEX}, such as the 91 in 225/45R17 91W."
        )
    return index
