"""Photos: position, time, accuracy, words and the small copy; broken and hostile files.

Outside checks: exifread, a general library that knows nothing of the one that is used, reads the same
photos; ImageOps of the picture library turns them upright by a code path of its own.
"""

from __future__ import annotations

import hashlib
import io
import os
import struct
import zlib
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import exifread
import exifread.utils
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw, ImageOps

from ringrow.errors import FileError
from ringrow.farm.adding_up import kept_file
from ringrow.farm.photo_store import FOLDER, photo_lines, remove_photos, save_photos
from ringrow.farm.readers import read_points
from ringrow.farm.readers.exif import MAX_CAPTION, caption_of, file_words, fix_of, time_of
from ringrow.farm.readers.photos import MAX_PHOTOS, SIDE_PX, read_photo, read_photos, shown_name

if TYPE_CHECKING:
    from pathlib import Path

# 41 deg 0 min 36.1234 s N, 98 deg 0 min 0.5678 s W: worked out by hand as 41 + 36.1234/3600 and so on;
# two more general libraries that write and read Exif data gave the same.
LAT, LON = 41.01003427777778, -98.00015772222223
NORTH_WEST = {1: "N", 2: (41.0, 0.0, 36.1234), 3: "W", 4: (98.0, 0.0, 0.5678)}
Parts = dict[int, Any]


def picture(width: int = 64, height: int = 48) -> Image.Image:
    image = Image.new("RGB", (width, height), "tan")
    # One red corner tells which way is up.
    ImageDraw.Draw(image).rectangle((0, 0, width // 3, height // 3), fill="red")
    return image


def exif_of(main: Parts | None = None, detail: Parts | None = None, gps: Parts | None = None) -> Image.Exif:
    exif = Image.Exif()
    exif.update(main or {})
    exif.get_ifd(0x8769).update(detail or {})
    exif.get_ifd(0x8825).update(gps or {})
    return exif


def photo(path: Path, *, image: Image.Image | None = None, form: str = "JPEG", **parts: Parts) -> Path:
    (image or picture()).save(path, form, exif=exif_of(**parts))
    return path


def refusals(folder: Path) -> dict[str, str]:
    return {row.what: row.why for row in read_photos(folder).refused}


# --- where


@pytest.mark.parametrize(
    ("sides", "lat", "lon"),
    [("NW", LAT, LON), ("SE", -LAT, -LON), ("SW", -LAT, LON), ("NE", LAT, -LON)],
)
def test_the_position_is_what_another_library_reads(
    tmp_path: Path, sides: str, lat: float, lon: float
) -> None:
    path = photo(tmp_path / "a.jpg", gps={**NORTH_WEST, 1: sides[0], 3: sides[1]})
    fix = read_photo(path).fix
    with path.open("rb") as stream:
        outside = exifread.utils.get_gps_coords(exifread.process_file(stream))
    assert (fix.lat, fix.lon) == (pytest.approx(lat, abs=1e-12), pytest.approx(lon, abs=1e-12))
    assert (fix.lat, fix.lon) == pytest.approx(outside, abs=1e-12)


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({1: None}, "lacks N or S, E or W"),
        ({3: None}, "lacks N or S, E or W"),
        ({1: "X"}, "lacks N or S, E or W"),
        ({2: None, 4: None}, "no position in the photo"),
        ({4: None}, "cannot be read"),
        ({2: (41.0, 0.0)}, "cannot be read"),
        ({2: (91.0, 0.0, 0.0)}, "cannot be read"),
        ({4: (98.0, 61.0, 0.0)}, "cannot be read"),
        ({2: (float("nan"), 0.0, 0.0)}, "cannot be read"),
        ({2: ("x", 0.0, 0.0)}, "cannot be read"),
        ({9: "V"}, "void"),
    ],
)
def test_half_a_position_is_none(change: Parts, why: str) -> None:
    gps = {tag: value for tag, value in {**NORTH_WEST, **change}.items() if value is not None}
    fix = fix_of(gps)
    assert (fix.lat, fix.lon) == (None, None)
    assert why in fix.why


