"""Whether the lengths in a file's headers add up, before a library opens it.

The libraries read a cut NetCDF-3 file as zeros, spend minutes on a header that promises
billions of values, and may crash the program on a damaged GRIB message. Checking the
lengths that the formats write into their headers finds all of these at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

#: A header longer than this is no forecast's [bytes].
_MAX_HEADER = 16 * 1024**2
_TYPE_BYTES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 4, 6: 8, 7: 1, 8: 2, 9: 4, 10: 8, 11: 8}
_DIMENSION, _VARIABLE, _ATTRIBUTE = 10, 11, 12


class LayoutError(ValueError):
    """The file does not add up; the message is the reason."""


@dataclass
class _Header:
    """A cursor over the big-endian header of a NetCDF-3 file."""

    data: bytes
    wide: bool
    at: int = 4

    def number(self, size: int) -> int:
        if self.at + size > len(self.data):
            raise LayoutError("its header ends too soon")
        value = int.from_bytes(self.data[self.at : self.at + size], "big")
        self.at += size
        return value

    def count(self) -> int:
        return self.number(8 if self.wide else 4)

    def skip(self, n: int) -> None:
        self.at += n + (-n) % 4
        if self.at > len(self.data):
            raise LayoutError("its header ends too soon")

    def start_list(self, tag: int) -> int:
        """Number of items of a list, whose tag must be as expected or absent."""
        found, count = self.number(4), self.count()
        if found == 0 and count == 0:
            return 0
        if found != tag:
            raise LayoutError("its header is damaged")
        return count

    def name(self) -> str:
        length = self.count()
        start = self.at
        self.skip(length)
        return self.data[start : start + length].decode("utf-8", "replace")

    def attributes(self) -> None:
        for _ in range(self.start_list(_ATTRIBUTE)):
            self.name()
            kind, count = self.number(4), self.count()
            if kind not in _TYPE_BYTES:
                raise LayoutError("its header is damaged")
            self.skip(count * _TYPE_BYTES[kind])


def check_netcdf3(path: Path) -> None:
    """Compare a NetCDF-3 file's size with what its header promises.

    Raises
    ------
    LayoutError
        Damaged or cut short.

    References
    ----------
    NetCDF classic format specification (Unidata), header grammar; from memory.
    """
    size = path.stat().st_size
    with path.open("rb") as handle:
        data = handle.read(min(size, _MAX_HEADER))
    version = data[3]
    header = _Header(data, wide=version == 5)
    records = header.count()
    streaming = records == (2**64 - 1 if version == 5 else 2**32 - 1)
    lengths = []
    for _ in range(header.start_list(_DIMENSION)):
        header.name()
        lengths.append(header.count())
    header.attributes()
    ends, record_start = [0], size
    per_record: list[int] = []
    for _ in range(header.start_list(_VARIABLE)):
        name = header.name()
        shape = []
        for _ in range(header.count()):
            index = header.count()
            if index >= len(lengths):
                raise LayoutError(f"variable '{name}' has a dimension that is not there")
            shape.append(lengths[index])
        header.attributes()
        kind = header.number(4)
        header.count()
        begin = header.number(4 if version == 1 else 8)
        if kind not in _TYPE_BYTES:
            raise LayoutError("its header is damaged")
        item = _TYPE_BYTES[kind]
        if shape and shape[0] == 0:
            per_record.append(item * _product(shape[1:]))
            record_start = min(record_start, begin)
            ends.append(begin)
        else:
            ends.append(begin + item * _product(shape))
    if per_record and records and not streaming:
        # A single record variable is not padded; of several, the very last may not be.
        pads = [0] if len(per_record) == 1 else [-n % 4 for n in per_record]
        record_bytes = sum(per_record) + sum(pads)
        ends.append(record_start + records * record_bytes - max(pads))
    needed = max(ends)
    if needed > size:
        raise LayoutError(f"{size} bytes on disk, its header promises {needed}")


def _product(shape: list[int]) -> int:
    total = 1
    for n in shape:
        total *= n
    return total


def check_grib(path: Path) -> int:
    """Check the messages of a GRIB file by the lengths of their sections.

    Returns
    -------
    int
        Number of whole messages.

    Raises
    ------
    LayoutError
        A message is cut short or its sections do not add up to its length.

    References
    ----------
    WMO Manual on Codes, FM 92 GRIB editions 1 and 2, section 0; from memory.
    """
    size = path.stat().st_size
    position = count = 0
    with path.open("rb") as handle:
        while position + 12 <= size:
            handle.seek(position)
            head = handle.read(16)
            if head[:4] != b"GRIB":
                step = _next_message(handle, position, size)
                if step < 0:
                    break
                position = step
                continue
            edition = head[7]
            if edition not in (1, 2):
                raise LayoutError(f"GRIB edition {edition} at byte {position} is unknown")
            length = int.from_bytes(head[8:16] if edition == 2 else head[4:7], "big")
            if edition == 1 and length & 0x800000:
                # The large form of edition 1 counts in units of 120 bytes.
                length = (length & 0x7FFFFF) * 120
                if position + length - 120 > size:
                    raise _cut(position, length, size)
                return count + 1
            if length < 16 or position + length > size:
                raise _cut(position, length, size)
            handle.seek(position + length - 4)
            if handle.read(4) != b"7777":
                raise LayoutError(f"the GRIB message at byte {position} has no end mark")
            if edition == 2:
                _check_sections(handle, position, length)
            position += length
            count += 1
    return count


def _cut(position: int, length: int, size: int) -> LayoutError:
    return LayoutError(
        f"the GRIB message at byte {position} needs {length} bytes, {size - position} are left"
    )


def _next_message(handle: BinaryIO, position: int, size: int) -> int:
    """Position of the next start mark; padding between messages is allowed."""
    while position < size:
        handle.seek(position)
        chunk = handle.read(65536)
        found = chunk.find(b"GRIB", 1)
        if found >= 0:
            return position + found
        if len(chunk) < 65536:
            return -1
        position += len(chunk) - 3
    return -1


def _check_sections(handle: BinaryIO, position: int, length: int) -> None:
    """Sections 1 to 7 of an edition 2 message must chain exactly to its end mark."""
    at, last = position + 16, 0
    end = position + length - 4
    while at < end:
        handle.seek(at)
        head = handle.read(5)
        size, number = int.from_bytes(head[:4], "big"), head[4]
        # Sections 2 to 7 may repeat, but never before a section they need.
        follows = number == last + 1 or (last == 1 and number == 3)
        repeats = last == 7 and number in (2, 3, 4)
        if size < 5 or at + size > end or not (follows or repeats):
            raise LayoutError(f"the GRIB message at byte {position} is damaged")
        at, last = at + size, number
    if at != end or last != 7:
        raise LayoutError(f"the GRIB message at byte {position} is damaged")
