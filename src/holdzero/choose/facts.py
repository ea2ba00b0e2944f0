"""Facts: what rules a sensor out before any homing, as far as both sides of the fact are known."""

from holdzero.machine.values import Axis, Machine
from holdzero.quantity import show, show_interval
from holdzero.sensor.values import Sensor


def ruled_out(sensor: Sensor, machine: Machine, axis: Axis) -> tuple[str, ...]:
    """Return the facts that rule a sensor out for an axis, each as a sentence.

    Parameters
    ----------
    sensor : Sensor
        A fact its sheet does not state never rules it out.
    machine : Machine
        Supply it offers, life that is asked.
    axis : Axis
        What gets at the switch there.
    """
    return (*_supply(sensor, machine), *_life(sensor, machine), *_surroundings(sensor, axis))


def _supply(sensor: Sensor, machine: Machine) -> tuple[str, ...]:
    low, high = sensor.supply_low_v, sensor.supply_high_v
    least, most = machine.supply_low_v, machine.supply_high_v
    if low is None or high is None or least is None or most is None or (low <= least and most <= high):
        return ()
    works = show(low, "voltage") if low == high else show_interval(low, high, "voltage")
    offered = show(least, "voltage") if least == most else show_interval(least, most, "voltage")
    return (f"It works on {works}; the machine offers {offered}.",)


def _life(sensor: Sensor, machine: Machine) -> tuple[str, ...]:
    lasts, asked = sensor.life_cycles, machine.requirement.life_cycles
    if lasts is None or asked is None or lasts >= asked:
        return ()
    return (f"It lasts for {show(lasts, 'cycles')}; {show(asked, 'cycles')} are asked.",)


def _surroundings(sensor: Sensor, axis: Axis) -> tuple[str, ...]:
    there = [word for word in axis.surroundings if word in sensor.not_in]
    return (f"It does not stand {' or '.join(there)}, and axis {axis.name} has that.",) if there else ()
