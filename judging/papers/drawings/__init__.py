"""The drawings, made once and serving page and paper.

Of a fault sheet the map of rows, the pace and each bell's habits; of a result how firmly places stand and how its
judges compare.

Nothing here knows whether it will be looked at on a screen or in the hand: drawings are SVG text, the map plain data.
"""

from judging.papers.drawings.habits import habits_svg, habits_told
from judging.papers.drawings.half_heard import half_heard_svg
from judging.papers.drawings.judges import judges_svg
from judging.papers.drawings.pace import pace_svg, pace_told, peal_minutes
from judging.papers.drawings.places import lines_svg, safety_svg, safety_told
from judging.papers.drawings.rows_map import MapBlock, MapCell, MapRow, RowsMap, map_blocks, rows_map

__all__ = [
    "MapBlock",
    "MapCell",
    "MapRow",
    "RowsMap",
    "habits_svg",
    "habits_told",
    "half_heard_svg",
    "judges_svg",
    "lines_svg",
    "map_blocks",
    "pace_svg",
    "pace_told",
    "peal_minutes",
    "rows_map",
    "safety_svg",
    "safety_told",
]
