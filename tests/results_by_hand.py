"""Result objects made by hand, for whoever draws or prints them: plain sums, not the methods' answers.

Three candidates on the Y axis of an invented router, both sides read, five power-ups of four homings:
`plain` holds, `coarse` shows one count only (an upper limit), `loose` does not hold and has a reading set
aside, a gross miss and a signature. `no readings` is a fourth without any.
"""

from dataclasses import replace

import numpy as np

from holdzero.caution import Caution
from holdzero.compute.choose.values import AllowedSpread, Candidate, Choice, Part, Verdict
from holdzero.compute.findings.values import Findings, Misses, Study
from holdzero.compute.signature.values import Signature
from holdzero.compute.spread.posterior import Interval, Posterior
from holdzero.inputs.machine.values import Axis, Machine, Requirement
from holdzero.inputs.reading.values import Homings, Protocol
from holdzero.inputs.sensor.output import Contact, Output
from holdzero.inputs.sensor.values import Sensor

SETS, PER_SET = 5, 4
MACHINE = Machine(
    name="Plywood router",
    requirement=Requirement(
        squareness_mm=0.09, squareness_over_mm=700.0, position_mm=0.18, risk=1e-3, datum_homings=12
    ),
    axes=(Axis.of("Y", motors=2, travel_mm=1300.0, drive_distance_mm=1070.0, creep_speed_mm_s=2.0),),
)
SENSORS = (
    Sensor(name="plain", kind="inductive", price=21.0, output=Output.PNP, contact=Contact.NC, life_cycles=5e6),
    Sensor(name="coarse", kind="gauge contact", price=88.0, output=Output.DRY_CONTACT, contact=Contact.NC),
    Sensor(name="loose", kind="roller position switch", price=14.5, output=Output.DRY_CONTACT, contact=Contact.NC),
    Sensor(name="no readings", kind="capacitive", price=33.0),
)


def homings(sensor: str, side: str, value_mm: np.ndarray, *, resolution_mm: float = 0.001) -> Homings:
    """Return readings of equal sets, in order, with nothing set aside."""
    n = value_mm.size
    none = np.full(n, "", dtype=np.str_)
    return Homings(
        sensor=sensor,
        axis="Y",
        side=side,
        deviation_mm=value_mm,
        set_label=np.array([f"{1 + i // PER_SET}" for i in range(n)]),
        homing=np.array([1 + i % PER_SET for i in range(n)], dtype=np.int64),
        speed_mm_s=np.full(n, 2.0),
        temperature_degc=np.full(n, 19.0),
        direction=none,
        time=none,
        condition=none,
        set_aside=none,
        repeat=np.zeros(n, dtype=np.bool_),
        resolution_mm=resolution_mm,
        protocol=Protocol.OUTSIDE,
        line=np.arange(n, dtype=np.int64) + 2,
    )


def findings(taken: Homings, *, signatures: tuple[Signature, ...] = (), misses: tuple[int, ...] = ()) -> Findings:
    """Return findings whose spread is the plain sd, within a factor of 1.4 either way."""
    counted = taken.counted
    values = taken.deviation_mm[counted]
    sd = float(values.std(ddof=1))
    alike = sd == 0
    middle = sd if sd else 0.4 * (taken.resolution_mm or 0.0)
    grid = middle * np.exp(np.linspace(-1.5, 1.5, 81))
    posterior = Posterior.from_log_weights(grid, -0.5 * (np.log(grid / middle) / 0.17) ** 2)
    spread = Interval(None if alike else sd, 0.0 if alike else sd / 1.4, middle * 1.4)
    return Findings(
        sensor=taken.sensor,
        axis=taken.axis,
        side=taken.side,
        n=values.size,
        sets=len(set(taken.set_label)),
        protocol=taken.protocol,
        resolution_mm=taken.resolution_mm,
        mean_mm=float(values.mean()),
        span_mm=float(np.ptp(values)),
        sd_mm=sd,
        within_sd_mm=0.8 * sd,
        lag1=0.1,
        spread=spread,
        within=Interval(0.8 * sd, 0.6 * sd, 1.1 * sd),
        between=Interval(0.6 * sd, 0.0, 1.5 * sd),
        posterior=posterior,
        within_posterior=None,
        all_alike=alike,
        alike_power_ups=SETS if alike else None,
        misses=Misses(count=len(misses), n=values.size, high_95=0.14, indices=misses),
        signatures=signatures,
        cautions=(Caution("made-by-hand", f"The figures of {taken.sensor} are made by hand.", "no source"),),
        homings=taken,
        value_mm=np.where(taken.repeat, np.nan, taken.deviation_mm),
        counted=counted,
    )


