"""The drawings of a fault sheet, made once and serving page and paper: the map of rows, the pace, each bell's habits.

Nothing here knows whether it will be looked at on a screen or in the hand: drawings are SVG text, the map plain data.
"""

from judging.papers.drawings.habits import habits_svg, habits_told
from judging.papers.drawings.pace import pace_svg, pace_told, peal_minutes
from judging.papers.drawings.rows_map import MapBlock, MapCell, MapRow, RowsMap, map_blocks, rows_map

__all__ = [
    "MapBlock",
    "MapCell",
    "MapRow",
    "RowsMap",
    "habits_svg",
    "habits_told",
    "map_blocks",
    "pace_svg",
    "pace_told",
    "peal_minutes",
    "rows_map",
]
