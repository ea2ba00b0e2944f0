"""Run length: how many check homings go by until a limit is passed.

A limit set close to the baseline finds a shift soon and cries wolf often; one set far out does neither. The
average run length weighs the two, and is what the limits of a watch log are to be chosen by.
"""

from scipy.special import ndtr


def average_run_length(*, limit_sds: float, shift_sds: float = 0.0) -> float:
    """Check homings, on average, up to and with the first one outside fixed limits.

    Parameters
    ----------
    limit_sds : float, above 0
        Distance of either limit from the mean of the baseline, in its standard deviations. [-]
    shift_sds : float, default 0
        How far the mean has moved since, either way; 0: every alarm is a false one. [-]

    Returns
    -------
    float
        1 over the share of homings outside. [homings]

    Notes
    -----
    Homings are taken as independent and normal, mean and standard deviation of the baseline as known: with
    those of 30 homings the real figure of a machine may well be a quarter of this, or four times as much.
    W. A. Shewhart's individuals chart [1]_.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, sections 6.3.1 and 6.3.2.

    Examples
    --------
    >>> [f"{average_run_length(limit_sds=3, shift_sds=shift):.1f}" for shift in (0, 1, 3)]
    ['370.4', '43.9', '2.0']
    """
    return float(1 / (ndtr(-limit_sds - shift_sds) + ndtr(-limit_sds + shift_sds)))
