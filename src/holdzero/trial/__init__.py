"""Trial: at the machine, homing by homing: which comes next, and whether a figure looks like a slip."""
