"""What the stages hand to each other: frozen, validated, no I/O.

Rule for the next author: a record holds data and what can be derived from it in a line; reading, writing,
serialising and measuring live elsewhere. SI units inside, the unit in the name. Arrays are float64 and
read-only, NaN means not seen. Pixels are upright (rotation and mirroring already applied): x to the right,
y down, the centre of the first pixel at (0, 0).
"""
