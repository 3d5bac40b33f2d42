"""Damage to files, decided by a seed: bytes, words, numbers. Nothing here knows the program."""

from __future__ import annotations

import random
import re

#: What spoils a text wherever it is put.
SPICE: tuple[bytes, ...] = (
    b"nan", b"inf", b"-inf", b"1e999", b"-1e308", b"1e-320", b"99999999999999999999", b"-0", b"-",
    b"", b",", b";", b"\t", b"\x00", b"\xff", b"\xef\xbb\xbf", b"\xff\xfe", b"<", b">", b"&",
    b"&#0;", b"&x;", b'"', b"'", b'"""', b"\n", b"\r", b"\r\n", b"{", b"}", b"[", b"]", b"[[",
    b"]]", b"=", b"null", b"true", b"NaN", b"Infinity", b"<!DOCTYPE a>", b"<?xml version='1.1'?>",
    b"95", b"95 N", b"181", b"60", b"48 60.0 N", b"N", b"S", b"48,5", b"1_000", b"0x1F",
    "٣".encode(), "５".encode(), "−5".encode(), "\u202e".encode(), "\u2028".encode(),
    b"0001-01-01T00:00:00Z", b"1926-03-14T06:00Z", b"2126-03-14T06:00Z", b"2026-02-30T00:00Z",
    b"2026-03-14T06:00", b"9999-12-31T24:00:00Z", b"P99999999999D", b"PK\x03\x04", b"<![CDATA[",
    b"]]>", b"\\", b"#", b"%s", b"{0}", b"../", b"A" * 5000,
)  # fmt: skip

_NUMBER = re.compile(rb"[0-9][0-9.:TZ-]*")


def spoil_bytes(data: bytes, chance: random.Random, times: int = 3) -> bytes:
    """One to ``times`` accidents: put in, take out, cut, turn a bit, repeat, swap a number."""
    out = bytearray(data)
    for _ in range(chance.randint(1, times)):
        at = chance.randrange(len(out) + 1)
        kind = chance.randrange(8)
        if kind == 0:
            out[at:at] = chance.choice(SPICE)
        elif kind == 1:
            del out[at : at + chance.randint(1, 40)]
        elif kind == 2:
            del out[at:]
        elif kind == 3 and at < len(out):
            out[at] ^= 1 << chance.randrange(8)
        elif kind == 4 and at < len(out):
            out[at] = chance.randrange(256)
        elif kind == 5:
            piece = out[at : at + chance.randint(1, 80)]
            out[at:at] = piece * chance.randint(1, 3)
        else:
            # A number swapped for another thing hits the checks, not the syntax.
            spans = [m.span() for m in _NUMBER.finditer(bytes(out))]
            if spans:
                first, last = chance.choice(spans)
                out[first:last] = chance.choice(SPICE)
        if not out:
            break
    return bytes(out)


def cut(data: bytes, chance: random.Random) -> bytes:
    """The beginning of a file, as a broken download leaves it."""
    return data[: chance.randrange(len(data))]


def flip(data: bytes, chance: random.Random, most: int = 4) -> bytes:
    """A few bits turned."""
    out = bytearray(data)
    for _ in range(chance.randint(1, most)):
        out[chance.randrange(len(out))] ^= 1 << chance.randrange(8)
    return bytes(out)


def blot(data: bytes, chance: random.Random) -> bytes:
    """A stretch overwritten with zeros, ones or noise, as a bad disk leaves it."""
    out = bytearray(data)
    at = chance.randrange(len(out))
    n = min(chance.choice((1, 2, 4, 8, 64, 512)), len(out) - at)
    filler = chance.choice((0, 255, None))
    out[at : at + n] = chance.randbytes(n) if filler is None else bytes([filler]) * n
    return bytes(out)


def splice(data: bytes, chance: random.Random) -> bytes:
    """A stretch left out, repeated or moved: blocks of a copy in the wrong order."""
    n = chance.choice((1, 3, 4, 16, 512))
    a = chance.randrange(len(data))
    piece, rest = data[a : a + n], data[:a] + data[a + n :]
    kind = chance.randrange(3)
    if kind == 0:
        return rest
    b = chance.randrange(len(rest) + 1) if kind == 1 else a
    return (rest if kind == 1 else data)[:b] + piece + (rest if kind == 1 else data)[b:]


def spoil_binary(data: bytes, chance: random.Random) -> bytes:
    """One accident to a binary file."""
    kinds = (cut, flip, flip, blot, blot, splice)
    return chance.choice(kinds)(data, chance)


#: Text as other programs save it; all but the first two say the same as before.
def recoded(data: bytes, chance: random.Random) -> bytes:
    """A text saved by another program: marks, encodings, line ends."""
    text = data.decode("utf-8")
    kind = chance.randrange(9)
    if kind == 0:
        return b"\xef\xbb\xbf" + data
    if kind == 1:
        return text.encode("utf-16")
    if kind == 2:
        return text.encode("utf-16-be")
    if kind == 3:
        return text.replace("\n", "\r\n").encode()
    if kind == 4:
        return text.replace("\n", "\r").encode()
    if kind == 5:
        return re.sub(r"(\d)\.(\d)", r"\1,\2", text).encode()
    if kind == 6:
        return re.sub(r"(\d)\.(\d)", r"\1,\2", text.replace(",", ";")).encode()
    if kind == 7:
        return ("é" + text).encode("latin-1", "replace")
    return text.encode("utf-32")