def both_sides(
    sensor: str, *, sd_mm: float, resolution_mm: float = 0.001, seed: int = 7, miss: bool = False
) -> tuple[Findings, ...]:
    """Return findings of left, right and their difference."""
    rng = np.random.default_rng(seed)
    shown = [np.round(rng.normal(0, sd_mm, SETS * PER_SET) / resolution_mm) * resolution_mm + 0.0 for _ in "LR"]
    signature = Signature(
        code="alternation",
        sentence="Odd and even homings differ by 0.02 mm.",
        statistic=4.1,
        threshold=2.9,
        false_alarm_rate=0.01,
        causes=("lost motion that is taken up every other time", "a start from two sides"),
        check="Home ten times from the same side.",
    )
    aside = np.full(SETS * PER_SET, "", dtype="<U40")
    if miss:
        shown[1][9] += 0.4
        aside[4] = "bumped the bench"
    taken = [
        replace(homings(sensor, s, v, resolution_mm=resolution_mm), set_aside=aside)
        for s, v in zip("LR", shown, strict=True)
    ]
    apart = replace(
        homings(sensor, "difference", shown[1] - shown[0], resolution_mm=resolution_mm), set_aside=aside
    )
    return (
        findings(taken[0]),
        findings(taken[1], signatures=(signature,) * miss, misses=(9,) * miss),
        findings(apart, misses=(9,) * miss),
    )


STUDY = Study(
    findings=(
        *both_sides("plain", sd_mm=0.007),
        *both_sides("coarse", sd_mm=0.0001, resolution_mm=0.02),
        *both_sides("loose", sd_mm=0.06, miss=True),
    ),
    notes=("Column `operator` is not used.",),
    digest="0f" * 32,
)
ALLOWED = AllowedSpread(
    axis="Y",
    motors=2,
    squareness_mm=0.09,
    squareness_over_mm=700.0,
    drive_distance_mm=1070.0,
    position_mm=0.18,
    position_limit_mm=0.1729,
    squareness_limit_mm=0.1376,
    risk=1e-3,
    z=3.29,
    squareness_alone_mm=0.02956,
    position_one_end_mm=0.0526,
    position_alone_mm=0.0497,
    spread_allowed_mm=0.0296,
    bound_by="squareness",
    datum_from="The datum is the mean of 12 power-ups: the position tolerance is divided by sqrt(1 + 1/12).",
)


def candidate(sensor: Sensor, verdict: Verdict, chance: float | None, reason: str) -> Candidate:
    """Return a candidate whose parts are squareness on the difference and position on each side."""
    parts = tuple(
        Part(
            name=name,
            findings=found,
            spread_allowed_mm=allowed,
            chance_holds=chance,
            chance_holds_heavy=chance,
            share_outside=None if chance is None else (1 - chance) / 10,
        )
        for name, side, allowed in (
            ("squareness", "difference", 0.0395),
            ("position L", "L", 0.0497),
            ("position R", "R", 0.0497),
        )
        if (found := STUDY.of(sensor.name, "Y", side))
    )
    return Candidate(
        sensor=sensor,
        verdict=verdict,
        chance_holds=chance,
        chance_holds_heavy=chance,
        tails="unknown" if chance is None else "regular",
        rests_on="20 homings cannot show heavy tails." if parts else "",
        share_outside=None if chance is None else (1 - chance) / 10,
        misses=parts[0].findings.misses if parts else None,
        ruled_out=("supply of 5 V does not reach 10 V",) if sensor.name == "loose" else (),
        reasons=(reason,),
        parts=parts,
    )


CHOICE = Choice(
    allowed=ALLOWED,
    candidates=(
        candidate(SENSORS[0], Verdict.HOLDS, 0.998, "the spread is a quarter of what is allowed"),
        candidate(SENSORS[1], Verdict.HOLDS, 1.0, "every homing shows the same count"),
        candidate(SENSORS[2], Verdict.DOES_NOT_HOLD, 0.0, "the spread is twice what is allowed"),
        candidate(SENSORS[3], Verdict.CANNOT_SAY, None, "there are no readings of it"),
    ),
    choice="plain",
    reason="plain is the cheapest that holds: 21.00 against 88.00 for coarse.",
    cautions=(
        Caution("few-sets", "Five power-ups say little about scatter from one power-up to the next.", "methods"),
    ),
)
