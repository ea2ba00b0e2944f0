"""The solver: against ngspice on random circuits, and truths that need no number."""

import numpy as np
import pytest

import spice
from holdzero.compute.wiring import parts
from holdzero.compute.wiring.network import OPEN_OHM, CurrentCurve, Network


def random_network(rng: np.random.Generator, *, scale: float = 1.0) -> Network:
    """A tree of resistors with one or two supplies and a handful of every kind of part."""
    net = Network(1)
    nodes = ["0"] + [f"a{k}" for k in range(rng.integers(3, 9))]
    for k in range(1, len(nodes)):
        net.add(
            f"tree {k}",
            nodes[k],
            nodes[rng.integers(0, k)],
            CurrentCurve.resistor(10 ** rng.uniform(-1, 6) * scale),
        )
    net.add("supply", "a0", "0", CurrentCurve.supply(rng.uniform(3, 30), 10 ** rng.uniform(-2, 1) * scale))
    if rng.random() < 0.4:
        net.add(
            "supply 2",
            nodes[rng.integers(1, len(nodes))],
            "0",
            CurrentCurve.supply(rng.uniform(3, 30), 10 ** rng.uniform(-1, 3)),
        )
    on = bool(rng.integers(2))
    for k in range(rng.integers(2, 9)):
        a, b = (nodes[i] for i in rng.choice(len(nodes), 2, replace=False))
        curve = (
            lambda: parts.diode(),
            lambda: parts.led(knee_v=1.1),
            lambda: parts.transistor(
                on=on, knee_v=rng.uniform(0.1, 2), ohm=5.0, limit_a=0.2, leak_a=10 ** rng.uniform(-6, -3)
            ),
            lambda: parts.electronics(own_a=rng.uniform(0.001, 0.03)),
            lambda: parts.two_wire(on=on, drop_v=5.0, ohm=10.0, limit_a=0.1, leak_a=0.8e-3),
            lambda: parts.iec_input(kind=[int(rng.integers(1, 4))], scale=1.0),
            lambda: CurrentCurve.resistor(10 ** rng.uniform(-2, 7)),
        )[rng.integers(0, 7)]()
        net.add(f"part {k}", a, b, curve)
    return net


def compare(count: int, seed: int, folder) -> None:
    """Node voltages within max(1 mV, 0.1 %); what disagrees is left in the folder."""
    rng = np.random.default_rng(seed)
    nets = [random_network(rng) for _ in range(count)]
    theirs = spice.operating_points(nets, folder)
    assert len(theirs) == count
    for number, (net, other) in enumerate(zip(nets, theirs, strict=True)):
        ours = net.solve()
        for node, volt in other.items():
            allowed = max(1e-3, 1e-3 * abs(volt))
            assert abs(ours.volt(node).item() - volt) <= allowed, f"circuit {number} of seed {seed} in {folder}"


@pytest.mark.ngspice
class TestAgainstNgspice:
    """A second solver of another making."""

    def test_500_random_circuits(self, tmp_path):
        spice.need_ngspice()
        compare(500, 20261125, tmp_path)

    @pytest.mark.checks
    def test_4000_random_circuits_of_a_new_seed(self, tmp_path):
        spice.need_ngspice()
        seed = int(np.random.default_rng().integers(1 << 32))
        print("seed", seed)
        compare(4000, seed, tmp_path)


class TestTruths:
    """What holds of any circuit."""

    def test_few_steps_and_current_is_kept_at_every_node(self):
        """Kirchhoff, on what came out; the steps are few since each goes as far as the co-content falls."""
        rng = np.random.default_rng(5)
        for _ in range(300):
            net = random_network(rng)
            solved = net.solve()
            assert solved.steps <= 20
            for node in net.nodes:
                k = net.nodes[node]
                flows = [
                    i.item() * ((a == k) - (b == k)) for (a, b), i in zip(net.ends, solved.current, strict=True)
                ]
                leak = 1e-10 * solved.volt(node).item()
                assert abs(sum(flows) + leak) <= 1e-9 * max(1e-3, *map(abs, flows))

    def test_start_makes_no_difference(self):
        rng = np.random.default_rng(6)
        for _ in range(50):
            net = random_network(rng)
            start = rng.uniform(-40, 40, (len(net.nodes), 1))
            assert net.solve(start).x == pytest.approx(net.solve().x, abs=1e-6)

    def test_many_columns_are_as_one_each(self):
        rng = np.random.default_rng(7)
        volts, ohms = rng.uniform(3, 30, 40), 10 ** rng.uniform(1, 5, 40)

        def build(volt, ohm, count):
            net = Network(count)
            net.add("supply", "p", "0", CurrentCurve.supply(volt, 0.05))
            net.add("r", "p", "a", CurrentCurve.resistor(ohm))
            net.add("led", "a", "b", parts.led(knee_v=1.1))
            net.add("out", "b", "0", parts.transistor(on=True, knee_v=0.7, ohm=5, limit_a=0.2, leak_a=1e-4))
            return net.solve()

        together = build(volts, ohms, 40)
        for k in range(40):
            assert together.x[:, k] == pytest.approx(build(volts[k], ohms[k], 1).x[:, 0], abs=1e-9)

    def test_scaling_all_resistors_scales_currents_the_other_way(self):
        def divider(scale):
            net = Network(1)
            net.add("e", "p", "0", CurrentCurve.supply(24.0, 0.05 * scale))
            net.add("r1", "p", "a", CurrentCurve.resistor(8200 * scale))
            net.add("r2", "a", "0", CurrentCurve.resistor(1200 * scale))
            return net.solve().amp("r2").item()

        assert divider(10.0) == pytest.approx(divider(1.0) / 10, rel=1e-6)

    def test_open_twice_is_open_once_and_a_short_has_no_ends(self):
        def lamp(*wires, swapped=False):
            net = Network(1)
            net.add("e", "p", "0", CurrentCurve.supply(24.0, 0.05))
            for k, ohm in enumerate(wires):
                net.add(f"w{k}", "p" if k == 0 else f"m{k}", f"m{k + 1}", CurrentCurve.resistor(ohm))
            net.add("r", f"m{len(wires)}", "0", CurrentCurve.resistor(2200))
            ends = ("p", "0") if not swapped else ("0", "p")
            net.add("x", *ends, CurrentCurve.resistor(0.01))
            solved = net.solve()
            return solved.volt(f"m{len(wires)}").item()

        assert lamp(OPEN_OHM, 0.79) == pytest.approx(lamp(OPEN_OHM, OPEN_OHM), abs=1e-3)
        assert lamp(0.79, 0.79) == lamp(0.79, 0.79, swapped=True)

    def test_a_curve_goes_through_its_points_and_runs_on(self):
        """From 2 V on, of 3 ohm, then of 1 ohm: a source shows the current at any voltage."""
        curve = CurrentCurve.through([2.0, 5.0, 6.0], [1.0, 2.0, 3.0])
        volts = np.array([-1.0, 2.0, 3.5, 5.0, 5.5, 6.0, 9.0])
        net = Network(7)
        net.add("source", "p", "0", CurrentCurve.supply(volts, 1e-6))
        net.add("part", "p", "0", curve)
        assert net.solve().amp("part") == pytest.approx([0.0, 1.0, 1.5, 2.0, 2.5, 3.0, 6.0], abs=1e-4)

    def test_two_parts_of_one_name_are_refused(self):
        net = Network(1)
        net.add("r", "a", "0", CurrentCurve.resistor(1))
        with pytest.raises(ValueError, match="two parts called r"):
            net.add("r", "b", "0", CurrentCurve.resistor(1))
