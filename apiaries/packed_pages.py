"""A kept page is packed once, not for each answer: gzip (RFC 1952) lets packed pieces stand one after the other.

What differs from answer to answer, the token of forms, goes in between as it is. It is never packed together with
anything, and a random number of bytes stands in front, as in Django's own packing: lengths tell nothing (BREACH).
"""

import secrets
import string
import struct
import zlib
from dataclasses import dataclass

LEVEL = 6  # as Django's
RANDOM_BYTES = 100  # as Django's
_HEADER = b"\x1f\x8b\x08\x08\x00\x00\x00\x00\x00\xff"
"""Deflate, with a file name, no time, no system. The name is where the random bytes go."""
_END = b"\x01\x00\x00\xff\xff"
"""The last block, stored, of nothing (RFC 1951, 3.2.4)."""
_LETTERS = string.ascii_letters.encode()


@dataclass(frozen=True, slots=True)
class PackedPage:
    """Between each two pieces stands the token."""

    plain: tuple[bytes, ...]
    packed: tuple[bytes, ...]

    @classmethod
    def of(cls, page: str, *, token_place: str) -> "PackedPage":
        plain = tuple(piece.encode() for piece in page.split(token_place))
        return cls(plain, tuple(_pack(piece) for piece in plain))

    @property
    def has_token(self) -> bool:
        return len(self.plain) > 1

    def as_text(self, token: str) -> bytes:
        """The page as it is."""
        return token.encode().join(self.plain)

    def as_gzip(self, token: str) -> bytes:
        """One gzip member of the same. `token`: at most 65,535 bytes."""
        text = self.as_text(token)
        body = _stored(token.encode()).join(self.packed)
        name = bytes(secrets.choice(_LETTERS) for _ in range(secrets.randbelow(RANDOM_BYTES)))
        sum_and_size = struct.pack("<II", zlib.crc32(text), len(text) & 0xFFFFFFFF)
        return b"".join((_HEADER, name, b"\x00", body, _END, sum_and_size))


def _pack(piece: bytes) -> bytes:
    packer = zlib.compressobj(LEVEL, zlib.DEFLATED, -zlib.MAX_WBITS)
    return packer.compress(piece) + packer.flush(
        zlib.Z_FULL_FLUSH
    )  # ends on a byte, and refers to nothing before


def _stored(text: bytes) -> bytes:
    """A block that is not packed, and not the last."""
    return b"\x00" + struct.pack("<HH", len(text), len(text) ^ 0xFFFF) + text
