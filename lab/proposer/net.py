# ruff: noqa: E501 - the text is part of the recipe's fingerprint: no change without training again
"""The network: inverted residuals down to stride 32, three lateral steps up to stride 4, six numbers a cell."""

from __future__ import annotations

import torch
import torch.nn.functional as F
from torch import nn

OUTPUTS = 6  # heat, dx, dy, log half-axis, aspect, near


def _conv(i: int, o: int, k: int = 1, stride: int = 1, groups: int = 1, act: bool = True) -> nn.Sequential:
    parts: list[nn.Module] = [nn.Conv2d(i, o, k, stride, k // 2, groups=groups, bias=False), nn.BatchNorm2d(o)]
    if act:
        parts.append(nn.ReLU(inplace=True))
    return nn.Sequential(*parts)


class Block(nn.Module):
    """Widen, depthwise, narrow; added to its input where the shape allows."""

    def __init__(self, i: int, o: int, widen: int, k: int, stride: int = 1) -> None:
        super().__init__()
        self.body = nn.Sequential(
            _conv(i, i * widen), _conv(i * widen, i * widen, k, stride, i * widen), _conv(i * widen, o, act=False)
        )
        self.add = stride == 1 and i == o

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        y: torch.Tensor = self.body(x)
        return x + y if self.add else y


class Net(nn.Module):
    """Picture (B, 3, H, W) in 0..1, H and W multiples of 32 -> (B, 6, H/4, W/4), heat and near as logits."""

    def __init__(self, widths: tuple[int, ...] = (16, 24, 32, 64, 112), depths: tuple[int, ...] = (1, 2, 3, 3)) -> None:
        super().__init__()
        w2, w4, w8, w16, w32 = widths
        self.stem = _conv(3, w2, 3, 2)
        self.s4 = nn.Sequential(Block(w2, w4, 3, 3, 2), *[Block(w4, w4, 2, 3) for _ in range(depths[0])])
        self.s8 = nn.Sequential(Block(w4, w8, 4, 5, 2), *[Block(w8, w8, 4, 3) for _ in range(depths[1])])
        self.s16 = nn.Sequential(Block(w8, w16, 4, 5, 2), *[Block(w16, w16, 4, 5) for _ in range(depths[2])])
        self.s32 = nn.Sequential(Block(w16, w32, 4, 5, 2), *[Block(w32, w32, 4, 5) for _ in range(depths[3])])
        self.up = nn.ModuleList([_conv(w32, w16, act=False), _conv(w16, w8, act=False), _conv(w8, 32, act=False)])
        self.side = nn.ModuleList([_conv(w16, w16, act=False), _conv(w8, w8, act=False), _conv(w4, 32, act=False)])
        self.smooth = nn.ModuleList([Block(w16, w16, 2, 5), Block(w8, w8, 2, 5), Block(32, 32, 2, 5)])
        self.head = nn.Sequential(_conv(32, 32, 5, groups=32), _conv(32, 32), nn.Conv2d(32, OUTPUTS, 1))
        nn.init.constant_(self.head[-1].bias, 0.0)
        nn.init.constant_(self.head[-1].bias[:1], -4.0)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        s4 = self.s4(self.stem((x - 0.5) * 4))
        s8 = self.s8(s4)
        s16 = self.s16(s8)
        y = self.s32(s16)
        for up, side, smooth, skip in zip(self.up, self.side, self.smooth, (s16, s8, s4), strict=True):
            y = smooth(F.relu(F.interpolate(up(y), scale_factor=2.0, mode="nearest") + side(skip)))
        out: torch.Tensor = self.head(y)
        return out


class Packaged(nn.Module):
    """What ships: bytes in (1, H, W, 3), peaks of the heat and the decoded maps out (1, 6, H/4, W/4).

    Channels: score where the cell is the largest of its 3x3 neighbourhood (else 0), x and y of the centre and
    major half-axis in pixels of the given picture, minor over major axis, and how sure (0..1) the disc is at
    the bar's end near to the camera.
    """

    def __init__(self, net: Net) -> None:
        super().__init__()
        self.net = net

    def forward(self, picture: torch.Tensor) -> torch.Tensor:
        out = self.net(picture.permute(0, 3, 1, 2).float() / 255)
        score = torch.sigmoid(out[:, :1])
        peak = torch.where(score >= F.max_pool2d(score, 3, 1, 1), score, torch.zeros_like(score))
        size, aspect = torch.exp(out[:, 3:4].clamp(-2, 3)) * 32, out[:, 4:5].clamp(0.05, 1)
        return torch.cat([peak, out[:, 1:3], size, aspect, torch.sigmoid(out[:, 5:])], 1)


def loss(out: torch.Tensor, goal: dict[str, torch.Tensor]) -> tuple[torch.Tensor, dict[str, torch.Tensor]]:
    """Focal loss on the heat (penalty-reduced around centres) and smooth absolute errors at the discs' middles."""
    out = out.float()
    logit, heat, judge = out[:, 0], goal["heat"], goal["judge"]
    p = torch.sigmoid(logit)
    centre = (heat >= 1).float()
    plus = -F.logsigmoid(logit) * (1 - p) ** 2 * centre
    minus = -F.logsigmoid(-logit) * p**2 * (1 - heat) ** 4 * (1 - centre) * judge
    count = centre.sum().clamp(min=1)
    find = (plus.sum() + minus.sum()) / count
    sure, maps = goal["sure"], goal["maps"]
    weight = sure.sum().clamp(min=1)

    def error(i: int, scale: float) -> torch.Tensor:
        return (F.smooth_l1_loss(out[:, 1 + i], maps[:, i], beta=scale, reduction="none") * sure).sum() / weight

    known = sure * (goal["near"] >= 0)
    near = F.binary_cross_entropy_with_logits(out[:, 5], goal["near"].clamp(min=0), reduction="none")
    parts = {"find": find, "shift": error(0, 0.5) + error(1, 0.5), "size": error(2, 0.05), "aspect": error(3, 0.05),
             "near": (near * known).sum() / known.sum().clamp(min=1)}
    total = parts["find"] + 0.15 * parts["shift"] + 2.0 * parts["size"] + 1.5 * parts["aspect"]
    total = total + 0.15 * parts["near"]
    return total, parts
