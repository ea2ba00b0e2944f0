"""Sentences: what the figures of a circuit mean, in words a person at the machine can act on."""

from collections.abc import Iterator, Sequence

from holdzero.caution import Caution
from holdzero.compute.wiring.netlist import Netlist
from holdzero.compute.wiring.results import FaultRow, State, Wetting
from holdzero.compute.wiring.seen import IEC_OFF, IEC_ON
from holdzero.compute.wiring.values import Circuit
from holdzero.compute.wiring.words import GAP, listed, milliamps, ohms, volts
from holdzero.inputs.sensor.output import Output
from holdzero.quantity import show_range

START_UP_S = 0.3  # until a sensor is ready; IEC 60947-5-2
SMALL_PART_W = 0.25
FIND_OUT = (
    "Find the type of the sensor on the bench (docs/wiring.md, an unknown sensor), and the kind of input in "
    "the controller's manual."
)
LONG_M = 3.0  # from here on a cable catches what motors give off; common practice, no source
WEAK_A = 0.3e-3  # what 3.3 kohm at 3.3 V leaves of a high; common practice, no source
BELOW_NOMINAL = 0.98  # where to set a supply so that what it strays stays below
SOFT_OHM = 100.0  # least between a contact and a capacitor that it discharges; common practice, no source


def sentence(text: str) -> str:
    """Make a sentence of a clause.

    >>> sentence("both read low")
    'Both read low.'
    """
    return f"{text[0].upper()}{text[1:]}."


# verdicts ----------------------------------------------------------------------------------------------


def works(rows: Sequence[FaultRow]) -> str:
    """Say that all is well, and what a broken wire does."""
    effects = {row.effect for row in rows if row.kind == "open"}
    if effects == {"stops"}:
        return "Works, and a broken wire stops the machine."
    if effects <= {"stops", "found at the next homing"}:
        return "Works, and a broken wire is found at the next homing."
    return "Works."


def wrong(circuit: Circuit, clear: State, tripped: State, *, clear_on: bool) -> str:
    """What reads wrong with everything nominal, with the figures and what was needed."""
    kind = circuit.input.type_name
    if clear.reads == tripped.reads:
        if clear.reads == "undefined":
            return (
                f"neither clear ({_figure(circuit, clear)}) nor tripped ({_figure(circuit, tripped)}) is read "
                f"surely; {kind} needs {_need(circuit, True)} for on and {_need(circuit, False)} for off"
            )
        why = _why(circuit)
        two_states = (
            f"clear ({_figure(circuit, clear)}) and tripped ({_figure(circuit, tripped)}) both read {clear.reads}"
        )
        return f"{two_states}, since {why}" if why else two_states
    state, name = (clear, "clear") if clear.grade == "wrong" else (tripped, "tripped")
    need = _need(circuit, clear_on == (name == "clear"))
    return f"{name} reads {state.reads}, {_figure(circuit, state)}, where {kind} needs {need}"


def marginal(clear: State, tripped: State) -> str:
    """What a corner takes away."""
    short = tripped.grade != "good" and not (tripped.at_limit and clear.grade != "good")
    return falls_short(tripped, "tripped") if short else falls_short(clear, "clear")


def short_of_room(clear: State, tripped: State) -> Iterator[str]:
    """What a corner of our own assumptions takes away, and what is read with nothing to spare."""
    states = [(state, name) for state, name in ((tripped, "tripped"), (clear, "clear")) if state.grade != "good"]
    for state, name in states:
        if not state.at_limit:
            yield f"not at the ends of what is assumed: {falls_short(state, name)}"
            return
    for state, name in states:
        yield f"{name} is read right at its limit{_at_supply(state)}: nothing is left"


def _stated(volt: float) -> str:
    return show_range(volt, volt, "voltage")


def _at_supply(state: State) -> str:
    return "" if state.worst_supply_v is None else f" with {volts(state.worst_supply_v)} of supply"


