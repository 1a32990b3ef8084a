"""What form a file has, by its first bytes and never by its name: names lie, and a renamed file still opens."""

from __future__ import annotations

import codecs
import re
from pathlib import Path
from typing import Final, Literal

from vibdiag.files.errors import InputError

__all__ = ["Form", "sniff_form"]

Form = Literal["text", "parquet", "wav", "uff", "mf4", "gpx", "nmea"]

_HEAD_BYTES: Final = 1 << 14
_NMEA = re.compile(rb"\$[A-Z]{2}(RMC|GGA|VTG|GSA|GSV|GLL|ZDA)[,]")
_NOT_READ: Final = (
    (b"PK\x03\x04", "a zip archive or a spreadsheet; unpack it, or save the sheet as CSV"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet; save it as CSV"),
    (b"\x1f\x8b", "packed with gzip; unpack it first"),
    (b"BZh", "packed with bzip2; unpack it first"),
    (b"\xfd7zXZ", "packed with xz; unpack it first"),
    (b"7z\xbc\xaf", "a 7-Zip archive; unpack it first"),
    (b"Rar!", "a RAR archive; unpack it first"),
    (b"\x89HDF", "an HDF5 or MATLAB file; export the signals as CSV"),
    (b"MATLAB 5.0", "a MATLAB file; export the signals as CSV"),
    (b"SQLite format 3", "a database; export its table as CSV"),
    (b"%PDF", "a PDF document; the recording itself is needed"),
    (b"fLaC", "packed sound (FLAC); save it as WAV"),
    (b"OggS", "lossy sound; a recording must be saved without loss, as WAV"),
    (b"ID3", "lossy sound; a recording must be saved without loss, as WAV"),
)
_FORMS: Final = "a text table (CSV), Parquet, WAV, UFF58, MF4, GPX or NMEA"


def sniff_form(path: Path, label: str) -> Form:
    """The form of a file. Raises InputError when there is none, it is empty, or no form known here fits."""
    try:
        if not path.exists():
            raise InputError("does not exist; check the name and the folder.", file=label)
        if not path.is_file():
            raise InputError("is no file (a folder or a device); name the recording itself.", file=label)
        with path.open("rb") as file:
            head = file.read(_HEAD_BYTES)
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"cannot be opened ({getattr(error, 'strerror', None) or error}).", file=label) from error
    if not head.strip(b"\0 \t\r\n"):
        raise InputError("is empty; was the recording stopped before it was copied?", file=label)
    return _by_bytes(head, label)


def _by_bytes(head: bytes, label: str) -> Form:
    if head.startswith(b"PAR1"):
        return "parquet"
    if head[:4] in (b"RIFF", b"RIFX", b"RF64") and head[8:12] == b"WAVE":
        return "wav"
    if head.startswith((b"MDF     ", b"UnFinMF ")):
        return "mf4"
    for magic, what in _NOT_READ:
        if head.startswith(magic):
            raise InputError(f"is {what}.", file=label)
    first = next((line.strip() for line in head.splitlines() if line.strip()), b"")
    if first == b"-1" and re.search(rb"^ {4}(58|-1)|^ {0,5}58", head, re.M):
        return "uff"
    if b"<gpx" in head:
        return "gpx"
    if _NMEA.search(head):
        return "nmea"
    if head.lstrip().startswith((b"<", b"{")):
        raise InputError(f"is XML or JSON of a kind not read here; save it as {_FORMS}.", file=label)
    utf_16 = head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    odd = sum(head.count(byte) for byte in (b"\0", b"\x01", b"\x02", b"\x03", b"\x04", b"\x05"))
    if odd and not utf_16 and odd * 100 > len(head):
        raise InputError(f"is no recording of a form known here; save it as {_FORMS}.", file=label)
    return "text"
