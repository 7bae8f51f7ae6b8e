"""Names of the panels and faces of a part."""

from enum import IntEnum

import numpy as np
from numpy.typing import NDArray


class Panel(IntEnum):
    """A flat piece of a part that develops rigidly; the two last ones exist only with a tail taper."""

    WEB = 0
    TOP = 1
    BOTTOM = 2
    TAIL_WEB = 3
    TAIL_TOP = 4


class Face(IntEnum):
    """The face a feature is on, as in the hole table; equal in number to the panel of an untapered part."""

    WEB = 0
    TOP = 1
    BOTTOM = 2


NO_PANEL = -1
"""Where the blank is no panel: bend, upset steel, wedge, relief hole, scrap, or outside."""

FACE_OF_PANEL: NDArray[np.int8] = np.array([Face.WEB, Face.TOP, Face.BOTTOM, Face.WEB, Face.TOP], dtype=np.int8)
"""Panel number -> face number."""

FACE_OF_PANEL.flags.writeable = False
