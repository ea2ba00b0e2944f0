"""A second netlist of one-sensor circuits, written from what a file says and from nothing of the package.

Parts, joins and faults are laid out anew here, in the words of ngspice; only class-typical figures (0.05 ohm of
supply, 5 kohm of a bad joint) are the same.
"""

import itertools
import re
import subprocess

FAR = 1000.0
OPEN, SHORT, JOINT, WATER = 1e10, 0.01, 5e3, 10e3
DIODE = ((-1, -1e-9), (0, 0), (0.7, 1e-6), (1.7, 0.200001))
CLAMP = ((-1, -1e-9), (0, 0), (0.5, 1e-6), (1.5, 0.050001))
LED = ((-1, -1e-9), (0, 0), (1.1, 1e-5), (2.1, 1e-5 + 1 / 15))
OWN = ((-1, -1e-9), (0, 0), (5, 0.008), (105, 0.008001))
IEC = {
    1: ((-1, -0.2e-3), (0, 0), (5, 4e-3 / 3), (15, 4e-3), (30, 8e-3), (31, 8.2667e-3)),
    2: ((-1, -1e-3), (0, 0), (5, 2.4e-3), (11, 7e-3), (30, 8e-3), (31, 8.05e-3)),
    3: ((-1, -0.36e-3), (0, 0), (5, 1.8e-3), (11, 2.6e-3), (30, 3e-3), (31, 3.02e-3)),
}
LEVELS = {1: (15, 2e-3, 5, 0.5e-3), 2: (11, 6e-3, 5, 2e-3), 3: (11, 2e-3, 5, 1.5e-3)}  # IEC 61131-2
HOLD_V = 8.0
REST_CLOSED = {"NC": True, "NO": False}


def drawn(random):
    """What a random file says: one sensor on one input, every figure stated."""
    output = random.choice(("dry contact", "NPN", "PNP", "push-pull", "2-wire"))
    kind = random.choice(("logic", "opto", "IEC 61131-2 type 1", "IEC 61131-2 type 2", "IEC 61131-2 type 3"))
    sensor = {"output": output, "contact": random.choice(("NO", "NC"))}
    if output == "2-wire":
        sensor |= {"drop": "5 V", "resistance": "10 ohm", "leakage": random.choice(("0.4 mA", "1.5 mA"))}
    elif output != "dry contact":
        sensor |= {"drop": random.choice(("0.4 V", "0.7 V")), "resistance": "5 ohm", "own_current": "8 mA"}
        sensor |= {"leakage": random.choice(("0.05 mA", "0.5 mA")), "protection_diodes": random.random() < 0.5}
    reading = {"kind": kind}
    if kind == "logic":
        reading |= {"supply": random.choice(("3.3 V", "5 V")), "pull_up": random.choice(("1 kohm", "4.7 kohm"))}
        reading |= {"v_il": "0.8 V", "v_ih": "2.4 V", "clamp": random.random() < 0.7}
        if random.random() < 0.5:
            reading["series_resistor"] = "1 kohm"
        if random.random() < 0.3:
            reading["pull_down"] = "22 kohm"
    elif kind == "opto":
        reading |= {
            "common": random.choice(("plus", "minus")),
            "series_resistor": random.choice(("2.2 kohm", "1.5 kohm")),
        }
        reading |= {"i_on": "3 mA", "i_off": "1 mA"}
    return {
        "side": "L",
        "supply": {"voltage": random.choice(("24 V", "20 V", "28 V"))},
        "sensor": sensor,
        "input": reading,
        "cable": {"length": random.choice(("1 m", "20 m")), "section": "0.25 mm2"},
    }


def drawn_chain(random):
    """What a random file of a chain says: two or three contacts in series, each with a cable of its own length."""
    file = drawn(random)
    length = file["cable"]["length"]
    sensors = [
        {"output": "dry contact", "contact": "NC", "cable_length": random.choice(("1 m", "8 m", "25 m"))}
        for _ in range(random.choice((2, 3)))
    ]
    if random.random() < 0.3:  # of one, the length of the cable of all is said
        del sensors[-1]["cable_length"]
    return file | {
        "sensor": sensors,
        "chain": {"join": "series"},
        "cable": {"length": length, "section": "0.25 mm2"},
    }


