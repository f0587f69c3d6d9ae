"""Photos: bounded, decoded, and written anew, so that only the picture itself is kept.

What comes in is never kept as it came: a file that is also something else, and everything beside the
picture (place, camera, owner, thumbnails), goes with the writing anew.
"""

from __future__ import annotations

import hashlib
import os
import threading
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import IO

from django.conf import settings
from PIL import Image, ImageFile, ImageOps, UnidentifiedImageError

from lastscrew.bench.models import Photo
from lastscrew.bench.store.clock import new_key, now_ms
from lastscrew.bench.store.locking import one_at_a_time
from lastscrew.problems import InputError, Problem
from lastscrew.saying import say

MAX_BYTES = 25 * 2**20
"""Largest file that is read; today's telephones make pictures of 3 to 15 MB (from memory)."""

MAX_PIXELS = 60_000_000
"""Largest picture that is decoded: 240 MB while it is at work."""

MAX_SIDE = 3_000
"""Longest side that is kept: enough to read the print on a board."""

FORMATS = ("JPEG", "PNG", "WEBP")
SUFFIX = {"image/jpeg": ".jpg", "image/png": ".png", "image/webp": ".webp"}
JPEG_QUALITY = 85


def keep_photo(file: IO[bytes], *, unit: str = "", is_owners: bool = False) -> Photo:
    """Keep a picture.

    Args:
        file: What was sent; only JPEG, PNG and WebP are read, whatever its name says.
        unit: The unit that it shows, empty for a picture of a device in general.
        is_owners: It goes when the owner's data is erased.

    Returns:
        Its row; the one that is there already for the same picture.

    Raises:
        InputError: It is too large, or no picture.
    """
    content, media_type, size = _rewritten(_read(file))
    digest = hashlib.sha256(content).hexdigest()
    with one_at_a_time():  # nobody erases the same picture meanwhile
        # The file is there before anything refers to it.
        write_photo(path_of(digest, media_type), content)
        row, is_new = Photo.objects.get_or_create(
            sha256=digest,
            defaults={
                "media_type": media_type,
                "width": size[0],
                "height": size[1],
                "size": len(content),
                "unit": unit,
                "is_owners": is_owners,
                "stored_ms": now_ms(),
            },
        )
        if not is_new:
            _kept_again(row, unit, is_owners=is_owners)
    return row


def keep_straightened(photo: Photo, numbers: Sequence[float], size: tuple[int, int]) -> Photo:
    """Keep what a picture shows of a flat rectangle, seen straight on.

    Args:
        photo: The picture, taken at a slant.
        numbers: From where each point is taken (:func:`lastscrew.bench.workshop.straighten.where_from`).
        size: Width and height of the new picture.

    Raises:
        KeyError: The picture was erased.
    """
    content, _media_type = read_photo(photo.sha256)
    with Image.open(BytesIO(content), formats=FORMATS) as image:
        straight = image.convert("RGB").transform(
            size, Image.Transform.PERSPECTIVE, list(numbers), Image.Resampling.BICUBIC
        )
    out = BytesIO()
    straight.save(out, "PNG")
    out.seek(0)
    return keep_photo(out, unit=photo.unit, is_owners=photo.is_owners)


def _kept_again(row: Photo, unit: str, *, is_owners: bool) -> None:
    if row.erased:
        row.erased, row.unit, row.also, row.is_owners = False, unit, [], is_owners
    elif unit != row.unit and unit not in row.also:
        row.also = [*row.also, unit]
    row.is_owners = row.is_owners or is_owners
    row.save()


def path_of(sha256: str, media_type: str) -> Path:
    """Where the file of a picture lies."""
    folder: Path = settings.CONFIG.photos
    return folder / sha256[:2] / f"{sha256}{SUFFIX[media_type]}"


def read_photo(sha256: str) -> tuple[bytes, str]:
    """A picture and its media type.

    Raises:
        KeyError: There is none, or it was erased.
    """
    row = Photo.objects.filter(pk=sha256, erased=False).first()
    if row is None:
        raise KeyError(sha256)
    try:
        return path_of(sha256, row.media_type).read_bytes(), row.media_type
    except FileNotFoundError:
        raise KeyError(sha256) from None


