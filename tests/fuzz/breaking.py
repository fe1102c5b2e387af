"""Ways to break a file, for hypothesis: what people, programs and malice do to files."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from hypothesis import strategies as st

from fuzz.seeds import pack, unpack

if TYPE_CHECKING:
    from fuzz.targets import Target

HOSTILE: tuple[bytes, ...] = (
    *(b"", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\r", b'"', b"<", b"&x;", b"]]>", b"{", b"[" * 3_000),
    *(b"<!DOCTYPE x [<!ENTITY a 'aa'><!ENTITY b '&a;&a;'>]>", b"<a>" * 3_000, b"</gpx>", b"<?xml?>"),
    *(
        b"nan",
        b"inf",
        b"-0",
        b"1e999",
        b"-1e308",
        b"99999999999999999999999",
        b"0x10",
        b"1_000",
        b"90.0000001",
        b"9" * 400,
        b'["x"]',
        b'"\\ud800"',
    ),
    *(b"180", b"-180.5", b"360", b"null", b"true", b"\xc3\x28", b"\xed\xa0\x80", b"\xe2\x80\xae"),
    *(b"0001-01-01T00:00:00Z", b"9999-12-31T23:59:59+14:00", b"2026-02-30", b"24:61:61", b"-9999"),
    *(b"../../etc/passwd", b"C:\\con", b"=cmd()", b"@SUM(1)", b"<script>", b"${1}", b"{{7*7}}", b"%s%n"),
)
_NUMBER = re.compile(rb"-?\d+(?:\.\d+)?")


@st.composite
def broken_bytes(draw: st.DrawFn, seeds: list[bytes]) -> bytes:
    """Return a file that was cut, spliced, scribbled on or filled with hostile words."""
    data = draw(st.sampled_from(seeds))
    for _ in range(draw(st.integers(1, 5))):
        at, end = sorted((draw(st.integers(0, len(data))), draw(st.integers(0, len(data)))))
        what = draw(st.sampled_from(["cut", "drop", "double", "flip", "word", "number", "splice", "encode"]))
        data = _broken(draw, data, what, at, end, seeds)
    return data


def _broken(draw: st.DrawFn, data: bytes, what: str, at: int, end: int, seeds: list[bytes]) -> bytes:
    if what == "cut":
        return data[:end]
    if what == "drop":
        return data[:at] + data[min(end, at + 200) :]
    if what == "double":
        return data[:end] + data[at : min(end, at + 2_000)] + data[end:]
    if what == "flip":
        return data[:at] + draw(st.binary(min_size=1, max_size=4)) + data[at + 1 :]
    if what == "word":
        return data[:at] + draw(st.sampled_from(HOSTILE)) + data[at:]
    if what == "number":
        found = _NUMBER.search(data, at)
        word = draw(st.sampled_from(HOSTILE))
        return data if found is None else data[: found.start()] + word + data[found.end() :]
    if what == "splice":
        other = draw(st.sampled_from(seeds))
        cut = draw(st.integers(0, len(other)))
        return data[:at] + other[cut:]
    text = data.decode("utf-8", "replace")
    return text.encode(draw(st.sampled_from(["utf-16", "utf-32", "latin-1", "utf-8-sig"])), "replace")


@st.composite
def broken_files(draw: st.DrawFn, target: Target, seeds: list[bytes]) -> bytes:
    """Return a broken file; of a zip file, half the time one whole archive with a broken member."""
    if not target.zipped or draw(st.booleans()):
        return draw(broken_bytes(seeds))
    members = unpack(draw(st.sampled_from(seeds)))
    index = draw(st.integers(0, len(members) - 1))
    name, data = members[index]
    members[index] = (name, draw(broken_bytes([data])))
    return pack(members)
