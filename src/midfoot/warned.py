"""Warnings that belong to no single stage: what the clip and the set as a whole make doubtful, with remedies."""

from __future__ import annotations

import numpy as np

from midfoot.footage import Watched
from midfoot.measures.velocity import LOWEST_FPS
from midfoot.records.bar import Sightings
from midfoot.records.base import Warned
from midfoot.records.clip import ClipInfo
from midfoot.records.context import Context
from midfoot.records.measures import SetData

DARK_LUMA = 45.0
DARK_SHARE = 0.6
FEW_FRAMES_S = 1 / 24 + 0.004
"""Frame interval above which a lift is sampled too thinly for peaks; below 15 a second no velocity at all."""
NO_VELOCITY_S = 1 / LOWEST_FPS + 1e-6
DECODED_SHARE = 0.9
"""Of the frames that the file lists: when fewer decode, the coach is told."""
MOVES_SHARE = 0.03
"""Of the picture's long side: camera movement over the set above which the coach is told."""
SLOWEST_ASCENT_S, FASTEST_ASCENT_S = 9.0, 0.25
"""Ascents outside this are seen in no maximal or speed rep (common practice, no source)."""


def clip_warnings(info: ClipInfo, watched: Watched, *, pieces: int = 0) -> list[Warned]:
    """Give what the file and its pictures warn of.

    Parameters
    ----------
    info : of the clip.
    watched : what was noticed while it was decoded.
    pieces : how many pieces of a cut clip were measured on their own.
    """
    out: list[Warned] = []
    if watched.frames < DECODED_SHARE * info.frames:
        out.append(
            Warned(
                "clip_damaged",
                f"Only {watched.frames} of the clip's {info.frames} frames could be decoded; those were measured.",
                "Send the original file again.",
            )
        )
    if info.truncated:
        out.append(
            Warned(
                "clip_truncated",
                "The clip breaks off before its stated end; what could be decoded was measured.",
                "Send the original file again.",
            )
        )
    if info.hdr:
        out.append(
            Warned("hdr", "The clip is HDR; it was mapped to ordinary brightness.", "Film with HDR video off.")
        )
    if info.reduced > 1:
        out.append(
            Warned(
                "large_picture",
                f"The picture is very large; it was decoded {info.reduced:.1f} times smaller.",
                "1080p at 60 frames a second is the better use of the same file size.",
            )
        )
    if info.cuts_s:
        where = ", ".join(f"{t:.1f} s" for t in info.cuts_s[:4])
        how = (
            "every piece was measured on its own"
            if pieces
            else "its pieces are shorter than a second, and what goes on across the cuts is doubtful"
        )
        out.append(
            Warned(
                "cut_in_clip",
                f"The picture changes as a whole at {where}: {how}.",
                "Send the set in one uncut piece.",
            )
        )
    if info.time_base_doubtful:
        out.append(
            Warned(
                "time_base_doubtful",
                f"The clip's clock may not be real time: {info.time_base_doubtful}",
                "Send the original, or say how many times slower than life it plays with --real-speed.",
            )
        )
    if info.frame_interval_median_s > NO_VELOCITY_S:
        out.append(
            Warned(
                "few_frames",
                f"Only {1 / info.frame_interval_median_s:.0f} frames a second: times and angles, no velocity.",
                "Film at 60 frames a second.",
            )
        )
    elif info.frame_interval_median_s > FEW_FRAMES_S or info.frame_interval_max_s > 0.2:
        out.append(
            Warned(
                "few_frames",
                "Frames are few or missing in places; moments and peaks are less sure.",
                "Film at 60 frames a second with enough light.",
            )
        )
    if info.median_luma < DARK_LUMA or watched.dark_share > DARK_SHARE:
        out.append(
            Warned(
                "low_light",
                "The picture is dark, so edges are weak and movement is blurred.",
                "Turn on more light, or stand so that it falls on the plate and the lifter.",
            )
        )
    return out


def set_warnings(data: SetData, sightings: Sightings) -> list[Warned]:
    """Give what the measured set as a whole warns of."""
    out: list[Warned] = []
    if data.track.status == "not_found" or data.track.source == "none":
        out.append(
            Warned(
                "no_bar",
                f"The bar was not followed: {data.track.reason or 'no disc and no hands on a bar were found'}",
                _taps(data)
                or "Give its place with --bar-at X,Y@S, or film from the side with the whole plate in view.",
            )
        )
    elif data.track.status == "unsure":
        out.append(
            Warned(
                "bar_unsure",
                f"It is not sure what was followed is the bar: {data.track.reason}",
                _taps(data) or "Give its place with --bar-at X,Y@S.",
            )
        )
    if data.body.status == "not_seen":
        out.append(
            Warned(
                "nobody_seen",
                f"The lifter's body was not followed: {data.body.reason or 'nobody whose hands hold the bar'}",
                "Point at the lifter with --lifter-at X,Y@S, or film with the whole body in the picture.",
            )
        )
    out += _cut_off(data) + _moves(data, sightings) + _clock(data)
    return out


