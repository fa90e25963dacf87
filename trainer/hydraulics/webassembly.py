"""The few pieces of the WebAssembly binary format that a translated plant is made of.

Source: WebAssembly Core Specification 2.0, chapter 5 (binary format): LEB128 numbers, sections, instructions.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence

I32, F64, V128 = b"\x7f", b"\x7c", b"\x7b"

BLOCK, LOOP, END, ELSE = b"\x02\x40", b"\x03\x40", b"\x0b", b"\x05"
IF, IF_I32, IF_F64, IF_V128 = b"\x04\x40", b"\x04\x7f", b"\x04\x7c", b"\x04\x7b"
RETURN, SELECT = b"\x0f", b"\x1b"

EQZ, LESS_I32, ADD_I32, SUB_I32, AND, OR = b"\x45", b"\x48", b"\x6a", b"\x6b", b"\x71", b"\x72"
EQ_I32, SHIFT_LEFT = b"\x46", b"\x74"
EQ, NE, LT, GT, LE, GE = b"\x61", b"\x62", b"\x63", b"\x64", b"\x65", b"\x66"
NEGATE, SQRT, ADD, SUB, MULTIPLY, DIVIDE = b"\x9a", b"\x9f", b"\xa0", b"\xa1", b"\xa2", b"\xa3"
TO_F64 = b"\xb7"
NEGATE_PAIRS, SQRT_PAIRS = b"\xfd\xed\x01", b"\xfd\xef\x01"
ADD_PAIRS, SUB_PAIRS = b"\xfd\xf0\x01", b"\xfd\xf1\x01"
MULTIPLY_PAIRS, DIVIDE_PAIRS = b"\xfd\xf2\x01", b"\xfd\xf3\x01"
EQ_PAIRS, NE_PAIRS, LT_PAIRS, GT_PAIRS, LE_PAIRS, GE_PAIRS = (bytes([0xFD, sign]) for sign in range(0x47, 0x4D))
NOT_PAIRS, AND_PAIRS, OR_PAIRS, CHOOSE, ANY_TRUE = b"\xfd\x4d", b"\xfd\x4e", b"\xfd\x50", b"\xfd\x52", b"\xfd\x53"
BITS = b"\xfd\xc4\x01"


def unsigned(number: int) -> bytes:
    """A whole number of at least zero as LEB128, seven bits a byte, low bits first (WebAssembly core specification,
    section 5.2.2)."""
    out = bytearray()
    while True:
        low, number = number & 127, number >> 7
        if not number:
            out.append(low)
            return bytes(out)
        out.append(low | 128)


def signed(number: int) -> bytes:
    """A whole number of either sign as LEB128 in two's complement (WebAssembly core specification, section 5.2.2)."""
    out = bytearray()
    while True:
        low, number = number & 127, number >> 7
        if (number == 0 and not low & 64) or (number == -1 and low & 64):
            out.append(low)
            return bytes(out)
        out.append(low | 128)


def get(local: int) -> bytes:
    """``local.get``: push the local of this number (WebAssembly core specification, section 5.4.4)."""
    return b"\x20" + unsigned(local)


def put(local: int) -> bytes:
    """``local.set``: pop the top of the stack into the local of this number."""
    return b"\x21" + unsigned(local)


def tee(local: int) -> bytes:
    """``local.tee``: copy the top of the stack into the local of this number and leave it there."""
    return b"\x22" + unsigned(local)


def number(value: float) -> bytes:
    """``f64.const``: push a double, its eight bytes as they are, so that it is the same to the bit."""
    return b"\x44" + struct.pack("<d", value)


def whole(value: int) -> bytes:
    """``i32.const``: push a whole number of 32 bits, from -2**31 to 2**31 - 1."""
    return b"\x41" + signed(value)


def load(offset: int) -> bytes:
    """Pop an address, push the double that lies ``offset`` bytes behind it."""
    return b"\x2b\x03" + unsigned(offset)


