"""The report, the stills and the annotated video of a made set."""

from __future__ import annotations

import re
from pathlib import Path

import av
import numpy as np
import pytest
from sets import made_measurement

from midfoot.publish import key_moments, report_html, still_picture, write_video
from midfoot.publish.stills import scene_px
from midfoot.records.clip import Frame


def grey_frames(count: int = 240, gaps: np.ndarray | None = None) -> list[Frame]:
    """Frames of plain grey, 640 x 480, at 30 a second or at `gaps`."""
    times = np.arange(count) / 30 if gaps is None else np.concatenate([[0], np.cumsum(gaps)])
    luma = np.full((480, 640), 120, np.uint8)
    rgb = np.full((480, 640, 3), 120, np.uint8)
    return [Frame(i, float(t), luma, lambda: rgb) for i, t in enumerate(times)]


@pytest.mark.parametrize("lift", ["squat", "bench"])
def test_report_needs_nothing_beside_it(lift: str) -> None:
    """No address, no script, no outside file but the video that is named."""
    measurement = made_measurement(lift=lift)
    pictures = {s: still_picture(measurement, s, grey_frames(1)[0]) for s in key_moments(measurement)}

    page = report_html(measurement, pictures, video="annotated.mp4")

    loaded = re.findall(r'(?:src|href)="([^"]+)"', page)
    assert {s for s in loaded if not s.startswith("data:")} == {"annotated.mp4"}
    assert "url(" not in page
    assert "<script" not in page
    assert page.count("<figure>") == len(pictures) >= 4


def test_report_says_what_was_not_seen_and_escapes_it() -> None:
    """The reason stands in the table, as text and not as markup."""
    page = report_html(made_measurement(), {})

    assert "not seen: the plate hides the hip &lt;b&gt;" in page
    assert "41 <span" in page
    assert "inferred" in page
    assert "The plate was taken for 450 mm." in page


def test_report_of_a_set_in_which_nothing_was_seen() -> None:
    """It stands, says so, and offers the candidates for one tap."""
    page = report_html(made_measurement(seen=False), {})

    assert "No rep was found" in page
    assert "--bar-at 10,20@1.50" in page
    assert "no disc moved like a bar" in page


def test_key_moments_are_in_order_and_named_once() -> None:
    """Stills come in order of time with file names of their own."""
    moments = key_moments(made_measurement())

    assert [m.at_s for m in moments] == sorted(m.at_s for m in moments)
    assert len({m.file for m in moments}) == len(moments)


def test_scene_holds_the_bar_through_every_rep() -> None:
    """The part shown in stills leaves no plate out."""
    data = made_measurement().data
    left, top, right, bottom = scene_px(data)
    assert 0 <= left < right <= 640
    assert 0 <= top < bottom <= 480
    x, y = data.track.xy_px.T
    assert left <= x.min() - 60
    assert right >= min(640, x.max() + 60)
    assert top <= max(0, y.min() - 60)


def test_video_keeps_every_frame_at_its_time_and_has_no_sound(tmp_path: Path) -> None:
    """Uneven timing survives; the file is H.264 in 4:2:0, which browsers play."""
    gaps = np.tile([0.02, 0.045, 0.0335], 60)
    frames = grey_frames(gaps=gaps)
    path = tmp_path / "annotated.mp4"

    count = write_video(made_measurement(), frames, path)

    with av.open(str(path)) as container:
        assert len(container.streams) == 1
        stream = container.streams.video[0]
        assert (stream.codec_context.name, stream.codec_context.pix_fmt) == ("h264", "yuv420p")
        times = [float(f.pts * stream.time_base) for f in container.decode(stream)]
        assert stream.width > 640
    assert count == len(times) == len(frames)
    assert np.array(times) - times[0] == pytest.approx([f.t_s for f in frames], abs=2e-4)


def test_video_of_a_set_without_a_path(tmp_path: Path) -> None:
    """No grid beside it, and it still encodes."""
    path = tmp_path / "annotated.mp4"

    assert write_video(made_measurement(seen=False), grey_frames(40), path) == 40
