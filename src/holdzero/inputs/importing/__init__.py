"""Importing: a table as people have it becomes readings, after they saw what each column is taken for."""

from holdzero.inputs.importing.choice import GridPlan
from holdzero.inputs.importing.grid import Grid, as_text, read_grid
from holdzero.inputs.importing.preview import Preview, SeenColumn, preview
from holdzero.inputs.importing.take import LeftOut, TakenReadings, take

__all__ = [
    "Grid",
    "GridPlan",
    "LeftOut",
    "Preview",
    "SeenColumn",
    "TakenReadings",
    "as_text",
    "preview",
    "read_grid",
    "take",
]