def write_photo(path: Path, content: bytes) -> None:
    """Write a file under its hash: whole, and on the disk when this returns."""
    if path.exists():
        return
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    part = path.with_name(f".{new_key()}.part")
    try:
        with part.open("xb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        part.chmod(0o600)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def _read(file: IO[bytes]) -> bytes:
    content = file.read(MAX_BYTES + 1)
    if len(content) > MAX_BYTES:
        raise _refused(
            say("the file is larger than {n} MB", n=MAX_BYTES // 2**20),
            say("Send a smaller picture."),
            "too_large",
        )
    return content


_decoding = threading.Lock()


@contextmanager
def _whole_only() -> Iterator[None]:
    """While it lasts, a picture that was cut off is an error.

    The library that prints PDF makes the whole process forgive that.
    """
    with _decoding:
        forgives = ImageFile.LOAD_TRUNCATED_IMAGES
        ImageFile.LOAD_TRUNCATED_IMAGES = False
        try:
            yield
        finally:
            ImageFile.LOAD_TRUNCATED_IMAGES = forgives


def _rewritten(content: bytes) -> tuple[bytes, str, tuple[int, int]]:
    """The picture alone, its media type, and its width and height."""
    try:
        with warnings.catch_warnings():
            # A file whose header promises more pixels than there is reason for is refused below.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            image = Image.open(BytesIO(content), formats=FORMATS)
            if image.width * image.height > MAX_PIXELS:
                raise _too_many_pixels()
            picture_format = str(image.format)
            image.draft(
                "RGB", (MAX_SIDE, MAX_SIDE)
            )  # a large JPEG is decoded at half its size or less
            with _whole_only():
                image.load()
        return _encoded(_upright(image), picture_format)
    except Image.DecompressionBombError as error:
        raise _too_many_pixels() from error
    except (
        UnidentifiedImageError,
        OSError,
        ValueError,
        SyntaxError,
        EOFError,
        IndexError,
        TypeError,
        OverflowError,
    ) as error:
        # Decoders fail in many ways on a file that only begins like a picture.
        raise _no_picture() from error


def _upright(image: Image.Image) -> Image.Image:
    """As a person sees it, in plain colours, no larger than is kept."""
    if image.mode in {"RGB", "RGBA", "L"}:
        image.thumbnail((MAX_SIDE, MAX_SIDE), Image.Resampling.LANCZOS)  # less to turn and to copy
    upright = ImageOps.exif_transpose(image)
    has_alpha = "A" in upright.getbands() or "transparency" in upright.info
    plain = upright.convert("RGBA" if has_alpha else "RGB")
    plain.thumbnail((MAX_SIDE, MAX_SIDE), Image.Resampling.LANCZOS)
    # A new picture with the points of the old one: nothing else comes along.
    fresh = Image.new(plain.mode, plain.size)
    fresh.paste(plain)
    return fresh


def _encoded(image: Image.Image, picture_format: str) -> tuple[bytes, str, tuple[int, int]]:
    out = BytesIO()
    if picture_format == "PNG" or image.mode == "RGBA":
        image.save(out, "PNG", optimize=True)
        return out.getvalue(), "image/png", image.size
    if picture_format == "WEBP":
        image.save(out, "WEBP", quality=JPEG_QUALITY, method=4)
        return out.getvalue(), "image/webp", image.size
    image.save(out, "JPEG", quality=JPEG_QUALITY, optimize=True, progressive=True)
    return out.getvalue(), "image/jpeg", image.size


def _refused(message: str, remedy: str, code: str) -> InputError:
    return InputError([Problem(message, remedy, "photo", code=code)])


def _too_many_pixels() -> InputError:
    return _refused(
        say("the picture has too many points"),
        say("Send one of at most {n} million.", n=MAX_PIXELS // 1_000_000),
        "too_many_pixels",
    )


def _no_picture() -> InputError:
    return _refused(
        say("this is no picture that can be read"), say("Send a JPEG, PNG or WebP."), "no_picture"
    )
