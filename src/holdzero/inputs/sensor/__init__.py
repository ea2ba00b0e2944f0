"""Sensor: a candidate switch, what its data sheet says, and the form that says so."""

from holdzero.inputs.sensor.entry import read_sensors, sensor_from, write_sensors
from holdzero.inputs.sensor.keys import CONVENTIONS, KEYS
from holdzero.inputs.sensor.values import Sensor

__all__ = ["CONVENTIONS", "KEYS", "Sensor", "read_sensors", "sensor_from", "write_sensors"]
