# ruff: noqa: E501 - the text is part of the recipe's fingerprint: no change without training again
"""Small pictures drawn once with OpenCV: lettering bent around plates, and things that are pasted on the picture."""

from __future__ import annotations

import cv2
import numpy as np

FONTS = (0, 1, 2, 3, 4, 5, 6, 7)
SPRITE = 128


def lettering(n: int, seed: int) -> np.ndarray:
    """Draw `n` unrolled rings of letters (n, 24, 384) in 0..1: two to four words or numbers around the disc."""
    rng = np.random.default_rng(seed)
    out = np.zeros((n, 24, 384), np.float32)
    for i in range(n):
        words = int(rng.integers(1, 5))
        for k in range(words):
            room = 384 // max(words, 2)
            length = int(rng.integers(1, 9))
            text = "".join(rng.choice(list("ABCDEFGHIKLMNOPRSTUVWXY0123456789 "), length))
            picture = np.zeros((24, room), np.uint8)
            scale = rng.uniform(0.5, 0.9)
            cv2.putText(picture, text, (2, 20), int(rng.choice(FONTS)), scale, 255, int(rng.integers(1, 4)), cv2.LINE_AA)
            if rng.random() < 0.5:
                picture = picture[::-1, ::-1]
            out[i, :, k * room : (k + 1) * room] = picture / 255.0
    return out


def _caption(rng: np.random.Generator, bgra: np.ndarray) -> None:
    ink = (255, 255, 255, 255) if rng.random() < 0.7 else (*map(int, rng.integers(0, 255, 3)), 255)
    if rng.random() < 0.4:
        box = (*map(int, rng.integers(0, 255, 3)), 255)
        cv2.rectangle(bgra, (4, 30), (124, 98), box, -1)
    for line in range(int(rng.integers(1, 4))):
        text = "".join(rng.choice(list("abcdeghiklmnoprstuvwyABDEGOQSU0123456789 "), int(rng.integers(4, 14))))
        at, font, scale = (6, 52 + 26 * line), int(rng.choice(FONTS)), rng.uniform(0.4, 0.9)
        cv2.putText(bgra, text, at, font, scale, (0, 0, 0, 255), 5, cv2.LINE_AA)
        cv2.putText(bgra, text, at, font, scale, ink, 2, cv2.LINE_AA)


def _disc(rng: np.random.Generator, bgra: np.ndarray) -> tuple[int, int]:
    colour = (*map(int, rng.integers(0, 256, 3)), 255)
    cv2.circle(bgra, (64, 64), 60, colour, -1, cv2.LINE_AA)
    return 64, 60


def _sticker(rng: np.random.Generator, bgra: np.ndarray) -> None:
    cv2.circle(bgra, (64, 64), 60, (int(rng.integers(0, 90)), int(rng.integers(150, 230)), 250, 255), -1, cv2.LINE_AA)
    for x in (44, 84):
        cv2.ellipse(bgra, (x, 50), (7, int(rng.integers(3, 14))), 0, 0, 360, (20, 40, 60, 255), -1, cv2.LINE_AA)
    cv2.ellipse(bgra, (64, 76), (int(rng.integers(10, 32)), int(rng.integers(3, 24))), 0, 0, 180, (20, 40, 60, 255),
                int(rng.choice([-1, 5])), cv2.LINE_AA)  # fmt: skip


def _clock(rng: np.random.Generator, bgra: np.ndarray) -> None:
    pale = int(rng.integers(180, 255))
    cv2.circle(bgra, (64, 64), 60, (*map(int, rng.integers(0, 120, 3)), 255), -1, cv2.LINE_AA)
    cv2.circle(bgra, (64, 64), int(rng.integers(48, 57)), (pale, pale, pale, 255), -1, cv2.LINE_AA)
    for k in range(12):
        d = np.array([np.cos(k * np.pi / 6), np.sin(k * np.pi / 6)])
        p, q = 64 + 46 * d, 64 + rng.uniform(36, 41) * d
        cv2.line(bgra, tuple(map(int, p)), tuple(map(int, q)), (20, 20, 20, 255), 3, cv2.LINE_AA)
    for length, width in ((26, 5), (38, 3)):
        turn = rng.uniform(0, 6.28)
        cv2.line(bgra, (64, 64), (int(64 + length * np.cos(turn)), int(64 + length * np.sin(turn))),
                 (20, 20, 20, 255), width, cv2.LINE_AA)  # fmt: skip


