"""An owner's figures from rows of jobs alone: sums, come-backs, what is expected, what is named.

Written from what the figures mean, without the server's code; whole numbers as they are counted, statistics by
distributions.py.
"""

import bisect
import math
from collections import defaultdict

import distributions as own

DAY_US = 86_400_000_000
WITHIN = (30, 90, 365)
COMPARED_FROM, SHOWN_FROM = 20, 5
LITRES_TOLERATED, DISPLAY_TOLERATED = 0.25, 0.01
SHARES = [("come-back", "old_30", "back_30"), ("level-unset", "done", "level_unset"), ("late", "done", "late")]


def whole(value, most=1_000_000):
    """Rounded half away from zero, within bounds."""
    size = abs(value)
    down = math.floor(size)
    size = down + 1 if size - down >= 0.5 else down
    return min(size, most) * (1 if value >= 0 else -1)


def millilitres(litres):
    return whole((litres or 0.0) * 1000.0)


def counted(row, as_of_day):
    """What one job counts, by name."""
    one, done = int, row["done"]
    balanced = done and row["difference"] is not None
    lost = millilitres(row["difference"]) + millilitres(row["litres_spilled"]) if balanced else 0
    shown = millilitres(row["litres_by_display"]) if balanced else 0
    uncertainty = millilitres(row["difference_uncertainty"]) if balanced else 0
    share = max(0, min(10_000, whole((row["share"] or 0.0) * 1e4)))
    counts = {
        "jobs": 1, "done": one(done), "in_ml": millilitres(row["litres_in"]),
        "out_ml": millilitres(row["litres_out"]), "carried_ml": millilitres(row["litres_carried"]),
        "wasted_ml": millilitres(row["litres_wasted"]), "spilled_ml": millilitres(row["litres_spilled"]),
        "balanced": one(balanced), "lost_ml": lost, "lost_ml2": lost * lost,
        "lost_u_ml2": uncertainty * uncertainty, "shown_ml": shown, "shown_ml2": shown * shown,
        "shown_lost_ml2": shown * lost, "unexplained": one(row["unexplained"]),
        "display_read": one(row["display"] != "not_read"), "display_checked": one(row["display"] == "checked"),
        "shared": one(row["share"] is not None), "share_e4": share, "share_e8": share * share,
        "level_attempts": row["level_attempts"] if done else 0, "level_unset": one(done and not row["level_set"]),
        "tool_past": one(bool(row["tools_past_check"])), "other_fluid": one(row["other_fluid"]),
        "recalled_lot": one(row["recalled_lot"]), "decisions": row["decisions"], "entries": row["entries"],
        "late_entries": row["late_entries"], "late": one(done and row["late_entries"] > 0),
    }
    for part in ("before", "exchange", "pan", "level", "after"):
        minutes = row["minutes_" + part] if done else None
        counts["minutes_" + part], counts["timed_" + part] = minutes or 0, one(minutes is not None)
    for litres in ("in", "out", "carried", "wasted", "spilled"):
        counts[litres + "_known"] = one(row["litres_" + litres] is not None)
    closed_day = row["closed_us"] // DAY_US
    for days in WITHIN:
        old = done and row["vehicle"] != "" and closed_day <= as_of_day - days
        counts[f"old_{days}"] = one(old)
        counts[f"back_{days}"] = one(old and row["back"] is not None and row["back"] <= days)
    return counts


def come_backs(rows):
    """Days after which each vehicle came back, by the digests, across all workshops; filled in as 'back'."""
    visits = defaultdict(list)
    for row in rows:
        if row["vehicle"]:
            visits[row["vehicle"]].append((row["opened_us"], row["complaint"]))
    for each in visits.values():
        each.sort()
    for row in rows:
        row["back"] = None
        closed, own_visits = row["closed_us"], visits.get(row["vehicle"], [])
        if closed is not None and row["done"]:
            later = bisect.bisect_left(own_visits, (closed, False))
            if later < len(own_visits) and own_visits[later][1]:
                row["back"] = (own_visits[later][0] - closed) // DAY_US


class Sums(defaultdict):
    def __init__(self):
        super().__init__(int)

    def add(self, counts):
        for name, value in counts.items():
            self[name] += value
        return self


def added(each):
    total = Sums()
    for sums in each:
        total.add(sums)
    return total