def test_a_height_plays_no_part(tmp_path: Path) -> None:
    path = photo(tmp_path / "a.jpg", gps={**NORTH_WEST, 5: b"\x01", 6: 950.0})
    assert read_photo(path).fix.lat == pytest.approx(LAT, abs=1e-12)


def test_the_stated_error_is_a_root_mean_square(tmp_path: Path) -> None:
    accuracy = read_photo(photo(tmp_path / "a.jpg", gps={**NORTH_WEST, 31: 4.75})).fix.accuracy
    assert accuracy is not None
    assert (accuracy.radius_m, accuracy.kind, accuracy.assumed) == (4.75, "rms", False)
    # Wider than the other reading, a 68 % radius (sigma = radius / 1.5096), by 1.5096 / 1.4142.
    assert accuracy.sigma_m == pytest.approx(4.75 / 1.5096 * 1.0675, rel=1e-4)


@pytest.mark.parametrize("value", [0.0, -3.0, 1e9, float("nan"), "x"])
def test_an_impossible_error_is_left_out_aloud(value: Any) -> None:
    fix = fix_of({**NORTH_WEST, 31: value})
    assert fix.accuracy is None
    assert fix.remarks == ("the photo's stated error left out: no number of metres above 0 and up to 1,000",)


def test_another_datum_is_said() -> None:
    assert fix_of({**NORTH_WEST, 18: "WGS-84"}).remarks == ()
    assert fix_of({**NORTH_WEST, 18: "TOKYO"}).remarks == ('datum "TOKYO" taken as WGS 84',)


# --- when


@pytest.mark.parametrize(
    ("detail", "gps", "moment", "assumed"),
    [
        ({36867: "2026:04:02 08:05:00", 36881: "-05:00"}, {}, "2026-04-02T13:05:00", False),
        ({36867: "2026:04:02 23:05:00", 36881: "+09:30"}, {}, "2026-04-02T13:35:00", False),
        (
            {36867: "2026:04:02 08:05:00"},
            {29: "2026:04:02", 7: (13.0, 6.0, 7.5)},
            "2026-04-02T13:06:07.500",
            False,
        ),
        ({36867: "2026:04:02 08:05:00"}, {}, "2026-04-02T08:05:00", True),
        ({36867: "2026:04:02 08:05:00", 36881: "+99:00"}, {}, "2026-04-02T08:05:00", True),
        ({36867: "0000:00:00 00:00:00"}, {}, None, False),
        ({36867: "2026:13:02 08:05:00"}, {29: "x", 7: (99.0, 0.0, 0.0)}, None, False),
        ({36867: "0001:01:01 00:00:00", 36881: "+05:00"}, {}, None, False),
        ({}, {}, None, False),
    ],
)
def test_when_a_photo_was_taken(detail: Parts, gps: Parts, moment: str | None, assumed: bool) -> None:
    expected = datetime.fromisoformat(moment).replace(tzinfo=UTC) if moment else None
    assert time_of({}, detail, gps) == (expected, assumed)


def test_an_assumed_zone_is_said(tmp_path: Path) -> None:
    photo(tmp_path / "a.jpg", detail={36867: "2026:04:02 08:05:00"})
    assert "times without a zone are taken as UTC" in read_photos(tmp_path).said


# --- words


def test_words_come_from_everywhere_once() -> None:
    main = {270: "P3 T5 gearbox", 40092: "caja\0".encode("utf-16-le"), 40091: tuple("P3".encode("utf-16-le"))}
    detail = {37510: b"UNICODE\0" + "fuga".encode("utf-16-be")}
    iptc = {(2, 120): "válvula".encode(), (2, 5): b"p3 t5 GEARBOX"}
    assert caption_of(main, detail, iptc, stem="IMG_0412") == "P3 T5 gearbox; caja; P3; fuga; válvula"


def test_accents_survive_the_way_through_a_photo(tmp_path: Path) -> None:
    image = picture()
    exif = exif_of({270: "válvula dañada".encode()})
    image.save(tmp_path / "a.jpg", exif=exif)
    assert read_photo(tmp_path / "a.jpg").caption == "válvula dañada"


