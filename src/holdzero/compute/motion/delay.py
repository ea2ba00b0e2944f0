"""Delay: from the moment a switch trips to the moment the axis begins to brake.

Five things happen one after the other: the sensor responds, the edge climbs to the threshold, the
input filters, the controller looks (polls), and begins to brake. For room to
stop the longest sum counts; for where zero lands only what varies from homing to homing does.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Delay:
    """The parts of one delay. [s]

    Parameters
    ----------
    response_s, edge_s, filter_s, controller_s : float
        Sensor, slow edge (the slower of the two), input filter or debounce, controller. [s]
    poll_s : float
        Time from one look at the input to the next: the wait is anything from 0 to all of it. [s]
    jitter_s : float
        Standard deviation of the rest. [s]

    Examples
    --------
    >>> chain = Delay(response_s=0.1e-3, edge_s=0.943e-3, filter_s=5e-3, poll_s=1e-3, controller_s=2e-3)
    >>> f"longest {chain.longest_s * 1e3:.3f} ms, mean {chain.mean_s * 1e3:.3f} ms"
    'longest 9.043 ms, mean 8.543 ms'
    """

    response_s: float = 0.0
    edge_s: float = 0.0
    filter_s: float = 0.0
    poll_s: float = 0.0
    controller_s: float = 0.0
    jitter_s: float = 0.0

    @property
    def longest_s(self) -> float:
        """All parts at their longest: for room to stop. [s]"""
        return self.response_s + self.edge_s + self.filter_s + self.poll_s + self.controller_s

    @property
    def mean_s(self) -> float:
        """Mean: half a poll less than the longest. [s]"""
        return self.longest_s - self.poll_s / 2

    @property
    def seen_s(self) -> float:
        """Until the controller has seen the switch, without its own part: how long a flag must hold it. [s]"""
        return self.longest_s - self.controller_s