class Offsets:
    """Litres lost beyond a centre, and litres that a display showed."""

    def __init__(self, sums, centre):
        self.jobs = float(sums["balanced"])
        lost, self.shown = sums["lost_ml"] / 1e3, sums["shown_ml"] / 1e3
        self.lost = lost - self.jobs * centre
        self.lost2 = sums["lost_ml2"] / 1e6 - 2.0 * centre * lost + self.jobs * centre * centre
        self.shown2 = sums["shown_ml2"] / 1e6
        self.shown_lost = sums["shown_lost_ml2"] / 1e6 - centre * self.shown
        self.read, self.checked = sums["display_read"], sums["display_checked"]

    def plus(self, other, sign=1):
        both = Offsets(Sums(), 0.0)
        for name in vars(self):
            setattr(both, name, getattr(self, name) + sign * getattr(other, name))
        return both

    def mean(self):
        return self.lost / self.jobs if self.jobs else None

    def residual(self):
        return max(0.0, self.lost2 - self.lost * self.lost / self.jobs) if self.jobs else 0.0

    def estimate(self):
        """Mean, standard uncertainty, degrees of freedom."""
        if self.jobs < 2:
            return None
        scatter = max(self.residual() / (self.jobs - 1.0), 1e-4)
        return self.mean(), math.sqrt(scatter / self.jobs), self.jobs - 1.0

    def is_checked(self):
        return 2 * self.checked > self.read

    def constant(self):
        return self.mean(), self.residual(), self.jobs, 1.0

    def proportional(self):
        value = self.shown_lost / self.shown2
        return value, max(0.0, self.lost2 - self.shown_lost * value), self.shown2, self.shown / self.shown2

    def goes_with_display(self):
        if self.jobs < 2 or self.shown2 <= 0:
            return False
        least = self.jobs * 1e-4
        value, left, *_ = self.proportional()
        likelier = self.jobs / 2.0 * math.log(max(self.residual(), least) / max(left, least))
        overlooked = abs(value) <= 0.05 and not self.is_checked()
        return likelier > (-4.0 if overlooked else 2.0)