def test_an_iptc_caption_is_read(tmp_path: Path) -> None:
    text = b"V2 L43 leak"
    record = b"\x1c\x02\x78" + struct.pack(">H", len(text)) + text
    block = b"8BIM" + struct.pack(">H", 0x0404) + b"\0\0" + struct.pack(">I", len(record)) + record
    segment = b"Photoshop 3.0\0" + block + b"\0" * (len(record) % 2)
    whole = io.BytesIO()
    picture().save(whole, "JPEG")
    data = whole.getvalue()
    # A segment APP13 right behind the start of the image.
    marked = data[:2] + b"\xff\xed" + struct.pack(">H", len(segment) + 2) + segment + data[2:]
    (tmp_path / "a.jpg").write_bytes(marked)
    assert read_photo(tmp_path / "a.jpg").caption == "V2 L43 leak"


@pytest.mark.parametrize(
    ("stem", "words"),
    [
        ("IMG_20260402_130507", ""),
        ("DSC01234", ""),
        ("P1030412", ""),
        ("20260402 (2)", ""),
        ("6a1f77c4-2b0e-5d7c-9c39-0f5a3b1d8e42", ""),
        ("P3 T5 gearbox", "P3 T5 gearbox"),
        ("IMG_0412 P3_T5-llanta", "P3 T5 llanta"),
        ("a", ""),
        ("burrow by road", "burrow by road"),
    ],
)
def test_only_a_person_s_words_in_a_file_name_count(stem: str, words: str) -> None:
    assert file_words(stem) == words


def test_camera_texts_are_no_caption() -> None:
    main = {270: "XYZ DIGITAL CAMERA ", 271: "Maker", 40091: "Maker".encode("utf-16-le")}
    assert caption_of(main, {}, {}, stem="IMG_1") == ""


def test_a_caption_has_an_end() -> None:
    assert len(caption_of({270: "x" * 100_000}, {}, {}, stem="a")) <= MAX_CAPTION


# --- the copy


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_copy_stands_upright(tmp_path: Path, orientation: int) -> None:
    path = photo(tmp_path / "a.jpg", image=picture(90, 60), main={274: orientation})
    copy = Image.open(io.BytesIO(read_photo(path).jpeg))
    with Image.open(path) as original:
        upright = ImageOps.exif_transpose(original)
    assert copy.size == upright.size
    corners = [(4, 4), (copy.width - 5, 4), (4, copy.height - 5), (copy.width - 5, copy.height - 5)]
    red = [copy.getpixel(at)[1] < 100 for at in corners]
    assert red == [upright.getpixel(at)[1] < 100 for at in corners]
    assert sum(red) == 1


