"""Pictures of a machine as vector drawings: the mechanism, and the type laid flat.

Plain text in, plain text out; nothing here needs a third-party library.  How a machine is to be
drawn stands in its own description, as ``draw`` hints; see :mod:`mechlogic.drawing.plate`.
"""

from mechlogic.drawing.scene import Scene, scene, scene_at, style
from mechlogic.drawing.wheel import cell_of, type_sheet

__all__ = ["Scene", "cell_of", "scene", "scene_at", "style", "type_sheet"]
