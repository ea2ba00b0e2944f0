"""Surroundings: the words for what gets at a switch, shared by the machine's form and the candidate's."""

SURROUNDINGS = ("dust", "ferrous dust", "chips", "coolant", "oil", "sunlight")
