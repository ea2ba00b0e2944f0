"""Watch: does the machine still home where it did?"""

from holdzero.compute.watch.run_length import average_run_length

__all__ = ["average_run_length"]
