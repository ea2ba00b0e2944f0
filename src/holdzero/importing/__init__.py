"""Importing: a table as people have it becomes readings, after they saw what each column is taken for."""

from holdzero.importing.choice import Choice
from holdzero.importing.grid import Grid, read_grid
from holdzero.importing.preview import Preview, SeenColumn, preview
from holdzero.importing.take import LeftOut, Taken, take

__all__ = ["Choice", "Grid", "LeftOut", "Preview", "SeenColumn", "Taken", "preview", "read_grid", "take"]