def falls_short(state: State, name: str) -> str:
    """By how much a state misses what is guaranteed, and at which supply."""
    short = [
        say(-margin)
        for margin, say in ((state.margin_v, volts), (state.margin_a, milliamps))
        if margin is not None and margin < 0
    ]
    return f"{name} falls short by {listed(short) if short else 'a little'}{_at_supply(state)}"


def _need(circuit: Circuit, on: bool) -> str:
    controller_input = circuit.input
    if controller_input.kind == "logic":
        high_v = controller_input.surely_high(circuit.logic_volt).nominal
        return f"a high from {volts(high_v)}" if on else f"a low up to {volts(controller_input.surely_low_v)}"
    if controller_input.kind == "opto":
        return (
            f"{milliamps(controller_input.on_a)} or more" if on else f"at most {milliamps(controller_input.off_a)}"
        )
    if on:
        volt, ampere = IEC_ON[controller_input.iec_type]
        return f"{volts(volt)} and {milliamps(ampere)} or more"
    volt, ampere = IEC_OFF[controller_input.iec_type]
    return f"at most {volts(volt)} or {milliamps(ampere)}"


def _figure(circuit: Circuit, state: State) -> str:
    if circuit.input.kind == "logic":
        return volts(state.input_v)
    if circuit.input.kind == "opto":
        return milliamps(state.input_a)
    return f"{volts(state.input_v)} and {milliamps(state.input_a)}"


def _why(circuit: Circuit) -> str:
    """Why two states look alike, where one can tell."""
    controller_input, sensor, supply = circuit.input, circuit.sensors[0], circuit.supply
    if controller_input.kind != "logic" and sensor.output is Output.NPN and controller_input.common == "minus":
        return "an NPN output can only take current to 0 V, and this input needs current fed into it"
    if controller_input.kind != "logic" and sensor.output is Output.PNP and controller_input.common == "plus":
        return "a PNP output can only feed current in, and this input needs it taken to 0 V"
    if supply.joined_ohm is None and controller_input.kind == "logic":
        return "the two 0 V are not joined, so that no current can flow"
    for k in circuit.sensors:
        if k.output.three_wire and supply.volt.nominal < k.hold_v:
            least = k.supply_low_v if k.supply_low_v is not None else k.hold_v
            return f"{k.name} needs {_stated(least)} and the supply gives {_stated(supply.volt.nominal)}"
    if circuit.chain == "parallel" and sensor.contact.rests_closed:
        return "NC outputs in parallel hide each other: all would have to trip"
    if circuit.chain == "series" and not sensor.contact.rests_closed:
        return "NO outputs in series need all to trip at once"
    return ""


# why it is only a "works, but" ---------------------------------------------------------------------------


def unnoticed(rows: Sequence[FaultRow]) -> Iterator[str]:
    """Losses that go unnoticed, and those that would overload the input."""
    for effect, column, many in (
        ("hides", "goes unnoticed", "go unnoticed"),
        ("damage", "would overload the input", "would overload the input"),
    ):
        names = _losses([row for row in rows if row.hides_a_loss and row.effect == effect], rows)
        if names:
            yield f"{listed(names)} {column if len(names) == 1 else many}"


def _losses(lost: Sequence[FaultRow], rows: Sequence[FaultRow]) -> list[str]:
    """Name losses as one speaks; all wires alike are "a broken wire"."""
    names = []
    broken = [row.fault.removesuffix(" open") for row in lost if row.kind == "open"]
    if len(broken) > 1 and len(broken) == sum(row.kind == "open" for row in rows):
        names.append("a broken wire")
    elif broken:
        names.append(f"a broken {' or '.join(broken) if len(broken) < 4 else 'wire in one of several places'}")
    names += [f"a lost {row.fault.removesuffix(' lost')}" for row in lost if row.kind == "supply"]
    return names + ["an unplugged sensor"] * any(row.kind == "unplugged" for row in lost)


