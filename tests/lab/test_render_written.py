"""Files that the lab writes, read back by midfoot's own footage stage and by PyAV."""

import av
import numpy as np
import pytest
from lab.render.film import _shares
from lab.render.phone import Phone
from lab.render.written import Writer, hlg

from midfoot import footage
from midfoot.records.clip import Reading

TIMES = np.arange(40) / 30


def _write(path, phone, picture=None):
    if picture is None:
        picture = np.zeros((120, 160, 3), np.uint8)
        picture[:, :80] = (200, 60, 40)
    writer = Writer(path, picture.shape[1], picture.shape[0], phone, 2_000_000)
    for t in TIMES:
        writer.add(picture, float(t))
    writer.close()


@pytest.mark.parametrize(
    ("codec", "hdr", "bits"), [("h264", False, 8), ("hevc", False, 8), ("hevc_hdr", True, 10)]
)
def test_the_file_is_of_the_kind_that_is_asked(tmp_path, codec, hdr, bits):
    _write(tmp_path / "a.mp4", Phone(codec=codec, preset="veryfast"))
    info = footage.probe(tmp_path / "a.mp4")
    assert (info.hdr, info.bit_depth, info.frames) == (hdr, bits, 40)
    assert codec.split("_")[0] in info.codec
    with av.open(str(tmp_path / "a.mp4")) as file:
        times = [float(frame.time) for frame in file.decode(video=0)]
    np.testing.assert_allclose(times, TIMES, atol=1e-4)


def test_a_mirrored_file_is_flipped_and_a_slowed_one_is_slow(tmp_path):
    _write(tmp_path / "a.mp4", Phone(mirrored=True, real_speed=2.0))
    with av.open(str(tmp_path / "a.mp4")) as file:
        frames = list(file.decode(video=0))
    picture = frames[5].to_ndarray(format="rgb24").astype(int)
    assert picture[:, 100:, 0].mean() > picture[:, :60, 0].mean() + 100
    assert float(frames[-1].time) == pytest.approx(2 * TIMES[-1], abs=1e-3)
    upright = next(iter(footage.frames(tmp_path / "a.mp4", Reading(mirrored=True, real_speed=2.0))))
    assert upright.rgb()[:, :60, 0].mean() > upright.rgb()[:, 100:, 0].mean() + 100


def test_a_picture_stored_sideways_is_shown_upright(tmp_path):
    _write(tmp_path / "a.mp4", Phone(stored_turned=True))
    info = footage.probe(tmp_path / "a.mp4")
    assert (info.width_px, info.height_px) == (160, 120)
    assert info.rotation_deg % 180 == 90


def test_white_and_black_in_hybrid_log_gamma():
    """Reference white is 75 % of the signal (ITU-R BT.2408): 64 + 0.75 * 876 = 721 of ten bits; black is 64."""
    planes = hlg(np.full((4, 8, 3), 255, np.uint8))
    assert planes[:4].mean() == pytest.approx(721, abs=2)
    assert planes[4:].mean() == pytest.approx(512, abs=1)
    assert hlg(np.zeros((4, 8, 3), np.uint8))[:4].mean() == pytest.approx(64, abs=1)


def test_every_row_of_a_rolling_shutter_takes_its_own_moments():
    phone = Phone(exposure_s=0.004, readout_s=0.020)
    parts = np.array([-0.008, 0.0, 0.008])
    shares = _shares(phone, parts, 100)
    np.testing.assert_allclose(shares.sum(axis=1), 1.0, atol=1e-5)
    middle = shares @ parts
    assert middle[0] < -0.006
    assert middle[50] == pytest.approx(0.0, abs=0.001)
    assert middle[99] > 0.006
