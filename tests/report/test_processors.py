"""Processors: the same inputs give the same record, to the byte, whichever loops the linear algebra runs on.

The last digit of a solved figure belongs to the processor. What a record keeps and prints is rounded to nine
digits, and digests are taken over texts: so records made on two computers agree.
"""

import json
import os
import platform
import subprocess
import sys

import numpy as np
import pytest

MADE = """
import hashlib, json
import numpy as np
from holdzero import demo
from holdzero.case import Case, Texts
from holdzero.report.stored import read_stored
from holdzero.report.whole import record_of, set_in

texts = {
    "machine": demo.machine_toml(),
    "sensors": demo.sensors_toml(),
    "readings": demo.readings_csv(),
    "wiring": demo.wiring_toml(),
    "square": demo.square_toml(),
}
made = record_of(Case(Texts(files=texts)))
files = {ending: set_in(ending, made) for ending in ("pdf", "html")}
some = np.random.default_rng(1).standard_normal((60, 60))
print(json.dumps({
    "last digits": [value.hex() for value in np.linalg.solve(some, some[0])],
    "sha256": {ending: hashlib.sha256(raw).hexdigest() for ending, raw in files.items()},
    "figures": {ending: dict(read_stored(raw).figures) for ending, raw in files.items()},
    "digest": {ending: read_stored(raw).digest for ending, raw in files.items()},
}))
"""


def begun_on(**settings):
    """A fresh Python that makes the demo, with these settings of its loops."""
    env = {name: value for name, value in os.environ.items() if name not in settings} | settings
    return subprocess.Popen([sys.executable, "-c", MADE], env=env, stdout=subprocess.PIPE, text=True)


def made_by(process):
    """What it made."""
    out, _ = process.communicate()
    assert process.returncode == 0
    return json.loads(out)


@pytest.mark.skipif(platform.machine().lower() not in ("x86_64", "amd64"), reason="the kernels named are x86")
def test_record_is_the_same_on_another_processor():
    found = np.show_config(mode="dicts")["SIMD Extensions"].get("found", [])
    both = begun_on(), begun_on(OPENBLAS_CORETYPE="Prescott", NPY_DISABLE_CPU_FEATURES=" ".join(found))
    own, plain = map(made_by, both)
    if own["last digits"] == plain["last digits"]:
        pytest.skip("this NumPy takes no other kernel: not built on OpenBLAS, or the processor has just this one")
    assert own["figures"]["pdf"] == own["figures"]["html"]
    assert len(own["figures"]["pdf"]) > 1000
    apart = {k: (v, plain["figures"]["pdf"].get(k)) for k, v in own["figures"]["pdf"].items()}
    assert {k: pair for k, pair in apart.items() if pair[0] != pair[1]} == {}
    assert own["figures"] == plain["figures"]
    assert own["digest"] == plain["digest"]
    assert own["sha256"] == plain["sha256"]