def _fan(rng: np.random.Generator, bgra: np.ndarray) -> None:
    grey = int(rng.integers(20, 230))
    n, turn = int(rng.integers(3, 6)), rng.uniform(0, 6.28)
    for k in range(n):
        angle = np.degrees(turn) + 360 * k / n
        cv2.ellipse(bgra, (64, 64), (50, 50), angle, 0, 200 / n, (grey // 2, grey // 2, grey // 2, 220), -1, cv2.LINE_AA)
    for r in range(12, 62, int(rng.integers(5, 12))):
        cv2.circle(bgra, (64, 64), r, (grey, grey, grey, 255), 1, cv2.LINE_AA)
    cv2.circle(bgra, (64, 64), 60, (grey, grey, grey, 255), 3, cv2.LINE_AA)


def _logo(rng: np.random.Generator, bgra: np.ndarray) -> None:
    ink = (*map(int, rng.integers(0, 256, 3)), 255)
    if rng.random() < 0.5:
        _disc(rng, bgra)
    cv2.circle(bgra, (64, 64), int(rng.integers(50, 60)), ink, int(rng.integers(2, 8)), cv2.LINE_AA)
    for _ in range(int(rng.integers(1, 4))):
        shape = rng.integers(20, 108, (int(rng.integers(3, 7)), 2)).astype(np.int32)
        if rng.random() < 0.5:
            cv2.fillPoly(bgra, [shape], ink, cv2.LINE_AA)
        else:
            text = "".join(rng.choice(list("ABCDEFGHKLMNORSTX&"), int(rng.integers(1, 5))))
            cv2.putText(bgra, text, (24, 76), int(rng.choice(FONTS)), rng.uniform(0.9, 1.6), ink, 4, cv2.LINE_AA)


def _signs(rng: np.random.Generator, bgra: np.ndarray) -> None:
    """Panels, framed pictures, letters on a wall."""
    cv2.rectangle(bgra, (8, 20), (120, 108), (*map(int, rng.integers(0, 256, 3)), 255), -1)
    cv2.rectangle(bgra, (14, 26), (114, 102), (*map(int, rng.integers(0, 256, 3)), 255), -1)
    text = "".join(rng.choice(list("ABCDEGOQSU0689"), int(rng.integers(1, 6))))
    cv2.putText(bgra, text, (16, 84), int(rng.choice(FONTS)), rng.uniform(1, 2), (*map(int, rng.integers(0, 256, 3)), 255),
                int(rng.integers(3, 9)), cv2.LINE_AA)  # fmt: skip


def _wheel_of_letters(rng: np.random.Generator, bgra: np.ndarray) -> None:
    """Single round letters, as in large wall writing."""
    ink = (*map(int, rng.integers(0, 256, 3)), 255)
    cv2.putText(bgra, str(rng.choice(list("OQCGDU0869S"))), (10, 112), int(rng.choice(FONTS)), rng.uniform(3.5, 4.5), ink,
                int(rng.integers(5, 18)), cv2.LINE_AA)  # fmt: skip


def sprites(n: int, seed: int) -> np.ndarray:
    """Draw `n` pasted pictures (n, 4, SPRITE, SPRITE): red, green, blue, cover, 0..1, premultiplied by the cover."""
    rng = np.random.default_rng(seed)
    kinds = (_caption, _caption, _caption, _sticker, _clock, _fan, _logo, _logo, _signs, _wheel_of_letters)
    out = np.zeros((n, 4, SPRITE, SPRITE), np.float32)
    for i in range(n):
        bgra = np.zeros((SPRITE, SPRITE, 4), np.uint8)
        kinds[i % len(kinds)](rng, bgra)
        rgba = bgra[:, :, [2, 1, 0, 3]].astype(np.float32) / 255.0
        rgba[:, :, :3] *= rgba[:, :, 3:]
        out[i] = rgba.transpose(2, 0, 1)
    return out