def number(text):
    """A figure of a file in SI units."""
    value, unit = text.split()
    return float(value) * {"mA": 1e-3, "kohm": 1e3}.get(unit, 1.0)


def sinks(file):
    """Whether the signal is taken to 0 V: by an NPN, or by two terminals that hang on 0 V."""
    output, reading = file["sensor"]["output"], file["input"]
    if output in ("dry contact", "2-wire"):
        return reading["kind"] == "logic" or reading.get("common") == "plus"
    return output == "NPN"


class Card:
    """One circuit in one state with one fault, as lines of ngspice."""

    def __init__(self, file, *, tripped, fault="", let_go=False):
        self.file, self.fault, self.lines, self.nodes = file, fault, [], set()
        self.kind, self.output = file["input"]["kind"], file["sensor"]["output"]
        self.core = number(file["cable"]["length"]) * 0.079
        self.volt = number(file["supply"]["voltage"])
        closed = REST_CLOSED[file["sensor"]["contact"]] != (tripped and fault != "left and right swapped")
        stuck = re.fullmatch(r"stuck (on|off|open|closed \(welded\))", fault)
        if stuck:
            closed = stuck[1] in ("on", "closed (welded)")
        self.on, self.dead = closed and not let_go, let_go
        self.stuck_on = bool(stuck) and closed
        self.build()

    # elements ----------------------------------------------------------------------------------------

    def line(self, letter, a, b, words):
        self.nodes |= {a, b} - {"0"}
        self.lines.append(f"{letter}{len(self.lines)} {a} {b} {words}")

    def ohm(self, a, b, value):
        self.line("R", a, b, f"{value:.12g}")

    def curve(self, a, b, points):
        (x0, y0), (x1, y1), *_, (x2, y2), (x3, y3) = points
        first, last = (y1 - y0) / (x1 - x0), (y3 - y2) / (x3 - x2)
        every = [(x0 - FAR, y0 - FAR * first), *points, (x3 + FAR, y3 + FAR * last)]
        words = ",".join(f"{x:.12g},{y:.12g}" for x, y in every)
        self.line("B", a, b, f"I=pwl(V({a},{b}),{words})")

    def wire(self, name, a, b, value):
        """A conductor that the fault may have opened, or given a bad joint."""
        gone = {f"{name} open"} | ({"unplugged"} if name in ("BN", "BK", "BU") else set())
        more = JOINT if self.fault == f"{name} bad joint" else 0.0
        self.ohm(a, b, OPEN if self.fault in gone else value + more)

    # parts -------------------------------------------------------------------------------------------

    def build(self):
        logic = self.kind == "logic"
        fed = self.output not in ("dry contact", "2-wire") or not sinks(self.file)
        minus = "m" if logic and fed else "0"
        lost = self.fault in ("supply lost", "BN-BU short")
        self.line("V", "emf", minus, f"DC {self.volt}")
        self.ohm("emf", "plus", 0.05)
        self.ohm("plus", "p", OPEN if lost else 1e-3)
        self.ohm(minus, "z", OPEN if self.fault == "0 V lost" else 1e-3)
        if minus == "m":
            self.wire("0 V link", "m", "0", 1e-3)
        self.three_wire() if self.output in ("NPN", "PNP", "push-pull") else self.two_terminals()
        if self.fault == "BK to frame":
            self.ohm(self.signal, "0", SHORT)
        if self.fault == "BK to +":
            self.line("V", "foreign", "0", f"DC {self.volt}")
            self.ohm("foreign", self.signal, SHORT)
        self.logic_pin() if logic else self.current_input()

    def three_wire(self):
        self.signal = "bk"
        turned = self.fault == "BN and BU reversed"
        for name, rail, end in (("BN", "p", "bu" if turned else "bn"), ("BU", "z", "bn" if turned else "bu")):
            self.ohm(rail, end, SHORT) if turned else self.wire(name, rail, end, self.core)
        self.wire("BK", "bk", "in", self.core)
        self.curve("bn", "bu", OWN)
        sensor = self.file["sensor"]
        lower = not self.on if self.output == "push-pull" else self.on
        if self.output != "NPN":
            self.curve("bn", "bk", self.transistor(self.on))
        if self.output != "PNP":
            self.curve("bk", "bu", self.transistor(lower and not self.dead))
        if sensor["protection_diodes"]:
            self.curve("bu", "bk", DIODE)
            self.curve("bk", "bn", DIODE)
        for name, a, b in (("BN-BK", "bn", "bk"), ("BK-BU", "bk", "bu"), ("BN-BU", "bn", "bu")):
            if self.fault == f"{name} short":
                self.ohm(a, b, SHORT)
            if self.fault == "water in the plug":
                self.ohm(a, b, WATER)

    def transistor(self, on):
        knee, leak = number(self.file["sensor"]["drop"]), number(self.file["sensor"]["leakage"])
        if not on:
            return ((-1, -1e-9), (0, 0), (1, leak), (101, leak + 1e-6))
        return ((-1, -1e-9), (0, 0), (knee, 1e-5), (knee + 1.0, 1e-5 + 0.2), (knee + 101, 1e-5 + 0.2 + 1e-6))

    def two_terminals(self):
        self.signal = "b"
        down = sinks(self.file)
        first = "BU" if down else "BN"
        rail = "z" if down else "p"
        turned = self.fault == f"{first} and BK reversed"
        if turned:
            self.ohm(rail, "b", SHORT)
            self.ohm("a", "in", SHORT)
        else:
            self.wire(first, rail, "a", self.core)
            self.wire("BK", "b", "in", self.core)
        upper, lower = ("b", "a") if down else ("a", "b")
        if self.output == "dry contact":
            self.ohm(upper, lower, 0.2 if self.on else 1e8)
        else:
            leak = number(self.file["sensor"]["leakage"])
            points = (
                ((-1, -1e-9), (0, 0), (5, leak), (6, leak + 0.1), (106, leak + 0.1 + 1e-6))
                if self.on
                else ((-1, -1e-9), (0, 0), (3, leak), (103, leak + 1e-6))
            )
            self.curve(upper, lower, points)
        if self.fault == f"{first}-BK short":
            self.ohm("a", "b", SHORT)
        if self.fault == "water in the plug":
            self.ohm("a", "b", WATER)

    def logic_pin(self):
        reading = self.file["input"]
        if self.fault == "logic supply lost":
            self.ohm("v", "0", SHORT)
        else:
            self.line("V", "vemf", "0", f"DC {number(reading['supply'])}")
            self.ohm("vemf", "v", 0.05)
        self.ohm("v", "in", number(reading["pull_up"]))
        self.pin = "in"
        if "series_resistor" in reading:
            self.pin = "pin"
            self.ohm("in", "pin", number(reading["series_resistor"]))
        if "pull_down" in reading:
            self.ohm(self.pin, "0", number(reading["pull_down"]))
        if reading["clamp"]:
            self.curve(self.pin, "v", CLAMP)
            self.curve("0", self.pin, CLAMP)

    def current_input(self):
        reading = self.file["input"]
        self.pin = "in"
        plus = reading.get("common") == "plus"
        self.wire("COM", "p" if plus else "com", "com" if plus else "0", 1e-3)
        upper, lower = ("com", "in") if plus else ("in", "com")
        self.upper, self.lower = upper, lower
        if self.kind != "opto":
            self.curve(upper, lower, IEC[int(self.kind[-1])])
            return
        self.ohm(upper, "led", number(reading["series_resistor"]))
        self.upper = "led"
        self.curve("led", lower, LED)

    # reading -----------------------------------------------------------------------------------------

    def level(self, volt):
        """1 on or high, -1 off or low, 0 neither; None within 1 % of a limit."""
        reading = self.file["input"]
        if self.kind == "logic":
            return told(on=((volt["in" if self.pin == "in" else "pin"], 2.4),), off=((volt[self.pin], 0.8),))
        across = volt.get(self.upper, 0.0) - volt.get(self.lower, 0.0)
        if self.kind == "opto":
            amp = through(LED, across)
            return told(on=((amp, number(reading["i_on"])),), off=((amp, number(reading["i_off"])),))
        number_of = int(self.kind[-1])
        on_v, on_a, off_v, off_a = LEVELS[number_of]
        amp = through(IEC[number_of], across)
        return told(on=((across, on_v), (amp, on_a)), off=((across, off_v), (amp, off_a)))

    def starved(self, volt):
        """Whether the sensor's own supply is too low for the output to hold."""
        holds = self.output in ("NPN", "PNP", "push-pull") and not self.stuck_on
        acts = self.on or self.output == "push-pull"
        return holds and acts and volt["bn"] - volt["bu"] < HOLD_V


