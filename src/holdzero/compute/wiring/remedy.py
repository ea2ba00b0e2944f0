"""Remedies: what to change where a circuit does not work as it stands.

What is proposed here is solved again at every corner before anybody reads it.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import inf, sqrt
from typing import Literal

import numpy as np

from holdzero.compute.wiring.cases import IEC_SPREAD, PIN_LEAK_A
from holdzero.compute.wiring.parts import IEC_POINTS
from holdzero.compute.wiring.seen import IEC_OFF, IEC_ON
from holdzero.compute.wiring.values import (
    JOINED_OHM,
    USUAL_DROP,
    USUAL_LEAK,
    USUAL_OHM,
    USUAL_OWN,
    USUAL_RATED_A,
    Circuit,
    Limits,
    SensorOutput,
)
from holdzero.compute.wiring.windows import (
    bleed_most_ohm,
    divider_window,
    e24,
    opto_series_window,
    pull_up_window,
    shunt_most_ohm,
)
from holdzero.compute.wiring.words import GAP, ohms
from holdzero.inputs.sensor.output import Contact, Output

OPTO_ON_A, OPTO_OFF_A = 3e-3, 1e-3  # of a ready-made opto-coupler module; common practice, no source
# what our input curves take where they are surely on
IEC_AT_ON_A = {kind: float(np.interp(volt, *IEC_POINTS[kind])) for kind, (volt, _) in IEC_ON.items()}


@dataclass(frozen=True, slots=True)
class Proposal:
    """A changed circuit, not solved yet."""

    kind: str
    text: str
    circuit: Circuit
    low_ohm: float | None = None
    high_ohm: float | None = None
    ohm: float | None = None
    heat_w: float | None = None


def proposals(circuit: Circuit) -> Iterator[Proposal]:
    """What could be changed, in the order to think of it: setting, output type, resistor, opto-coupler."""
    yield from _settings(circuit)
    yield from _outputs(circuit)
    if circuit.input.kind == "logic":
        yield from _for_logic(circuit)
    else:
        yield from _for_current(circuit)


def _with(circuit: Circuit, **input_changes: object) -> Circuit:
    return replace(circuit, input=replace(circuit.input, **input_changes))  # type: ignore[arg-type]


def _sensors(circuit: Circuit, **changes: object) -> Circuit:
    return replace(circuit, sensors=tuple(replace(s, **changes) for s in circuit.sensors))  # type: ignore[arg-type]


def _sinks(sensor: SensorOutput) -> bool:
    return sensor.feed == "minus" and not sensor.output.both_ways


def _settings(circuit: Circuit) -> Iterator[Proposal]:
    controller_input, sensor = circuit.input, circuit.sensors[0]
    if controller_input.kind == "logic":
        return
    opposite_common = "minus" if controller_input.common == "plus" else "plus"
    rail = "+" if opposite_common == "plus" else "0 V"
    if controller_input.kind == "opto":
        yield Proposal(
            "setting", f"join the input's common to {rail} instead", _with(circuit, common=opposite_common)
        )
    if not sensor.output.three_wire and _sinks(sensor) != (controller_input.common == "plus"):
        feed = "minus" if controller_input.common == "plus" else "plus"
        text = f"feed the {sensor.output.noun} from {'0 V' if feed == 'minus' else '+'} instead"
        yield Proposal("setting", text, _sensors(circuit, feed=feed))


def _outputs(circuit: Circuit) -> Iterator[Proposal]:
    controller_input, sensor = circuit.input, circuit.sensors[0]
    if any(not s.contact.rests_closed for s in circuit.sensors) and (
        circuit.chain != "parallel" or not sensor.output.electronic
    ):
        text = "take the NC contact: a broken wire then reads like a tripped switch"
        closed = _sensors(circuit, contact=Contact.NC)
        if circuit.chain == "parallel":
            closed, text = (
                replace(closed, chain="series"),
                "take the NC contacts, in series: a broken wire then reads like a tripped switch",
            )
        yield Proposal("contact", text, closed)
    if sensor.output.electronic and not sensor.output.both_ways:
        wanted = (
            Output.PNP if controller_input.kind != "logic" and controller_input.common == "minus" else Output.NPN
        )
        if wanted is not sensor.output:
            usual: dict[str, object] = {
                "output": wanted,
                "feed": "plus" if wanted.sources else "minus",
                "pull_up_ohm": None,
                "pull_down_ohm": None,
            }
            if not sensor.output.three_wire:
                usual |= {
                    "drop_v": USUAL_DROP, "ohm": USUAL_OHM, "leak_a": USUAL_LEAK, "own_a": USUAL_OWN,
                    "limit_a": USUAL_RATED_A, "rating_a": USUAL_RATED_A,
                }  # fmt: skip
            yield Proposal("output type", f"take a {wanted} type of the sensor", _sensors(circuit, **usual))
    if controller_input.kind == "IEC" and controller_input.iec_type != 3:
        yield Proposal("input type", "use an input of type 3 (IEC 61131-2)", _with(circuit, iec_type=3))


def _leak_a(circuit: Circuit) -> float:
    """Worst leakage into the input with every output off: parallel leakages add."""
    leaks = [s.leak_a.high for s in circuit.sensors]
    return sum(leaks) if circuit.chain == "parallel" else max(leaks)


def _drop_v(circuit: Circuit) -> float:
    drops = [s.drop_v.high for s in circuit.sensors]
    return sum(drops) if circuit.chain == "series" else max(drops)


def _part(ohm: float) -> Limits:
    return Limits.around(ohm, 0.05)


def _watts(heat_w: float) -> str:
    """Name the part to buy: at most half loaded."""
    for rated in (0.25, 0.5, 1.0, 2.0, 5.0):
        if heat_w <= rated / 2:
            return f"{rated:g}{GAP}W"
    return f"10{GAP}W"


def _nearest(wanted: float, low: float, high: float) -> float | None:
    fits = e24(low, high)
    return min(fits, key=lambda value: abs(value - wanted)) if fits else None


def _for_current(circuit: Circuit) -> Iterator[Proposal]:
    """Opto-coupled and IEC inputs, which read a current."""
    controller_input, supply, sensor = circuit.input, circuit.supply.volt, circuit.sensors[0]
    leak, drop = _leak_a(circuit), _drop_v(circuit)
    if (
        sensor.output.three_wire
        and not sensor.output.both_ways
        and _sinks(sensor) == (controller_input.common == "minus")
    ):
        yield from _against_the_grain(circuit)
        return
    if controller_input.kind == "IEC":
        off_v, off_a = IEC_OFF[controller_input.iec_type]
        most = bleed_most_ohm(leak_a=leak, off_a=off_a, off_v=off_v)
        least_a = max(s.least_a.high for s in circuit.sensors)
        load = (
            (supply.low - drop) / (least_a - IEC_ON[controller_input.iec_type][1])
            if least_a > IEC_ON[controller_input.iec_type][1]
            else inf
        )
        high = min(most, load)
        if high < 1e5:
            ohm = _nearest(high, high * 0.5, high * 0.95)
            if ohm:
                heat = supply.high**2 / ohm
                text = f"put {ohms(ohm)} ({_watts(heat)}) across the input, from its terminal to its common"
                yield Proposal("bleed", text, _with(circuit, bleed_ohm=_part(ohm)), None, high, ohm, heat)
        return
    most = shunt_most_ohm(led_low_v=controller_input.led_v.low, leak_a=leak, off_a=controller_input.off_a)
    shunted: dict[str, object] = {}
    shunt = _nearest(most, most * 0.4, most * 0.92) if most < 1e5 else None
    if shunt:
        shunted = {"shunt_ohm": _part(shunt)}
        text = f"put {ohms(shunt)} across the opto-coupler's LED"
        yield Proposal(
            "shunt", text, _with(circuit, **shunted), None, most, shunt, controller_input.led_v.high**2 / shunt
        )
    through_shunt = controller_input.led_v.high / shunt if shunt else 0.0
    low, high = opto_series_window(
        supply_low_v=supply.low,
        supply_high_v=supply.high,
        drop_v=drop,
        led_low_v=controller_input.led_v.low,
        led_high_v=controller_input.led_v.high,
        on_a=controller_input.on_a + through_shunt,
        most_a=controller_input.most_a,
    )
    ohm = _nearest(0.7 * high, low / 0.95, high / 1.05)
    if ohm and controller_input.series_ohm and ohm != controller_input.series_ohm.nominal:
        heat = (supply.high - controller_input.led_v.low) ** 2 / ohm
        text = f"make the LED's series resistor {ohms(ohm)} ({_watts(heat)})" + (
            f", with {ohms(shunt)} across the LED" if shunt else ""
        )
        yield Proposal("series", text, _with(circuit, series_ohm=_part(ohm), **shunted), low, high, ohm, heat)


def _against_the_grain(circuit: Circuit) -> Iterator[Proposal]:
    """An output that cannot drive the input drives a resistor that does: the reading turns over."""
    controller_input, supply = circuit.input, circuit.supply.volt
    leak = _leak_a(circuit)
    if controller_input.kind == "IEC":
        need_v, _ = IEC_ON[controller_input.iec_type]
        high = (supply.low - need_v) / (IEC_AT_ON_A[controller_input.iec_type] * IEC_SPREAD[1] + leak)
    else:
        series = controller_input.series_ohm.high if controller_input.series_ohm else 0.0
        high = (supply.low - controller_input.led_v.high - controller_input.on_a * series) / (
            controller_input.on_a + leak
        )
    low = supply.high / (0.5 * circuit.sensors[0].rating_a)
    ohm = _nearest(0.7 * high, low, 0.9 * high) if high > low else None
    if ohm is None:
        return
    heat = supply.high**2 / ohm
    up = controller_input.common == "minus"
    key = "pull_up_ohm" if up else "pull_down_ohm"
    text = (
        f"put {ohms(ohm)} ({_watts(heat)}) from {'+' if up else '0 V'} to the input: the "
        f"{circuit.sensors[0].output} output then takes the current away, and the input reads the other way round"
    )
    yield Proposal(
        "pull-up" if up else "pull-down", text, _with(circuit, **{key: _part(ohm)}), low, high, ohm, heat
    )


def _for_logic(circuit: Circuit) -> Iterator[Proposal]:
    """Logic pins, which read a voltage."""
    controller_input, sensor, supply = circuit.input, circuit.sensors[0], circuit.supply.volt
    logic = circuit.logic_volt
    v_il, v_ih = controller_input.surely_low_v, controller_input.surely_high(logic).high
    leak = _leak_a(circuit) if sensor.output.electronic else 0.0
    if _sinks(sensor) and sensor.pull_up_ohm is None:
        knee = sensor.drop_v.high if sensor.drop_v.stated else sensor.drop_v.nominal
        low, high = pull_up_window(
            supply_low_v=logic.low, supply_high_v=logic.high, v_il=v_il, v_ih=v_ih, leak_a=leak, pin_a=PIN_LEAK_A,
            knee_v=knee if sensor.output.electronic else 0.0,
            ohm=sensor.ohm if sensor.output.electronic else sensor.contact_ohm.high, out_a=sensor.rating_a,
        )  # fmt: skip
        ohm = _nearest(min(high / 3, 2200.0), low * 1.06, high * 0.94)
        if ohm:
            text = f"add a pull-up of {ohms(ohm)} from the logic supply to the input"
            yield Proposal(
                "pull-up", text, _with(circuit, pull_up_ohm=_part(ohm)), low, high, ohm, logic.high**2 / ohm
            )
    if sensor.output.sources and supply.high > logic.low:
        yield from _divided(circuit, logic, v_il, v_ih)
    if supply.nominal >= 10 or sensor.output.three_wire:
        yield from _isolated(circuit)


def _divided(circuit: Circuit, logic: Limits, v_il: float, v_ih: float) -> Iterator[Proposal]:
    supply = circuit.supply.volt
    drop, leak = _drop_v(circuit), _leak_a(circuit)
    low, high, r2_most = divider_window(
        supply_low_v=supply.low, supply_high_v=supply.high, drop_v=drop, v_il=v_il, v_ih=v_ih,
        logic_low_v=logic.low, leak_a=leak,
    )  # fmt: skip
    if not 0 < low < high:
        return
    pairs = [
        (r1, r2) for r2 in e24(680, min(r2_most, 2200.0)) for r1 in e24(2000, 22e3) if low < r2 / (r1 + r2) < high
    ]
    if not pairs:
        return
    r1, r2 = min(pairs, key=lambda pair: abs(pair[1] / sum(pair) - sqrt(low * high)))
    heat = supply.high**2 / (r1 + r2)
    text = (
        f"divide: {ohms(r1)} from the sensor's output to the pin and {ohms(r2)} from the pin to 0 V "
        "(an opto-coupler is better)"
    )
    divided = _with(circuit, pull_up_ohm=None, series_ohm=_part(r1), pull_down_ohm=_part(r2))
    yield Proposal("divider", text, divided, None, r2_most, r1, heat)


def _isolated(circuit: Circuit) -> Iterator[Proposal]:
    """An opto-coupler module in front of the pin."""
    supply, sensor = circuit.supply.volt, circuit.sensors[0]
    common: Literal["plus", "minus"] = "plus" if _sinks(sensor) else "minus"
    low, high = opto_series_window(
        supply_low_v=supply.low, supply_high_v=supply.high, drop_v=_drop_v(circuit), led_low_v=1.0, led_high_v=1.4,
        on_a=OPTO_ON_A, most_a=20e-3,
    )  # fmt: skip
    ohm = _nearest(0.7 * high, low / 0.95, high / 1.05)
    if ohm is None:
        return
    heat = (supply.high - 1.0) ** 2 / ohm
    text = f"put an opto-coupler in front of the pin (common {common}, {ohms(ohm)} in series, {_watts(heat)})"
    coupled = replace(
        circuit.input, kind="opto", common=common, volt=None, pull_up_ohm=None, pull_down_ohm=None,
        series_ohm=_part(ohm), filter_f=None, on_a=OPTO_ON_A, off_a=OPTO_OFF_A,
    )  # fmt: skip
    sensors = circuit.sensors
    if sensor.feed == "logic":
        sensors = tuple(replace(s, feed="plus") for s in sensors)
    changed = replace(
        circuit,
        input=coupled,
        sensors=sensors,
        supply=replace(circuit.supply, shared=False, joined_ohm=JOINED_OHM),
    )
    yield Proposal("opto-coupler", text, changed, low, high, ohm, heat)
