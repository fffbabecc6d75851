"""Distributions and charts with the standard library alone, for the recomputation of an owner's figures.

Binomial and negative binomial by their terms, Student's t by the continued fraction of the incomplete beta function
(Abramowitz and Stegun 26.5.8, from memory) and its inverse by bisection. Nothing of the server is used.
"""

import math
import statistics

Z95 = 1.959963984540054


def beta_continued(a, b, x):
    tiny = 1e-300
    c, d = 1.0, 1.0 - (a + b) * x / (a + 1.0)
    d = 1.0 / (d if abs(d) > tiny else tiny)
    value = d
    for m in range(1, 2000):
        for part in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1.0 + part * d
            d = 1.0 / (d if abs(d) > tiny else tiny)
            c = 1.0 + part / c
            c = c if abs(c) > tiny else tiny
            value *= c * d
        if abs(c * d - 1.0) < 1e-16:
            break
    return value


def beta(a, b, x):
    """Regularised incomplete beta function."""
    if x <= 0.0:
        return 0.0
    if x >= 1.0:
        return 1.0
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )
    if x < (a + 1.0) / (a + b + 2.0):
        return front * beta_continued(a, b, x) / a
    return 1.0 - front * beta_continued(b, a, 1.0 - x) / b


def student_sf(t, freedom):
    if math.isinf(freedom):
        return 0.5 * math.erfc(t / math.sqrt(2.0))
    half = 0.5 * beta(freedom / 2.0, 0.5, freedom / (freedom + t * t))
    return half if t >= 0.0 else 1.0 - half


def student_95(freedom):
    """Two-sided 95 % quantile; degrees of freedom are cut to whole ones (JCGM 100:2008, G.4.1)."""
    if freedom > 1e6:
        return Z95
    freedom = max(1.0, math.floor(freedom + 0.005))
    # One degree of freedom has 12.7, infinitely many have 1.96.
    low, high = 1.9, 13.0
    for _ in range(60):
        middle = (low + high) / 2.0
        if student_sf(middle, freedom) > 0.025:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def binomial_terms(n, p):
    term = (1.0 - p) ** n
    terms = [term]
    for k in range(n):
        term *= (n - k) / (k + 1.0) * p / (1.0 - p)
        terms.append(term)
    return terms


def funnel_limits(n, p):
    """Exact binomial limits with interpolation (Spiegelhalter 2005, appendix A.1.1)."""
    if p <= 0.0 or p >= 1.0:
        return [max(0.0, p)] * 4
    up_to, total = [], 0.0
    for term in binomial_terms(n, p):
        total += term
        up_to.append(total)
    limits = []
    for asked in (0.001, 0.025, 0.975, 0.999):
        r = next(k for k, value in enumerate(up_to) if value >= asked)
        before = up_to[r - 1] if r else 0.0
        limits.append(max(0.0, (r - (up_to[r] - asked) / (up_to[r] - before)) / n))
    return limits


def binomial_tail(events, n, p):
    return math.fsum(binomial_terms(n, p)[events:]) if events else 1.0


def negative_binomial_tail(events, mean, between):
    if not events:
        return 1.0
    shape = 1.0 / between
    term = (shape / (shape + mean)) ** shape
    part = mean / (shape + mean)
    tail, x = 0.0, 0
    while x < events or term > 1e-18 * max(tail, 1e-300):
        if x >= events:
            tail += term
        term *= (shape + x) / (x + 1.0) * part
        x += 1
        if x > 100_000:
            break
    return tail


def normal_inverse(p):
    return statistics.NormalDist().inv_cdf(p)


def wilson(events, n):
    p, z2 = events / n, Z95 * Z95
    half = Z95 * math.sqrt(p * (1.0 - p) / n + z2 / (4.0 * n * n))
    least = (p + z2 / (2.0 * n) - half) / (1.0 + z2 / n)
    greatest = (p + z2 / (2.0 * n) + half) / (1.0 + z2 / n)
    return (0.0 if events == 0 else least, 1.0 if events == n else greatest)


def holm(p_values):
    """Adjusted by the step-down rule of Holm (1979)."""
    adjusted, greatest = [0.0] * len(p_values), 0.0
    for rank, place in enumerate(sorted(range(len(p_values)), key=lambda place: p_values[place])):
        greatest = max(greatest, min(1.0, (len(p_values) - rank) * p_values[place]))
        adjusted[place] = greatest
    return adjusted


def individuals(values):
    """Lower and upper limit (ISO 7870-2, d2 = 1.128)."""
    if len(values) < 2:
        return None
    ranges = [abs(one - other) for one, other in zip(values, values[1:])]
    centre, half = sum(values) / len(values), 3.0 * (sum(ranges) / len(ranges)) / 1.128
    return centre - half, centre + half


def ewma(values, target, weight=0.2, width=2.9):
    """Average, lower and upper limit of each value with its standard deviation (ISO 7870-6)."""
    points, average, variance = [], target, 0.0
    for value, sigma in values:
        average = weight * value + (1.0 - weight) * average
        variance = (weight * sigma) ** 2 + (1.0 - weight) ** 2 * variance
        half = width * math.sqrt(variance)
        points.append((average, target - half, target + half))
    return points