class Chain(Card):
    """Contacts in series, from the rail to the input, cable by cable; `tripped`: the number of one, or None."""

    def __init__(self, file, *, tripped, fault="", let_go=False):
        self.contacts, self.own_fault = file["sensor"], re.match(r"B(\d) (.*)", fault)
        first = file | {"sensor": {"output": "dry contact", "contact": "NC"}}
        self.tripped = None if fault == "left and right swapped" else tripped
        super().__init__(first, tripped=tripped is not None, fault=fault, let_go=let_go)
        self.stuck_on = False

    def two_terminals(self):
        down, rail = sinks(self.file), "z" if sinks(self.file) else "p"
        first, at, last = "BU" if down else "BN", rail, len(self.contacts) - 1
        for k, contact in enumerate(self.contacts):
            mine = self.own_fault[2] if self.own_fault and int(self.own_fault[1]) == k + 1 else ""
            if k:
                self.part("link", at, f"t{k}", 1e-3, mine)
                at = f"t{k}"
            core = number(contact.get("cable_length", self.file["cable"]["length"])) * 0.079
            end = "in" if k == last else f"s{k}"
            self.part(first, at, f"a{k}", core, mine)
            self.part("BK", f"b{k}", end, core, mine)
            closed = k != self.tripped
            if mine.startswith("stuck"):
                closed = mine != "stuck open"
            self.ohm(f"a{k}", f"b{k}", 0.2 if closed else 1e8)
            if mine == f"{first}-BK short":
                self.ohm(f"a{k}", f"b{k}", SHORT)
            if mine == "water in the plug":
                self.ohm(f"a{k}", f"b{k}", WATER)
            if mine == "BK to frame":
                self.ohm(f"b{k}", "0", SHORT)
            if mine == "BK to +":
                self.line("V", "foreign", "0", f"DC {self.volt}")
                self.ohm("foreign", f"b{k}", SHORT)
            at = end
        self.signal = f"b{last}"

    def part(self, name, a, b, value, fault):
        """A conductor of the contact that the fault is about."""
        gone = fault == f"{name} open" or (fault == "unplugged" and name != "link")
        self.ohm(a, b, OPEN if gone else value + (JOINT if fault == f"{name} bad joint" else 0.0))