def starved(circuit: Circuit, through_a: Sequence[float]) -> Iterator[str]:
    """A 2-wire sensor that is given too little current to hold itself on."""
    for sensor, amp in zip(circuit.sensors, through_a, strict=True):
        if amp < sensor.least_a.high * 0.999:  # of any other, nothing
            needs = "needs" if sensor.least_a.stated else "may need"
            least = milliamps(sensor.least_a.high)
            yield f"only {milliamps(amp)} flows through {sensor.name}, which {needs} {least} to hold itself on"


def dry(wetting: Wetting) -> str:
    """A contact that is loaded too little."""
    return (
        f"{milliamps(wetting.amp)} at {volts(wetting.volt)} does not wet a {wetting.material} contact, which "
        f"needs {milliamps(wetting.need_a)} at {volts(wetting.need_v)}"
    )


def silent_sheet(circuit: Circuit) -> Iterator[str]:
    """A range that ends at the nominal supply, which may be a little more."""
    volt = circuit.supply.volt
    for sensor in circuit.sensors:
        if sensor.supply_high_v is not None and sensor.silent_above(volt):
            lower = volts(BELOW_NOMINAL * sensor.supply_high_v)
            yield (
                f"the sheet of {sensor.name} does not say that it bears {volts(volt.high)}: ask, or set the "
                f"supply to {lower}"
            )


def weak(circuit: Circuit) -> Iterator[str]:
    """A long cable on a pin that only a weak resistor holds: little interference turns the reading."""
    controller_input, length_m = circuit.input, circuit.longest_m or 0.0
    held = [sensor for sensor in circuit.sensors if sensor.output.both_ways or sensor.pull_up_ohm is not None]
    if controller_input.kind != "logic" or length_m < LONG_M or held:
        return
    up, down, series = controller_input.pull_up_ohm, controller_input.pull_down_ohm, controller_input.series_ohm
    if up is not None:
        logic = circuit.logic_volt
        ohm, room_v = up.nominal, logic.nominal - controller_input.surely_high(logic).nominal
    elif down is not None:  # the pin's level, as seen from the cable
        ohm = down.nominal + (series.nominal if series else 0.0)
        room_v = controller_input.surely_low_v * ohm / down.nominal
    else:
        return
    if room_v / ohm < WEAK_A * 0.999:
        way = "pull-up" if up is not None else "pull-down"
        level = "high" if up is not None else "low"
        yield (
            f"{length_m:g}{GAP}m of cable hang on a {way} of {ohms(ohm)}: {milliamps(room_v / ohm)} of "
            f"interference is enough to take the input out of its {level}, where {milliamps(WEAK_A)} is the least "
            "that stands up to noise in practice"
        )


def shared(circuit: Circuit) -> Iterator[str]:
    """What is lost where several sensors share an input."""
    if len({sensor.side for sensor in circuit.sensors if sensor.side}) > 1:
        yield (
            "both sides of the gantry share one input: it cannot be told which side tripped, a switch that is "
            "stuck is not noticed, and both sides cannot be homed at once. Home one side at a time, or give each "
            "side an input"
        )
    count = len(circuit.sensors)
    if circuit.chain == "series" and circuit.sensors[0].output.three_wire:
        most = ": two is the most" if count > 2 else ""
        yield f"each of the {count} sensors in series starts only when the one before it is on{most}"


# what to do ----------------------------------------------------------------------------------------------


def setting(circuit: Circuit, *, clear_on: bool) -> str:
    """How the controller is to be set."""
    clear, tripped = ("high", "low") if circuit.input.kind == "logic" else ("on", "off")
    if not clear_on:
        clear, tripped = tripped, clear
    return f"Set the controller so that {clear} means clear and {tripped} means tripped."


def start_up_s(circuit: Circuit) -> float:
    """Time until the first reading counts; in a chain each sensor waits for the one before. [s]"""
    powered = sum(sensor.output.three_wire for sensor in circuit.sensors)
    if powered:
        return START_UP_S * (powered if circuit.chain == "series" else 1)
    return START_UP_S if any(sensor.output is Output.TWO_WIRE for sensor in circuit.sensors) else 0.0


