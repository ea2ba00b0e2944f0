"""What a person tells: machine, sensors and readings, as plain checked values, and how files of them are read."""
