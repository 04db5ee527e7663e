"""What is drawn lands where the truth says, to a tenth of a pixel."""

import importlib.util

import numpy as np
import pytest
from lab.render.camera import Camera
from lab.render.mesh import lathe

if importlib.util.find_spec("moderngl") is None:
    pytest.skip("moderngl is not installed; see lab/requirements.txt", allow_module_level=True)


@pytest.fixture(scope="module")
def stage():
    from lab.render.draw import Stage

    try:
        made = Stage(640, 360, finer=2.0)
    except Exception as error:
        pytest.skip(f"no OpenGL through EGL here: {error}")
    yield made
    made.close()


@pytest.mark.parametrize(("side", "yaw"), [("left", 0.0), ("right", 0.0), ("left", 30.0), ("right", -25.0)])
def test_a_drawn_disc_has_its_middle_where_it_is_projected(stage, side, yaw):
    from lab.render.draw import Light

    camera = Camera(
        side=side, yaw_deg=yaw, distance_m=3.0, height_m=1.2, target_m=(0.0, 0.0, 0.0), aim_m=0.9, roll_deg=2.0,
        fov_deg=55.0, width_px=640, height_px=360,
    )  # fmt: skip
    radius, at = 0.02, np.array([0.3, -0.4, 1.1])
    ball = lathe(
        [(-radius * np.cos(a), radius * np.sin(a)) for a in np.linspace(0, np.pi, 15)], [(1.0, 1.0, 1.0)] * 14
    )
    stage.put("ball", ball)
    place = np.eye(4)
    place[:3, 3] = at
    picture = stage.picture(camera.still(), Light(ambient=30.0), {"ball": place}).astype(float)
    empty = np.array(picture[0, 0])
    share = np.abs(picture - empty).sum(axis=2)
    y, x = np.mgrid[0:360, 0:640]
    middle = np.array([(x * share).sum(), (y * share).sum()]) / share.sum()
    np.testing.assert_allclose(middle, camera.still().project(at)[0], atol=0.1)