def measure_the_drop(circuit: Circuit) -> tuple[str, str]:
    """Verdict and advice where the sheet does not tell how low an output pulls."""
    says = (
        "Cannot say: the sheet does not tell how low the output pulls at the small current of a logic input; "
        f"below {volts(circuit.input.surely_low_v)} it works. Measure it."
    )
    measure = (
        "With the pull-up in place and the output on, measure from the input to 0 V, and write the figure as "
        "drop, with its current as drop_at."
    )
    return says, measure


def advice(circuit: Circuit, rows: Sequence[FaultRow]) -> Iterator[str]:
    """What to do whatever the verdict."""
    sensor = circuit.sensors[0]
    by_diodes = any(
        row.kind == "open" and row.effect == "hides" and row.reads_clear == row.reads_tripped == "clear"
        for row in rows
    )
    if sensor.output.three_wire and sensor.diodes and sensor.contact.rests_closed and by_diodes:
        sinks = sensor.feed == "minus"
        way = "rise" if circuit.input.kind == "logic" and sinks else "drop"
        yield (
            f"Test once, switched off and unplugged in between: pull the {'brown' if sinks else 'blue'} wire; the "
            f"input must {way}. If it does, the sensor has no path through its own protection diodes: write "
            "protection_diodes = false."
        )
    if any(row.kind == "short" and row.effect == "hides" for row in rows):
        yield (
            "No input that is on or off can show cores shorted to each other or a contact that is welded: only a "
            "homing that demands to see the switch trip and release, each within its window, does."
        )
    wait_s = start_up_s(circuit)
    if wait_s:
        yield (
            f"Wait {wait_s + 0.2:.2g}{GAP}s after switching on before the first reading: the sensor may take "
            f"{wait_s:.2g}{GAP}s to be ready."
        )


def cautions(
    circuit: Circuit, net: Netlist, wetting: Wetting | None, heats: dict[str, float]
) -> Iterator[Caution]:
    """What to know before trusting the figures."""
    yield from (Caution("key-not-used", note) for note in circuit.notes)
    if wetting and not wetting.wets:
        taken = f" (taken as {wetting.material}, since the material is not stated)" if wetting.assumed else ""
        yield Caution("contact-not-wetted", sentence(dry(wetting) + taken), "common practice, no source")
    for name, heat in heats.items():
        if heat > SMALL_PART_W / 2:
            text = f"The {name} takes up to {heat:.2g}{GAP}W: a part of twice that rating is wanted."
            yield Caution("resistor-heat", text, "common practice, no source")
    controller_input = circuit.input
    soft = controller_input.series_ohm if controller_input.kind == "logic" else controller_input.filter_ohm
    dry_contact = any(not sensor.output.electronic for sensor in circuit.sensors)
    if controller_input.filter_f and dry_contact and (soft is None or soft.nominal < SOFT_OHM):
        text = "The filter capacitor is discharged straight through the contact: put at least 100 Ω between them."
        yield Caution("capacitor-on-contact", text, "common practice, no source")
    yield from _near_limit(circuit)
    if circuit.supply.fuse_a is None and net.has("+ line"):
        text = "-F1 is drawn but its rating is not stated: without a limit, plus shorted to 0 V heats the cable."
        yield Caution("no-fuse", text)


def _near_limit(circuit: Circuit) -> Iterator[Caution]:
    """A supply that our own guess of its tolerance takes out of what a sensor is made for."""
    volt = circuit.supply.volt
    for sensor in circuit.sensors:
        low, high = sensor.supply_low_v, sensor.bears_v
        if not sensor.output.three_wire or low is None or high is None:
            continue
        if volt.nominal <= high < volt.high and not volt.stated and not sensor.silent_above(volt):
            limit, way, reach = high, "at most", volt.high
        elif volt.low < low <= volt.nominal:
            limit, way, reach = low, "at least", volt.low
        else:
            continue
        text = (
            f"{sensor.name} is made for {_stated(limit)} {way}: measure the supply at the sensor, which may see "
            f"{volts(reach, beside=limit)} at times."
        )
        yield Caution("supply-near-limit", text)
