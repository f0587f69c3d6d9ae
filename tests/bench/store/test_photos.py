"""Photos: only the picture is kept; what is no picture, or too much of one, is refused."""

from __future__ import annotations

import hashlib
import importlib
import struct
import zlib
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from PIL import Image

from lastscrew.bench.models import Photo
from lastscrew.bench.store import photos
from lastscrew.bench.store.photos import keep_photo, path_of, read_photo
from lastscrew.problems import InputError

if TYPE_CHECKING:
    from tests.bench.conftest import Bench

SCRIPT = b"<script>alert(1)</script>"


def picture(kind: str = "JPEG", size: tuple[int, int] = (60, 40), **options: object) -> BytesIO:
    """A picture: the left half red, the right half blue."""
    image = Image.new("RGB", size, "red")
    image.paste("blue", (size[0] // 2, 0, size[0], size[1]))
    out = BytesIO()
    image.save(out, kind, **options)
    out.seek(0)
    return out


def with_place(orientation: int = 1) -> BytesIO:
    """A picture that says where and how it was taken."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "a maker"
    exif.get_ifd(0x8825)[2] = (52.0, 31.0, 0.0)
    return picture(exif=exif)


@pytest.mark.parametrize(
    ("kind", "media_type"), [("JPEG", "image/jpeg"), ("PNG", "image/png"), ("WEBP", "image/webp")]
)
def test_a_picture_is_kept_under_the_hash_of_what_is_kept(
    both: Bench, kind: str, media_type: str
) -> None:
    row = keep_photo(picture(kind), unit="u1")
    content, kept_type = read_photo(row.sha256)
    assert kept_type == media_type
    assert hashlib.sha256(content).hexdigest() == row.sha256
    assert (row.width, row.height, row.size) == (60, 40, len(content))
    assert keep_photo(picture(kind), unit="u1").sha256 == row.sha256
    assert Photo.objects.count() == 1


def test_nothing_that_stands_beside_the_picture_is_kept(bench: Bench) -> None:
    assert b"a maker" in with_place().getvalue()
    content, _ = read_photo(keep_photo(with_place()).sha256)
    assert b"a maker" not in content
    assert b"Exif" not in content
    assert not Image.open(BytesIO(content)).getexif()


def test_it_is_turned_as_the_camera_was_held(bench: Bench) -> None:
    row = keep_photo(with_place(orientation=6))  # a quarter turn to the right (Exif 2.3, tag 274)
    assert (row.width, row.height) == (40, 60)
    content, _ = read_photo(row.sha256)
    red, green, _ = Image.open(BytesIO(content)).convert("RGB").getpixel((20, 5))  # type: ignore[misc]
    assert red > 200 > green


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_what_is_a_picture_and_also_a_page_is_only_a_picture_afterwards(
    bench: Bench, kind: str
) -> None:
    both_in_one = BytesIO(picture(kind).getvalue() + SCRIPT + b"PK\x03\x04")
    content, _ = read_photo(keep_photo(both_in_one).sha256)
    assert SCRIPT not in content
    assert b"PK\x03\x04" not in content


def _png_that_promises(width: int, height: int) -> bytes:
    """A PNG of a few bytes whose header promises a large picture."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        )

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return (
        b"\x89PNG\r\n\x1a\n"
        + head
        + chunk(b"IDAT", zlib.compress(b"\0" * 1_000))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "no_picture"),
        (b"not a picture", "no_picture"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'>" + SCRIPT + b"</svg>", "no_picture"),
        (b"GIF89a" + SCRIPT, "no_picture"),
        (b"%!PS-Adobe-3.0 EPSF-3.0\n", "no_picture"),
        (picture().getvalue()[:300], "no_picture"),
        (_png_that_promises(60_000, 60_000), "too_many_pixels"),
        (_png_that_promises(200, 200), "no_picture"),
        (b"\xff\xd8\xff\xe0" + b"\0" * 200, "no_picture"),
    ],
)
def test_what_is_no_picture_or_too_large_a_one_is_refused(
    bench: Bench, content: bytes, code: str
) -> None:
    with pytest.raises(InputError) as caught:
        keep_photo(BytesIO(content))
    assert [problem.code for problem in caught.value.problems] == [code]
    assert not Photo.objects.exists()
    assert not [path for path in bench.config.photos.rglob("*") if path.is_file()]


def test_a_file_that_is_too_large_is_not_read_to_its_end(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photos, "MAX_BYTES", 100)
    file = picture()
    with pytest.raises(InputError, match="larger than"):
        keep_photo(file)
    assert file.tell() == 101


def test_a_large_picture_is_made_smaller(bench: Bench) -> None:
    row = keep_photo(picture(size=(4_000, 1_000)))
    assert (row.width, row.height) == (3_000, 750)
    assert path_of(row.sha256, row.media_type).stat().st_size == row.size


@pytest.mark.parametrize(
    ("mode", "kind", "media_type"),
    [
        ("CMYK", "JPEG", "image/jpeg"),
        ("L", "JPEG", "image/jpeg"),
        ("P", "PNG", "image/png"),
        ("1", "PNG", "image/png"),
        ("I;16", "PNG", "image/png"),
        ("LA", "PNG", "image/png"),
        ("RGBA", "WEBP", "image/png"),
    ],
)
def test_every_way_of_keeping_colours_is_read(
    bench: Bench, mode: str, kind: str, media_type: str
) -> None:
    out = BytesIO()
    Image.new(mode, (30, 20)).save(out, kind)
    out.seek(0)
    row = keep_photo(out)
    content, kept_type = read_photo(row.sha256)
    assert kept_type == media_type
    assert Image.open(BytesIO(content)).size == (30, 20)


def test_of_a_moving_picture_the_first_one_is_kept(bench: Bench) -> None:
    out = BytesIO()
    frames = [Image.new("RGB", (30, 20), colour) for colour in ("red", "blue")]
    frames[0].save(out, "WEBP", save_all=True, append_images=frames[1:], lossless=True)
    out.seek(0)
    content, _ = read_photo(keep_photo(out).sha256)
    image = Image.open(BytesIO(content))
    assert not getattr(image, "is_animated", False)
    red, _, blue = image.convert("RGB").getpixel((5, 5))  # type: ignore[misc]
    assert red > 200 > blue


def test_a_picture_that_was_cut_off_is_refused_though_the_printing_library_forgives_it(
    bench: Bench,
) -> None:
    """WeasyPrint makes Pillow accept cut-off pictures in the whole process."""
    importlib.import_module("weasyprint")
    with pytest.raises(InputError) as caught:
        keep_photo(BytesIO(_png_that_promises(200, 200)))
    assert caught.value.problems[0].code == "no_picture"