def median(values):
    values = sorted(values)
    return (values[len(values) // 2] + values[(len(values) - 1) // 2]) / 2.0 if values else None


class Owner:
    """Everything that is said of several workshops, from their rows."""

    def __init__(self, rows, as_of_day):
        self.rows = [row for row in rows if row["closed_us"] is not None]
        self.by_variant, self.by_equipment = defaultdict(Sums), defaultdict(Sums)
        for row in self.rows:
            counts = counted(row, as_of_day)
            self.by_variant[row["site"], row["variant"], row["month"]].add(counts)
            self.by_equipment[row["site"], row["equipment"], row["month"]].add(counts)
        self.months = sorted({month for _, _, month in self.by_variant})
        self.sites = sorted({site for site, _, _ in self.by_variant})
        self.total = {site: added(self.of(self.by_variant, site)) for site in self.sites}
        self.means = {site: self.enough(sums) for site, sums in self.total.items()}
        self.means = {site: mean for site, mean in self.means.items() if mean is not None}
        self.variant_means = defaultdict(dict)
        for site in self.sites:
            for variant in {of for own_site, of, _ in self.by_variant if own_site == site}:
                mean = self.enough(added(self.of(self.by_variant, site, variant)))
                if mean is not None:
                    self.variant_means[variant][site] = mean
        self.ways = self.differ()

    def of(self, groups, site, of=None, month=None):
        return [
            sums for (own_site, own_of, own_month), sums in groups.items()
            if own_site == site and of in (None, own_of) and month in (None, own_month)
        ]

    @staticmethod
    def enough(sums):
        offsets = Offsets(sums, 0.0)
        return offsets.mean() if offsets.jobs >= COMPARED_FROM else None

    def centre(self, site):
        return median([mean for other, mean in self.means.items() if other != site]) or 0.0

    def beyond(self, site):
        """What its jobs lose beyond other workshops, a month at a time."""
        every, months = self.centre(site), {month: Offsets(Sums(), 0.0) for month in self.months}
        for (own_site, variant, month), sums in self.by_variant.items():
            if own_site == site:
                others = [mean for other, mean in self.variant_means[variant].items() if other != site]
                centre = median(others)
                months[month] = months[month].plus(Offsets(sums, every if centre is None else centre))
        return [months[month] for month in self.months]

    def differ(self):
        """Variance, degrees of freedom and number of workshops by which what they lose differs."""
        known = [Offsets(self.total[site], 0.0).estimate() for site in self.sites if site in self.means]
        if len(known) < 10:
            return (LITRES_TOLERATED / 3.0) ** 2, math.inf, max(1.0, float(len(known)))
        middle = median([value for value, *_ in known])
        near = 1.4826 * median([abs(value - middle) for value, *_ in known])
        kept = [one for one in known if abs(one[0] - middle) <= 3.0 * near]
        mean = sum(value for value, *_ in kept) / len(kept)
        about = sum((value - mean) ** 2 for value, *_ in kept) / (len(kept) - 1)
        scatter = sum(u * u for _, u, _ in kept) / len(kept)
        return max(0.0, about - scatter), len(kept) - 1.0, float(len(kept))

    def ways_of(self, site):
        """What it loses with a display that is right: value, standard uncertainty, degrees of freedom."""
        centre, (variance, freedom, count) = self.centre(site), self.ways
        others = variance * (1.0 + math.pi / 2.0 / count)
        checked = Offsets(Sums(), 0.0)
        for (own_site, _, _), sums in self.by_equipment.items():
            offsets = Offsets(sums, centre)
            if own_site == site and offsets.is_checked():
                checked = checked.plus(offsets)
        found = checked.estimate()
        if found is None or abs(found[0]) > LITRES_TOLERATED:
            return centre, math.sqrt(others), freedom
        scatter = found[1] ** 2
        weight = others / (others + scatter)
        return centre + found[0] * weight, math.sqrt(weight * scatter), found[2]

    def equipment(self, site):
        return sorted({of for own_site, of, _ in self.by_equipment if own_site == site})

    def rates(self, jobs, events):
        """Of each workshop: events, jobs, expected, limits, probability."""
        every = defaultdict(Sums)
        for (_, variant, _), sums in self.by_variant.items():
            every[variant].add(sums)
        sites = {}
        for site in self.sites:
            expected = variance = 0.0
            for variant in every:
                rate = every[variant][events] / every[variant][jobs] if every[variant][jobs] else 0.0
                n = added(self.of(self.by_variant, site, variant))[jobs]
                expected += n * rate
                variance += n * rate * (1.0 - rate)
            sites[site] = (self.total[site][events], self.total[site][jobs], expected, variance)
        compared = [rate for rate in sites.values() if rate[1] >= COMPARED_FROM]
        factor, between, known = 1.0, 0.0, len(compared) >= 10
        if known:
            z = sorted((x - e) / math.sqrt(v) if v > 0 else 0.0 for x, _, e, v in compared)
            pulled = len(z) // 10
            low, high = z[pulled], z[-1 - pulled]
            phi = sum(min(max(one, low), high) ** 2 for one in z) / len(z)
            factor = math.sqrt(phi) if phi > 1.0 + 2.0 * math.sqrt(2.0 / len(z)) else 1.0
            squares = sum(e * e for _, _, e, _ in compared)
            between = max(0.0, sum((x - e) ** 2 - v for x, _, e, v in compared) / squares) if squares else 0.0
        found = {}
        for site, (x, n, e, _) in sites.items():
            limits = p = None
            if n and e > 0.0:
                target = min(max(e / n, 0.0), 1.0)
                limits = [min(1.0, max(0.0, target + factor * (at - target))) for at in own.funnel_limits(n, target)]
                if known:
                    p = own.binomial_tail(x, n, target)
                    if between > 0.0:
                        chance = max(own.negative_binomial_tail(x, e, between), p)
                        chance = min(max(chance, 2.3e-308), 1.0 - 1e-16)
                        p = own.student_sf(-own.normal_inverse(chance), max(len(compared) - 1.0, 1.0))
            found[site] = {"events": x, "jobs": n, "expected": e, "limits": limits, "p": p}
        return found, factor if known else None

    def named(self):
        """What is named, in the order in which it is told: measure, site, equipment, from, to."""
        named, months = [], self.months

        def fact(measure, site, equipment, sums, events):
            where = [place for place, each in enumerate(sums) if events(each) > 0]
            if where:
                named.append((measure, site, equipment, months[where[0]], months[where[-1]]))

        for site in self.sites:
            monthly = [added(self.of(self.by_variant, site, month=month)) for month in months]
            for equipment in self.equipment(site):
                sums = [added(self.of(self.by_equipment, site, equipment, month)) for month in months]
                fact(2, site, equipment, sums, lambda it: it["display_read"] - it["display_checked"])
            fact(1, site, "", monthly, lambda it: it["tool_past"])
            fact(0, site, "", monthly, lambda it: it["other_fluid"] + it["recalled_lot"])
        tests, displays = [], []
        for site in self.sites:
            offsets = self.beyond(site)
            if sum(month.jobs for month in offsets) >= COMPARED_FROM:
                found = most(offsets, Offsets.constant, LITRES_TOLERATED, False, (0.0, 0.0, math.inf), every(offsets))
                if found:
                    people = not found["inside"].goes_with_display()
                    place = (4, site, "", months[found["from"]], months[found["to"]])
                    tests.append((found["p"], place if people else None))
            displays += self.displays(site)
        for measure, (_, jobs, events) in zip((5, 6, 7), SHARES):
            for site, rate in self.rates(jobs, events)[0].items():
                if rate["jobs"] >= COMPARED_FROM and rate["p"] is not None:
                    tests.append((rate["p"], (measure, site, "", months[0], months[-1])))
        adjusted = own.holm([p for p, _ in tests])
        named += [place for (_, place), p in zip(tests, adjusted) if place and p <= 0.05]
        lost = {site for measure, site, *_ in named if measure == 4}
        named += [place for place in displays if place[1] not in lost]
        return sorted(named, key=lambda it: it[:3])

    def displays(self, site):
        value, u, freedom = self.ways_of(site)
        named = []
        for equipment in self.equipment(site):
            if not equipment:
                continue
            sums = [added(self.of(self.by_equipment, site, equipment, month)) for month in self.months]
            offsets = [Offsets(each, value) for each in sums]
            if sum(month.jobs for month in offsets) < COMPARED_FROM:
                continue
            asked = (offsets, Offsets.proportional, DISPLAY_TOLERATED, True, (value, u, freedom))
            unchecked = [place for place, it in enumerate(offsets) if it.read > 0 and not it.is_checked()]
            if unchecked:
                first, last = unchecked[0], unchecked[-1]
                looks = [(0.7, [(first, last)]), (0.2, [(at, last) for at in range(first + 1, last + 1)])]
                looks.append((1.0 - 0.7 - 0.2, every(offsets)))
            else:
                looks = [(1.0, every(offsets))]
            for weight, stretches in looks:
                found = most(*asked, stretches)
                if found is None:
                    continue
                least = 0.001 if found["inside"].is_checked() else 0.15
                if min(1.0, found["p"] / weight) <= least and found["inside"].goes_with_display():
                    named.append((3, site, equipment, self.months[found["from"]], self.months[found["to"]]))
                    break
        return named


def every(months):
    return [(first, last) for first in range(len(months)) for last in range(first, len(months))]


def with_ways(fit, scatter, freedom, ways):
    value, _, weight, by_litre = fit
    alone, of_ways = scatter / weight, (by_litre * ways[1]) ** 2
    variance = alone + of_ways
    return value, math.sqrt(variance), variance ** 2 / (alone ** 2 / freedom + of_ways ** 2 / ways[2])


def most(months, fit, tolerated, both_ways, ways, stretches):
    """The stretch of months that stands out most, with its probability over all that were looked at."""
    best, looked_at = None, 0
    for first, last in stretches:
        inside, outside = Offsets(Sums(), 0.0), Offsets(Sums(), 0.0)
        for place, month in enumerate(months):
            if first <= place <= last:
                inside = inside.plus(month)
            else:
                outside = outside.plus(month)
        if inside.jobs < 10 or (fit is Offsets.proportional and inside.shown2 <= 0.0):
            continue
        looked_at += 1
        left, used = 0.0, 0.0
        if outside.jobs >= 1:
            if fit is Offsets.constant or outside.shown2 > 0.0:
                left, used = fit(outside)[1], 1.0
            else:
                left = outside.lost2
        freedom = inside.jobs + outside.jobs - 1.0 - used
        found = fit(inside)
        size = with_ways(found, max((found[1] + left) / freedom, 1e-4), freedom, ways)
        t = ((abs(size[0]) if both_ways else size[0]) - tolerated) / size[1]
        if best is None or t > best[0]:
            best = (t, first, last, inside, size)
    if best is None:
        return None
    t, first, last, inside, size = best
    p = own.student_sf(t, size[2])
    if both_ways:
        p += own.student_sf(t + 2.0 * tolerated / size[1], size[2])
    return {"from": first, "to": last, "inside": inside, "p": min(1.0, p * looked_at)}