def test_the_copy_is_small_and_holds_nothing_but_the_picture(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    exif = exif_of({270: "secret", 274: 6}, {36867: "2026:04:02 08:05:00"}, NORTH_WEST)
    picture(4000, 3000).save(path, exif=exif, comment=b"secret", icc_profile=b"secret profile")
    jpeg = read_photo(path).jpeg
    copy = Image.open(io.BytesIO(jpeg))
    assert (copy.format, copy.size) == ("JPEG", (SIDE_PX * 3 // 4, SIDE_PX))
    assert b"secret" not in jpeg
    assert b"Exif" not in jpeg
    assert exifread.process_file(io.BytesIO(jpeg)) == {}
    assert dict(copy.getexif()) == {}


def test_a_small_photo_is_not_blown_up(tmp_path: Path) -> None:
    assert Image.open(io.BytesIO(read_photo(photo(tmp_path / "a.jpg")).jpeg)).size == (64, 48)


def test_a_png_is_read_with_and_without_a_position(tmp_path: Path) -> None:
    parts = {"main": {271: "Maker"}, "gps": NORTH_WEST}
    photo(tmp_path / "a.png", image=picture().convert("RGBA"), form="PNG", **parts)
    picture().save(tmp_path / "b.png")
    first, second = read_photos(tmp_path).rows
    assert first.lat == pytest.approx(LAT, abs=1e-12)
    assert second.lat is None
    assert second.photo is not None
    assert second.photo.fix.why == "no position in the photo"


def test_the_flag_goes_by_content_not_by_name(tmp_path: Path) -> None:
    one = read_photo(photo(tmp_path / "a.jpg", gps=NORTH_WEST))
    (tmp_path / "b.jpg").write_bytes((tmp_path / "a.jpg").read_bytes())
    two = read_photo(tmp_path / "b.jpg")
    assert one.flag == two.flag
    assert one.sha256 == hashlib.sha256((tmp_path / "a.jpg").read_bytes()).hexdigest()
    assert read_photo(photo(tmp_path / "c.jpg", main={270: "else"})).flag != one.flag


# --- broken and hostile


def test_each_broken_photo_is_one_message_and_the_others_come_in(tmp_path: Path) -> None:
    good = photo(tmp_path / "good.jpg", image=picture(600, 400), gps=NORTH_WEST)
    (tmp_path / "cut.jpg").write_bytes(good.read_bytes()[:-400])
    (tmp_path / "empty.jpg").write_bytes(b"")
    (tmp_path / "text.jpg").write_bytes(b"no picture")
    (tmp_path / "a.heic").write_bytes(b"\0\0\0\x18ftypheic")
    (tmp_path / "renamed.jpg").write_bytes(b"\0\0\0\x18ftypheic")
    (tmp_path / "gif.jpg").write_bytes(b"GIF89a\x01\0\x01\0\0\0\0;")
    (tmp_path / "folder.jpg").mkdir()
    found = read_photos(tmp_path)
    assert [row.what for row in found.rows] == ["good.jpg"]
    why = {row.what: row.why for row in found.refused}
    assert "broken picture" in why["cut.jpg"]
    assert "cut off? copy it anew" in why["cut.jpg"]
    assert all("no JPEG or PNG picture" in why[name] for name in ("empty.jpg", "text.jpg", "gif.jpg"))
    assert all("save or send it as JPEG" in why[name] for name in ("a.heic", "renamed.jpg"))
    assert "found no file" in why["folder.jpg"] or "cannot be read" in why["folder.jpg"]


def huge_png(side: int) -> bytes:
    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    body = zlib.compress(b"\0" * 100)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("side", "message"),
    [
        (7_000, "7,000 by 7,000 points; allowed: up to 40,000,000 points in all"),
        (60_000, "far more than 120,000,000 points"),
    ],
)
def test_a_huge_picture_is_never_unpacked(tmp_path: Path, side: int, message: str) -> None:
    (tmp_path / "bomb.png").write_bytes(huge_png(side))
    assert message in refusals(tmp_path)["bomb.png"]


def test_links_are_not_followed(tmp_path: Path) -> None:
    outside = photo(tmp_path / "outside.jpg", gps=NORTH_WEST)
    inside = tmp_path / "photos"
    inside.mkdir()
    (inside / "link.jpg").symlink_to(outside)
    (inside / "pipe.jpg").symlink_to("/dev/zero")
    os.mkfifo(inside / "fifo.jpg")
    why = refusals(inside)
    assert "links are not followed" in why["link.jpg"]
    assert "links are not followed" in why["pipe.jpg"]
    assert "found no file" in why["fifo.jpg"]


def test_what_is_no_photo_is_named(tmp_path: Path) -> None:
    photo(tmp_path / "a.jpg")
    (tmp_path / "movie.mov").write_bytes(b"")
    (tmp_path / "deeper").mkdir()
    (tmp_path / ".hidden").write_bytes(b"")
    assert read_photos(tmp_path).said == ("left out, since they are no photos: 1 .mov, 1 folder",)


def test_a_folder_without_photos_and_one_with_too_many_are_refused(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="found no photo"):
        read_photos(tmp_path)
    with pytest.raises(FileError, match="no such file"):
        read_photos(tmp_path / "missing.jpg")
    for number in range(MAX_PHOTOS + 1):
        (tmp_path / f"{number}.jpg").touch()
    with pytest.raises(FileError, match="found 401 photos; allowed: 1 to 400 in a folder"):
        read_photos(tmp_path)


def test_a_single_photo_is_a_file_of_points(tmp_path: Path) -> None:
    found = read_points(photo(tmp_path / "a.jpg", gps=NORTH_WEST), farm_lonlat=[(LON, LAT)])
    assert (found.form, len(found.rows)) == ("photos", 1)


def test_names_with_control_characters_are_shown_plain() -> None:
    assert shown_name("a\x1b[31m\n\udcff.jpg") == "a?[31m??.jpg"


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    folder = tmp_path_factory.mktemp("whole")
    parts = {"main": {270: "P3 T5", 274: 6}, "detail": {36867: "2026:04:02 08:05:00"}, "gps": NORTH_WEST}
    return {
        "a.jpg": photo(folder / "a.jpg", **parts).read_bytes(),
        "a.png": photo(folder / "a.png", form="PNG", **parts).read_bytes(),
    }


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(name=st.sampled_from(["a.jpg", "a.png"]), data=st.data())
def test_a_broken_photo_raises_only_our_own_error(
    tmp_path: Path, whole: dict[str, bytes], name: str, data: st.DataObject
) -> None:
    content = bytearray(whole[name])
    end = data.draw(st.integers(0, len(content)))
    # Most of what can go wrong stands in the first bytes, where the Exif data is.
    for _ in range(data.draw(st.integers(0, 6))):
        content[data.draw(st.integers(0, min(400, len(content) - 1)))] = data.draw(st.integers(0, 255))
    (tmp_path / name).write_bytes(bytes(content[:end]) if data.draw(st.booleans()) else bytes(content))
    try:
        found = read_photo(tmp_path / name)
    except FileError:
        return
    assert (found.fix.lat is None) == bool(found.fix.why)
    assert found.fix.lat is None or abs(found.fix.lat) <= 90


# --- keeping


FLAG = "6a1f77c4-2b0e-5d7c-9c39-0f5a3b1d8e42"


@pytest.mark.parametrize(
    ("file", "kept"),
    [
        (f"photos/{FLAG}.jpg", True),
        (f"photos/{FLAG}-0123456789ab.jpg", True),
        (f"../photos/{FLAG}.jpg", False),
        (f"photos/../{FLAG}.jpg", False),
        (f"photos/{FLAG}.jpg\n", False),
        ("/etc/passwd", False),
        (None, False),
    ],
)
def test_an_event_names_nothing_outside_the_photos(file: str | None, kept: bool) -> None:
    assert bool(kept_file({"file": file})) is kept


def test_a_link_in_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    farm, elsewhere = tmp_path / "farm", tmp_path / "elsewhere"
    farm.mkdir()
    elsewhere.mkdir()
    (farm / FOLDER).symlink_to(elsewhere)
    with pytest.raises(FileError, match="found a link or a file; allowed: a folder of its own for photos"):
        save_photos(farm, {f"photos/{FLAG}.jpg": b"x"})
    assert list(elsewhere.iterdir()) == []


def test_a_link_in_place_of_a_photo_is_replaced_not_followed(tmp_path: Path) -> None:
    victim = tmp_path / "victim"
    victim.write_bytes(b"keep")
    (tmp_path / FOLDER).mkdir()
    (tmp_path / FOLDER / f"{FLAG}.jpg").symlink_to(victim)
    save_photos(tmp_path, {f"photos/{FLAG}.jpg": b"new"})
    assert victim.read_bytes() == b"keep"
    assert (tmp_path / FOLDER / f"{FLAG}.jpg").read_bytes() == b"new"


def test_photos_land_together_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    written = save_photos(tmp_path, {f"photos/{FLAG}.jpg": b"x"})
    assert [path.name for path in written] == [f"{FLAG}.jpg"]
    remove_photos(written)
    real, calls = os.fsync, []

    def full(handle: int) -> None:
        calls.append(handle)
        if len(calls) == 2:
            raise OSError(28, "No space left on device")
        real(handle)

    monkeypatch.setattr(os, "fsync", full)
    two = {f"photos/{FLAG}.jpg": b"x", f"photos/{FLAG}-0123456789ab.jpg": b"y"}
    with pytest.raises(FileError, match=r"cannot be kept there \(No space left on device\); nothing was"):
        save_photos(tmp_path, two)
    assert list((tmp_path / FOLDER).iterdir()) == []


def test_no_events_no_photo_lines() -> None:
    assert photo_lines([]) == []
