"""Importing: a table as people have it becomes readings, after they saw what each column is taken for."""

from holdzero.inputs.importing.choice import Choice
from holdzero.inputs.importing.grid import Grid, read_grid
from holdzero.inputs.importing.preview import Preview, SeenColumn, preview
from holdzero.inputs.importing.take import LeftOut, Taken, take

__all__ = ["Choice", "Grid", "LeftOut", "Preview", "SeenColumn", "Taken", "preview", "read_grid", "take"]
