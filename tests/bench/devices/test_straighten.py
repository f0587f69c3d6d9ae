"""A photo at a slant is made straight by four corners; held to the solution of the eight equations."""

from __future__ import annotations

import io
import math

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from hypothesis import assume, given
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from lastscrew.bench.models import DevicePhoto, Photo
from lastscrew.bench.store.photos import read_photo
from lastscrew.bench.workshop.straighten import Corners, check_corners, straight_size, where_from
from lastscrew.device.model import Point
from tests.bench.conftest import Bench
from tests.bench.store.making import publish

SQUARE: Corners = ((0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9))
off = st.floats(-0.09, 0.09)


def taken_from(numbers: tuple[float, ...], point: Point) -> Point:
    a, b, c, d, e, f, g, h = numbers
    x, y = point
    whole = g * x + h * y + 1
    return (a * x + b * y + c) / whole, (d * x + e * y + f) / whole


@given(st.lists(off, min_size=8, max_size=8), st.floats(0, 1), st.floats(0, 1))
def test_every_point_comes_from_where_the_eight_equations_say(
    moved: list[float], across: float, down: float
) -> None:
    corners = [
        ((x + moved[2 * n]) * 3000, (y + moved[2 * n + 1]) * 2000)
        for n, (x, y) in enumerate(SQUARE)
    ]
    size = (800, 500)
    ends = [(0, 0), (800, 0), (800, 500), (0, 500)]
    rows, right = [], []
    for (x, y), (u, v) in zip(ends, corners, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -x * u, -y * u], [0, 0, 0, x, y, 1, -x * v, -y * v]]
        right += [u, v]
    solved = tuple(np.linalg.solve(np.array(rows, float), np.array(right, float)))
    ours = where_from((corners[0], corners[1], corners[2], corners[3]), size)
    probe = (across * 800, down * 500)
    assert taken_from(ours, probe) == pytest.approx(taken_from(solved, probe), abs=1e-4)


@given(st.lists(off, min_size=8, max_size=8))
def test_corners_that_go_round_the_side_are_taken_in_no_other_order(moved: list[float]) -> None:
    found = [(x + moved[2 * n], y + moved[2 * n + 1]) for n, (x, y) in enumerate(SQUARE)]
    assume(min(math.dist(found[n - 1], found[n]) for n in range(4)) > 0.1)
    one, two, three, four = found
    assert check_corners((one, two, three, four)) == ()
    for wrong in ((two, one, three, four), (four, three, two, one), (one, three, two, four)):
        assert [problem.code for problem in check_corners(wrong)] == ["not_round"]


@pytest.mark.parametrize(
    ("corners", "code"),
    [
        (((0.1, 0.1), (0.9, 0.1), (1.2, 0.9), (0.1, 0.9)), ""),
        (((math.nan, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9)), ""),
        (((0.1, 0.1), (0.2, 0.1), (0.2, 0.15), (0.1, 0.15)), "too_small"),
        (((0.5, 0.5),) * 4, "not_round"),
        (((0.1, 0.1), (0.5, 0.1), (0.9, 0.1), (0.5, 0.9)), "not_round"),
    ],
)
def test_corners_that_are_none_are_refused(corners: Corners, code: str) -> None:
    (problem,) = check_corners(corners)
    assert problem.code == code
    assert problem.remedy


def test_the_straight_photo_is_as_fine_as_the_finest_edge_within_its_bound() -> None:
    pixels: Corners = ((0, 0), (600, 0), (500, 300), (100, 300))
    assert straight_size(pixels, (300, 200), 3000) == (600, 400)
    assert straight_size(pixels, (300, 200), 300) == (300, 200)


def test_a_slanted_photo_is_straightened_by_its_corners_and_laid_below(bench: Bench) -> None:
    """A board with a red, a green and a blue field, seen at a slant; afterwards each field lies where it is."""
    device = publish("notebook")
    width, height = device.frame_mm["bottom"]
    size = (round(width * 4), round(height * 4))
    flat = Image.new("RGB", size, "white")
    draw = ImageDraw.Draw(flat)
    fields = {"red": (0.1, 0.1), "lime": (0.8, 0.2), "blue": (0.3, 0.8)}
    for colour, (x, y) in fields.items():
        at = (x * size[0], y * size[1])
        draw.rectangle((*at, at[0] + 0.1 * size[0], at[1] + 0.1 * size[1]), fill=colour)
    seen: Corners = ((300, 250), (1300, 150), (1500, 900), (100, 1050))
    # The other way round, by the linear equations: where each point of the photo lies on the flat board.
    ends = [(0, 0), (size[0], 0), size, (0, size[1])]
    rows, right = [], []
    for (u, v), (x, y) in zip(ends, seen, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -x * u, -y * u], [0, 0, 0, x, y, 1, -x * v, -y * v]]
        right += [u, v]
    slanted = flat.transform(
        (1600, 1200),
        Image.Transform.PERSPECTIVE,
        list(np.linalg.solve(np.array(rows, float), np.array(right, float))),
        Image.Resampling.BICUBIC,
    )
    out = io.BytesIO()
    slanted.save(out, "PNG")
    client = bench.client("technician")
    address = f"/devices/{device.id}/photo/?side=bottom&layer=0"
    client.post(address, {"do": "send", "photo": SimpleUploadedFile("a.png", out.getvalue())})
    typed = {"do": "straighten"}
    for number, (x, y) in enumerate(seen, 1):
        typed |= {f"corner_x_{number}": f"{x / 16:.4f}", f"corner_y_{number}": f"{y / 12:.4f}"}
    wrong = client.post(address, {**typed, "corner_x_1": "99"})
    assert wrong.status_code == 422
    assert "do not go round the side" in wrong.content.decode()
    assert client.post(address, {**typed, "corner_x_1": ""}).status_code == 422
    assert client.post(address, typed).status_code == 302
    row = DevicePhoto.objects.get()
    assert row.points == [
        {"share": [0, 0], "mm": [0, height]},
        {"share": [1, 1], "mm": [width, 0]},
    ]
    photo = Photo.objects.get(pk=row.photo)
    assert photo.width / photo.height == pytest.approx(width / height, rel=0.01)
    straight = Image.open(io.BytesIO(read_photo(row.photo)[0])).convert("RGB")
    for colour, (x, y) in fields.items():
        middle = (int((x + 0.05) * photo.width), int((y + 0.05) * photo.height))
        wanted = Image.new("RGB", (1, 1), colour).getpixel((0, 0))
        assert straight.getpixel(middle) == pytest.approx(wanted, abs=30), colour
    assert f'href="/photos/{row.photo}"' in client.get(f"/devices/{device.id}/").content.decode()