def store(offset: int) -> bytes:
    """Pop a double and an address; write the one ``offset`` bytes behind the other."""
    return b"\x39\x03" + unsigned(offset)


def load_pair(offset: int) -> bytes:
    """Pop an address, push the two doubles that lie ``offset`` bytes behind it."""
    return b"\xfd\x00\x03" + unsigned(offset)


def store_pair(offset: int) -> bytes:
    """Pop two doubles and an address; write them ``offset`` bytes behind it."""
    return b"\xfd\x0b\x03" + unsigned(offset)


def load_first(offset: int) -> bytes:
    """Pop an address, push the double ``offset`` bytes behind it and a zero."""
    return b"\xfd\x5d\x03" + unsigned(offset)


def load_lane(offset: int, place: int) -> bytes:
    """Pop two doubles and an address, push them with the one of this place loaded ``offset`` bytes behind it."""
    return b"\xfd\x57\x03" + unsigned(offset) + unsigned(place)


def store_lane(offset: int, place: int) -> bytes:
    """Pop two doubles and an address, write the one of this place ``offset`` bytes behind it."""
    return b"\xfd\x5b\x03" + unsigned(offset) + unsigned(place)


def number_pair(value: float) -> bytes:
    """``v128.const``: push a double twice, its eight bytes as they are."""
    return b"\xfd\x0c" + struct.pack("<dd", value, value)


def lane(place: int) -> bytes:
    """Pop two doubles, push the first (0) or the second (1) of them."""
    return b"\xfd\x21" + unsigned(place)


def call(function: int) -> bytes:
    """``call``: call a function by its number; imported functions are counted first."""
    return b"\x10" + unsigned(function)


def branch(depth: int) -> bytes:
    """Leave ``depth`` + 1 enclosing blocks (a loop: begin it again)."""
    return b"\x0c" + unsigned(depth)


def branch_if(depth: int) -> bytes:
    """``br_if``: branch out of so many blocks when the popped 32-bit integer is not zero, else go on."""
    return b"\x0d" + unsigned(depth)


def vector(items: Sequence[bytes]) -> bytes:
    """Several items as a vector: their number as LEB128, then each as it is (section 5.1.3)."""
    return unsigned(len(items)) + b"".join(items)


def name(text: str) -> bytes:
    """A name as its length in bytes and its UTF-8 bytes (WebAssembly core specification, section 5.2.4)."""
    return vector([bytes([b]) for b in text.encode()])


def signature(takes: Sequence[bytes], gives: Sequence[bytes]) -> bytes:
    """A type of function: the value types that it takes, and those that it gives (section 5.3.6)."""
    return b"\x60" + vector(takes) + vector(gives)


def body(local_types: Sequence[tuple[int, bytes]], code: bytes) -> bytes:
    """A function's entry of the code section: its length, so many locals of each type, its instructions and the end."""
    inside = vector([unsigned(count) + kind for count, kind in local_types if count]) + code + END
    return unsigned(len(inside)) + inside


def section(number: int, content: bytes) -> bytes:
    """A section of a module: its number, its length in bytes, its content (section 5.5.2)."""
    return bytes([number]) + unsigned(len(content)) + content


def module(
    types: Sequence[bytes], type_of: Sequence[int], bodies: Sequence[bytes], exports: dict[str, int], notes: bytes
) -> bytes:
    """A module that imports its memory as ``plant.memory`` and exports functions by name; ``notes`` go along."""
    return b"".join(
        [
            b"\0asm\1\0\0\0",
            section(1, vector(types)),
            section(2, vector([name("plant") + name("memory") + b"\x02\x00\x01"])),
            section(3, vector([unsigned(t) for t in type_of])),
            section(7, vector([name(text) + b"\x00" + unsigned(at) for text, at in exports.items()])),
            section(10, vector(bodies)),
            section(0, name("plant") + notes),
        ]
    )
