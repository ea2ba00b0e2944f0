"""`python -m holdzero` is `holdzero`."""

from holdzero.cli import main

main()
