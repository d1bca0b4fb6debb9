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

#: The picture branch: two-dimensional layers over time and pitch, at 10 ms up to the third, which is read
#: every third frame, then at 30 ms. (filters, bands that come out); each reads three frames and three bands.
PICTURE = ((64, 40), (64, 20), (96, 20), (128, 10), (128, 10), (256, 5))
PICTURE_AT = (
    3  # its output joins the stream in front of this block, which sees as far: no more of the future is read
)

LEFT = 4 + 3 * sum(-b[0] for b in BLOCKS)
RIGHT = 4 + 3 * sum(b[2] for b in BLOCKS)