def through(points, volt):
    """Current of a curve."""
    pairs = list(itertools.pairwise(points))
    (x0, y0), (x1, y1) = next((pair for pair in pairs if volt <= pair[1][0]), pairs[-1])
    return y0 + (y1 - y0) * (volt - x0) / (x1 - x0)


def told(*, on, off):
    """Level by the limits of on (all of them) and off (any of them)."""
    if any(abs(figure - limit) < 0.01 * limit for figure, limit in (*on, *off)):
        return None
    if all(figure >= limit for figure, limit in on):
        return 1
    return -1 if any(figure <= limit for figure, limit in off) else 0


def solved(cards, folder):
    """Node voltages of every card, by one process of ngspice."""
    words = []
    for place, card in enumerate(cards):
        nodes = sorted(card.nodes)
        grounded = [f"RG{k} {node} 0 1e10" for k, node in enumerate(nodes)]
        options = ".options gmin=1e-13 reltol=1e-9 abstol=1e-14 vntol=1e-9 itl1=2000"
        (folder / f"o{place}.cir").write_text(
            "\n".join([f"* card {place}", *card.lines, *grounded, options, ".end", ""])
        )
        words += [f"source o{place}.cir", "op", "set numdgt=12", f"echo card {place}"]
        words += [f"print v({node})" for node in nodes] + ["destroy all", "remcirc"]
    (folder / "every.cir").write_text("\n".join(["* every", ".control", *words, "quit", ".endc", ".end", ""]))
    out = subprocess.run(
        ["ngspice", "-b", "every.cir"], cwd=folder, capture_output=True, text=True, timeout=900, check=False
    ).stdout
    pieces = re.split(r"^card (\d+)$", out, flags=re.MULTILINE)[1:]
    volts = {
        int(place): {m[1]: float(m[2]) for m in re.finditer(r"^v\((\w+)\) = (\S+)", text, re.MULTILINE)}
        for place, text in zip(pieces[::2], pieces[1::2], strict=True)
    }
    return [{"0": 0.0, **volts[place]} for place in range(len(cards))]