def said_warnings(context: Context, data: SetData, no_rules: str = "") -> list[Warned]:
    """Give where what was said of the set and the clip do not agree, and what was done about it.

    Parameters
    ----------
    context : what was said.
    data : the measured set.
    no_rules : name of a rule set that holds nothing for this lift, "" otherwise.
    """
    out: list[Warned] = []
    said, seen = data.asked.reps, len(data.reps.reps)
    if said is not None and said != seen:
        were = f"{seen} {'was' if seen == 1 else 'were'} seen" if seen else "none was seen"
        those = "that one was measured" if seen == 1 else f"those {seen} were measured"
        done = those if seen else "none is measured"
        out.append(
            Warned(
                "reps_differ",
                f"{said} rep{'' if said == 1 else 's'} {'was' if said == 1 else 'were'} said, {were}: {done}.",
                "Correct the context, send the whole set, or give the moments of a rep with --reps.",
            )
        )
    if context.lift is not None and context.lift != data.asked.lift:
        out.append(
            Warned(
                "lift_differs",
                f"The context says {context.lift}, --lift says {data.asked.lift}: the option was taken.",
                "Correct the one that is wrong.",
            )
        )
    met = context.competition
    if met is not None and met.on is not None and context.read_on is not None and met.on < context.read_on:
        out.append(
            Warned(
                "competition_past",
                f"The competition's day, {met.on.isoformat()}, is past: the set was read as if none were coming.",
                "Give the next one's date in the context, or take it out.",
            )
        )
    if no_rules:
        out.append(
            Warned(
                "rules_missing",
                f"The rule set {no_rules} holds no rules for the {data.asked.lift}: none were checked.",
                "Name another with --rules.",
            )
        )
    return out


def _taps(data: SetData) -> str:
    """Say how to choose among the candidates; "" without any."""
    said = [f"--bar-at {c.x_px:.0f},{c.y_px:.0f}@{c.at_s:.2f}" for c in data.track.candidates]
    if not said:
        return ""
    if len(said) == 1:
        return f"If it is the bar, confirm it with {said[0]}; if not, give the bar's place in this way."
    return f"Give the right one: {', '.join(said[:-1])} or {said[-1]}."


def _cut_off(data: SetData) -> list[Warned]:
    track, clip = data.track, data.clip
    if track.source != "plate" or track.diameter_px is None:
        return []
    radius = track.diameter_px.value / 2
    x, y = track.xy_px[:, 0], track.xy_px[:, 1]
    known = np.isfinite(x)
    over = (x < radius) | (y < radius) | (x > clip.width_px - radius) | (y > clip.height_px - radius)
    share = float(over[known].mean()) if known.any() else 0.0
    if share < 0.02:
        return []
    return [
        Warned(
            "plate_cut_off",
            f"The plate is cut by the picture's edge in {share:.0%} of the frames.",
            "Stand back until the whole plate stays in the picture from the floor to lockout.",
        )
    ]


def _moves(data: SetData, sightings: Sightings) -> list[Warned]:
    if len(sightings.camera_t_s) < 2:
        return []
    middle = np.array([data.clip.width_px / 2, data.clip.height_px / 2, 1.0])
    shift = sightings.camera_to_first @ middle
    reach = float(np.nanmax(np.nanmax(shift, axis=0) - np.nanmin(shift, axis=0)))
    if reach < MOVES_SHARE * max(data.clip.width_px, data.clip.height_px):
        return []
    return [
        Warned(
            "camera_moves",
            f"The camera moves by {reach:.0f} px over the clip; its movement was taken out by the background.",
            "Put the phone on a stand or against something heavy.",
        )
    ]


def _clock(data: SetData) -> list[Warned]:
    spans = [s[1] - s[0] for r in data.reps.reps if r.outcome == "completed" and (s := r.ascent_s)]
    if not spans or data.clip.time_base_doubtful:
        return []
    middle = float(np.median(spans))
    if FASTEST_ASCENT_S <= middle <= SLOWEST_ASCENT_S:
        return []
    how = "slowly" if middle > 1 else "fast"
    return [
        Warned(
            "time_base_doubtful",
            f"The reps rise so {how} ({middle:.1f} s) that the clip may be retimed.",
            "Send the original, or say how many times slower than life it plays with --real-speed.",
        )
    ]
