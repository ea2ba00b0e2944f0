"""ngspice as a second opinion: the same network in its words, and what it makes of it."""

import os
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from holdzero.compute.wiring.network import LEAK_SIEMENS, Network

FAR_V = 1000.0


def need_ngspice():
    """Skip without ngspice, unless the run says it must be there."""
    if shutil.which("ngspice") is None:
        if os.environ.get("HOLDZERO_NEED_NGSPICE") == "1":
            pytest.fail("ngspice is needed and is not there")
        pytest.skip("ngspice is not installed")


def netlist(net: Network, column: int = 0) -> list[str]:
    """One column of a network: straight lines as resistor and source, bent ones as a table."""
    name = {k: f"n{k}" for k in range(len(net.nodes))} | {-1: "0"}

    def at(value) -> float:
        value = np.asarray(value, float)
        return value.item() if value.size == 1 else float(np.broadcast_to(value, net.shape).reshape(-1)[column])

    lines = []
    for k, ((a, b), curve) in enumerate(zip(net.ends, net.curves, strict=True)):
        amp, siemens = at(curve.amp), at(curve.siemens)
        bends = sorted((at(bend), at(more)) for bend, more in curve.bends)
        bends = [(bend, more) for bend, more in bends if more]
        if not bends:
            if siemens and not amp:
                lines += [f"R{k} {name[a]} {name[b]} {1 / siemens:.15g}"]
            elif siemens:
                lines += [
                    f"R{k} {name[a]} m{k} {1 / siemens:.15g}",
                    f"V{k} m{k} {name[b]} DC {-amp / siemens:.15g}",
                ]
            elif amp:
                lines += [f"I{k} {name[a]} {name[b]} DC {amp:.15g}"]
            continue
        volts = [bends[0][0] - FAR_V, *(bend for bend, _ in bends), bends[-1][0] + FAR_V]
        amps = [amp + siemens * v + sum(more * max(v - bend, 0.0) for bend, more in bends) for v in volts]
        points = ",".join(f"{v:.15g},{i:.15g}" for v, i in zip(volts, amps, strict=True))
        lines.append(f"B{k} {name[a]} {name[b]} I=pwl(V({name[a]},{name[b]}),{points})")
    return lines + [f"RG{k} n{k} 0 {1 / LEAK_SIEMENS:.15g}" for k in range(len(net.nodes))]


def operating_points(nets: list[Network], folder: Path) -> list[dict[str, float]]:
    """Node voltages of column 0 of each network, by one ngspice process."""
    words = []
    for number, net in enumerate(nets):
        lines = [f"* circuit {number}", *netlist(net)]
        lines += [".options gmin=1e-13 reltol=1e-9 abstol=1e-15 vntol=1e-9 itl1=2000", ".end"]
        (folder / f"c{number}.cir").write_text("\n".join(lines) + "\n")
        words += [f"source c{number}.cir", "op", "set numdgt=12", f"echo circuit {number}"]
        words += [f"print n{k}" for k in range(len(net.nodes))] + ["destroy all", "remcirc"]
    (folder / "all.cir").write_text("\n".join(["* all", ".control", *words, "quit", ".endc", ".end"]) + "\n")
    out = subprocess.run(
        ["ngspice", "-b", "all.cir"], cwd=folder, capture_output=True, text=True, timeout=600, check=False
    )
    found: list[dict[str, float]] = []
    parts = re.split(r"^circuit (\d+)$", out.stdout, flags=re.MULTILINE)[1:]
    for number, text in zip(parts[::2], parts[1::2], strict=True):
        by_number = {int(m[1]): float(m[2]) for m in re.finditer(r"^n(\d+) = (\S+)", text, re.MULTILINE)}
        found.append({node: by_number[k] for node, k in nets[int(number)].nodes.items()})
    return found


def transient(
    net: Network, *, extra: list[str], node: str, level: float, rising: bool, stop_s: float, step_s: float
) -> float:
    """When a node first passes a level, by ngspice. [s]"""
    edge = "rise=1" if rising else "fall=1"
    lines = [
        "* edge",
        *netlist(net),
        *extra,
        ".options reltol=1e-6",
        f".tran {step_s:g} {stop_s:g} 0 {step_s:g}",
        ".control",
        "run",
        f"meas tran tx when v(n{net.nodes[node]})={level} {edge}",
        "print tx",
        "quit",
        ".endc",
        ".end",
    ]
    out = subprocess.run(
        ["ngspice", "-b", "/dev/stdin"],
        input="\n".join(lines) + "\n",
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    return float(re.search(r"tx\s*=\s*(\S+)", out.stdout)[1])
