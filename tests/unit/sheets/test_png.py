"""Pixels as PNG: another program reads back what was written, with its size."""

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from pourwell.sheets.png import png


@pytest.mark.parametrize("shape", [(1, 1), (1, 7), (5, 1), (33, 64)])
def test_another_program_reads_every_pixel_back(shape):
    rgb = np.random.default_rng(1).integers(0, 256, (*shape, 3)).astype(np.uint8)
    image = Image.open(BytesIO(png(rgb)))
    assert image.mode == "RGB"
    assert image.size == shape[::-1]
    np.testing.assert_array_equal(np.asarray(image), rgb)


def test_pixels_that_are_a_part_of_others_are_written_as_they_are_seen():
    whole = np.arange(4 * 6 * 3, dtype=np.uint8).reshape(4, 6, 3)
    part = whole[1:3, ::2]
    np.testing.assert_array_equal(np.asarray(Image.open(BytesIO(png(part)))), part)


def test_the_size_of_a_pixel_is_said_where_it_is_known():
    rgb = np.zeros((2, 2, 3), dtype=np.uint8)
    assert Image.open(BytesIO(png(rgb, px_per_m=10_000))).info["dpi"][0] == pytest.approx(254)
    assert "dpi" not in Image.open(BytesIO(png(rgb))).info


def test_an_even_ground_takes_next_to_nothing():
    assert len(png(np.full((600, 600, 3), 240, dtype=np.uint8))) < 10_000
