"""What people look at: stills with the evidence, the annotated video, the report page. All of it static files.

Looks of our own: thin lines, words instead of counters, only the current rep and the evidence of the moment in
the picture; the paths of all reps stand beside it on a millimetre grid, each on its own vertical. Colours are
told apart by lightness too, and none says good or bad.
"""

from midfoot.publish.arms import arms_still, scene_of
from midfoot.publish.look import Picture, jpeg
from midfoot.publish.mechanics_page import mechanics_html
from midfoot.publish.report import report_html
from midfoot.publish.stills import Still, key_moments, still_picture
from midfoot.publish.video import write_video

__all__ = [
    "Picture", "Still", "arms_still", "jpeg", "key_moments", "mechanics_html", "report_html", "scene_of",
    "still_picture", "write_video",
]  # fmt: skip
