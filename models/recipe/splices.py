"""Which frames each layer of the net reads.

Apart from `net.py`, so that `final.mdl` can be read and written without torch.
"""

from __future__ import annotations

FRONT = ((-2, -1, 0, 1, 2), (-1, 0, 1), (-1, 0, 1))  # in 10 ms frames; the last one is read every third frame
BLOCKS = (
    (-1, 0, 1),
    (-1, 0, 1),
    (-1, 0, 1),
    (-2, 0, 1),
    (-2, 0, 1),
    (-3, 0, 1),
    (-3, 0, 1),
    (-4, -2, 0),
    (-6, -3, 0),
    (-6, -3, 0),
)  # in 30 ms
LEFT = 4 + 3 * sum(-b[0] for b in BLOCKS)
RIGHT = 4 + 3 * sum(b[2] for b in BLOCKS)
