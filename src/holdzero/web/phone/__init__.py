"""Phone: one phone at the machine, over the workshop's network, for what is entered there and nothing else."""
