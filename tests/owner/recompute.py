"""Recomputes an owner's figures from the exported rows of jobs alone, and says what differs from what was given.

Independent of the server: nothing but the rows, this folder and the standard library. Counts and sums have to be the
same, statistics within one part in 10^9. A job that could not be computed is a row that says left_out and is in no figure;
the notes of the sheet have to name just these. Prints one JSON object: what was compared, and each difference in
"complaints".

    python3 recompute.py FOLDER

FOLDER holds jobs.jsonl (a row a line), owner.json, sums.json and site.json (the tallies owner, owner-sums and owner-site
as JSON), names.json (names of the workshops by their identities) and, if there is one, named.json (what is named, as
[measure, site, equipment, first month, last month]).
"""

import datetime
import json
import math
import pathlib
import sys

import distributions
from figures import COMPARED_FROM, SHARES, SHOWN_FROM, Offsets, Owner, Sums, added, come_backs

EXACT, NEAR = 0.0, 1e-9


class Compared:
    """Counts what was compared and keeps what differs."""

    def __init__(self):
        self.numbers, self.complaints = 0, []

    def number(self, where, given, found, relative=0.0):
        self.numbers += 1
        if given is None or found is None:
            fits = given is None and found is None
        else:
            fits = abs(given - found) <= relative * max(abs(given), abs(found), 1e-6)
        if not fits:
            self.complaints.append(f"{where}: given {given}, recomputed {found}")

    def same(self, where, given, found):
        self.numbers += 1
        if given != found:
            self.complaints.append(f"{where}: given {given}, recomputed {found}")


def rows_of(table):
    """Rows of a table as cells by the keys of its columns."""
    keys = [column["key"] for column in table["columns"]]
    return [dict(zip(keys, row["cells"])) for row in table["rows"]]


def number(cell):
    return cell.get("number")


def sums(compared, owner, names, sheet):
    given = {}
    for row in rows_of(sheet["tables"][0]):
        given[row["site"].get("text", ""), row["variant"].get("text", ""), row["month"]["text"]] = row
    compared.same("groups of sums", len(given), len(owner.by_variant))
    for (site, variant, month), counts in owner.by_variant.items():
        row, where = given.get((names[site], variant, month)), f"sums of {site}, {variant}, {month}"
        if row is None:
            compared.same(where, None, dict(counts))
        elif 0 < counts["jobs"] < SHOWN_FROM:
            compared.same(f"{where} are withheld", number(row["done"]), None)
        else:
            for name, value in counts.items():
                compared.number(f"{where}, {name}", number(row[name]), value)


def of_100(value):
    return None if value is None else 100.0 * value


def share_table(compared, owner, names, table, share):
    what, jobs, events = share
    rates, _ = owner.rates(jobs, events)
    given = {row["site"]["text"]: row for row in rows_of(table)}
    for site, rate in rates.items():
        if rate["jobs"] < COMPARED_FROM:
            continue
        row, where, n, x = given[names[site]], f"{what} of {site}", rate["jobs"], rate["events"]
        compared.number(f"{where}, jobs", number(row["jobs"]), n)
        compared.number(f"{where}, events", number(row["events"]), x)
        compared.number(f"{where}, share", number(row["share"]), 100.0 * x / n, NEAR)
        for key, value in zip(("least", "greatest"), distributions.wilson(x, n)):
            compared.number(f"{where}, {key}", number(row[key]), 100.0 * value, NEAR)
        compared.number(f"{where}, expected", number(row["expected"]), 100.0 * rate["expected"] / n, NEAR)
        if rate["expected"] > 0.0:
            compared.number(f"{where}, ratio", number(row["ratio"]), x / rate["expected"], NEAR)
        keys = ("limit-998-low", "limit-95-low", "limit-95-high", "limit-998-high")
        for key, value in zip(keys, rate["limits"] or [None] * 4):
            compared.number(f"{where}, {key}", number(row[key]), of_100(value), NEAR)


def interval(estimate):
    value, u, freedom = estimate
    half = distributions.student_95(freedom) * u
    return value, value - half, value + half


def litres(compared, owner, names, table):
    given = {row["site"]["text"]: row for row in rows_of(table)}
    for site, counts in owner.total.items():
        if counts["balanced"] < COMPARED_FROM:
            continue
        row, where = given[names[site]], f"litres of {site}"
        for key in ("in", "out", "carried", "wasted", "spilled"):
            value = counts[key + "_ml"] / 1e3 if counts[key + "_known"] else None
            compared.number(f"{where}, {key}", number(row[key]), value, NEAR)
        for key in ("jobs", "balanced"):
            compared.number(f"{where}, {key}", number(row[key]), counts[key])
        compared.number(f"{where}, lost", number(row["lost"]), Offsets(counts, 0.0).mean(), NEAR)
        beyond = Offsets(Sums(), 0.0)
        for month in owner.beyond(site):
            beyond = beyond.plus(month)
        # Beyond others only where one of them has enough jobs to tell what others lose.
        is_known = any(other != site for other in owner.means)
        for key, value in zip(("beyond", "least", "greatest"), interval(beyond.estimate())):
            compared.number(f"{where}, {key}", number(row[key]), value if is_known else None, NEAR)


def displays(compared, owner, names, table, lost):
    """Each display; what it shows too much is not told of a site that loses litres whatever it shows."""
    given = {(row["site"]["text"], row["equipment"].get("text", "")): row for row in rows_of(table)}
    for site in owner.sites:
        value, u, freedom = owner.ways_of(site)
        for equipment in owner.equipment(site):
            counts = added(owner.of(owner.by_equipment, site, equipment))
            if not equipment or not counts["display_read"]:
                continue
            row, where = given[names[site], equipment], f"display {equipment} of {site}"
            if counts["display_read"] < SHOWN_FROM:
                compared.same(f"{where} is withheld", number(row["checked"]), None)
                continue
            compared.number(f"{where}, jobs", number(row["jobs"]), counts["display_read"])
            compared.number(f"{where}, checked", number(row["checked"]), counts["display_checked"])
            found = [None] * 3
            offsets = Offsets(counts, value)
            if offsets.jobs >= COMPARED_FROM and site not in lost:
                off, left, weight, by_litre = offsets.proportional()
                alone = max(left / (offsets.jobs - 1.0), 1e-4) / weight
                of_ways = (by_litre * u) ** 2
                parts = alone ** 2 / (offsets.jobs - 1.0) + of_ways ** 2 / freedom
                estimate = (100.0 * off, 100.0 * math.sqrt(alone + of_ways), (alone + of_ways) ** 2 / parts)
                found = interval(estimate)
            for key, value_of in zip(("off", "least", "greatest"), found):
                compared.number(f"{where}, {key}", number(row[key]), value_of, NEAR)


def work(compared, owner, names, table):
    given = {row["site"]["text"]: row for row in rows_of(table)}
    for site, counts in owner.total.items():
        done = counts["done"]
        if done < COMPARED_FROM:
            continue
        row, where = given[names[site]], f"work of {site}"

        def per(sum_of, of, times=1.0):
            return times * counts[sum_of] / counts[of] if counts[of] else None

        found = {
            "jobs": done, "new": per("share_e4", "shared", 0.01), "attempts": per("level_attempts", "done"),
            "decisions": counts["decisions"], "before": per("minutes_before", "timed_before"),
            "exchange": per("minutes_exchange", "timed_exchange"), "pan": per("minutes_pan", "timed_pan"),
            "level": per("minutes_level", "timed_level"), "after": per("minutes_after", "timed_after"),
            "back-90": per("back_90", "old_90", 100.0), "back-365": per("back_365", "old_365", 100.0),
        }
        for key, value in found.items():
            compared.number(f"{where}, {key}", number(row[key]), value, NEAR)


def charts(compared, where, rows, values, target, ends=(-math.inf, math.inf), centre=None):
    """Both charts; limits are cut where no value can be, and those of single values stand about the centre if one is given."""
    least, most = ends
    limits = distributions.individuals([value for value, _ in values])
    if limits and centre is not None:
        limits = tuple(limit + centre - sum(value for value, _ in values) / len(values) for limit in limits)
    # One value moves nothing.
    averages = distributions.ewma(values, target) if len(values) > 1 else [(None, None, None)] * len(values)
    compared.same(f"{where}, months", len(rows), len(values))
    for row, (average, *of_average) in zip(rows, averages):
        found = {"average": average}
        found.update(zip(("lower", "upper", "average-lower", "average-upper"), [*(limits or (None, None)), *of_average]))
        for key, value in found.items():
            if key != "average" and value is not None and not math.isnan(value):
                value = min(max(value, least), most)
            compared.number(f"{where}, {key}", number(row[key]), value, NEAR)


def shown(compared, where, rows, every, jobs):
    """Months with enough jobs to be shown by themselves, each with its row; the others say that they have few."""
    compared.same(f"{where}, rows", len(rows), len(every))
    pairs = list(zip(rows, every))
    for row, month in pairs:
        if jobs(month) < SHOWN_FROM:
            compared.same(f"{where}, withheld", [cell for cell in row.values() if "number" in cell], [])
    return [pair for pair in pairs if jobs(pair[1]) >= SHOWN_FROM]


def site_months(compared, owner, site, sheet):
    months, *shares = sheet["tables"]
    every, where = [month for month in owner.beyond(site) if month.jobs >= 2], f"months of {site}"
    pairs = shown(compared, where, rows_of(months), every, lambda month: month.jobs)
    rows, known = [row for row, _ in pairs], [month for _, month in pairs]
    # What other sites lose is the centre; where none of them has enough jobs for that, a site has only itself.
    is_known = any(other != site for other in owner.means)
    left, freedom = sum(month.residual() for month in known), sum(month.jobs - 1.0 for month in known)
    scatter = math.sqrt(left / freedom) if freedom else math.nan
    total = Offsets(Sums(), 0.0)
    for month in known:
        total = total.plus(month)
    for row, month in pairs:
        compared.number(f"{where}, balanced", number(row["balanced"]), month.jobs)
        for key, value in zip(("beyond" if is_known else "lost", "least", "greatest"), interval(month.estimate())):
            compared.number(f"{where}, {key}", number(row[key]), value, NEAR)
    values = [(it.mean(), scatter / math.sqrt(it.jobs)) for it in known]
    if is_known:
        charts(compared, where, rows, values, 0.0, centre=0.0)
    else:
        charts(compared, where, rows, values, total.mean())
    for table, (what, jobs, events) in zip(shares, SHARES):
        monthly = [added(owner.of(owner.by_variant, site, month=month)) for month in owner.months]
        counts, where = [(it[jobs], it[events]) for it in monthly if it[jobs] > 0], f"{what} of {site} by month"
        pairs = shown(compared, where, rows_of(table), counts, lambda month: month[0])
        if not pairs:
            continue
        known_counts = [month for _, month in pairs]
        mean = sum(x for _, x in known_counts) / sum(n for n, _ in known_counts)
        values = [(100.0 * x / n, 100.0 * math.sqrt(mean * (1.0 - mean) / n)) for n, x in known_counts]
        for (row, (n, x)), (share, _) in zip(pairs, values):
            compared.number(f"{where}, jobs", number(row["jobs"]), n)
            compared.number(f"{where}, events", number(row["events"]), x)
            compared.number(f"{where}, share", number(row["share"]), share, NEAR)
            for key, value in zip(("least", "greatest"), distributions.wilson(x, n)):
                compared.number(f"{where}, {key}", number(row[key]), 100.0 * value, NEAR)
        charts(compared, where, [row for row, _ in pairs], values, 100.0 * mean, (0.0, 100.0))


# Displays that nobody checked are told together from so many on, so that they hide nothing else.
TOGETHER_FROM, DISPLAY_UNCHECKED, LITRES_LOST, DISPLAYS_NAMED = 3, 2, 4, 12


def said(compared, owner, names, sheet, named):
    """What is named stands on the sheet, a sentence each, in the order in which it is told."""
    alone, together = named, [it for it in named if it[0] == DISPLAY_UNCHECKED]
    if len(together) >= TOGETHER_FROM:
        alone = [it for it in named if it[0] != DISPLAY_UNCHECKED]
        of_them = [text for text in sheet["said"][1:] if text.startswith(f"{len(together)} litre displays ")]
        compared.same("sentences of unchecked displays", len(of_them), 1)
        for _, site, equipment, _, _ in together[:DISPLAYS_NAMED]:
            compared.same(f"display of {site}", f"{names[site]} {equipment} (" in "".join(of_them), True)
    texts = [text for text in sheet["said"][1:] if any(text.startswith(name + ", ") for name in names.values())]
    compared.same("sentences of what is named", len(texts), len(alone))
    for text, (_, site, equipment, _, _) in zip(texts, alone):
        compared.same(f"sentence about {site}", text.startswith(names[site] + ", ") and equipment in text, True)


def of_vehicles(compared, rows, sheet):
    """Vehicles that may hold too little or too much fluid or left with work open come first; jobs without a counted look at the level last."""
    def at_risk(row):
        difference, u = row["difference"], row["difference_uncertainty"]
        if difference is None and row["litres_out"] is not None:
            difference = (row["litres_in"] or 0.0) - row["litres_out"]
            u = math.hypot(row["litres_out_uncertainty"], row["litres_in_uncertainty"] or 0.0)
        short = difference is not None and u is not None and difference + 2.0 * u < -0.5
        unexplained = row["unexplained"] and row["difference"] is not None and abs(row["difference"]) > 0.5
        moved = any((row[key] or 0.0) > 0.0 for key in ("litres_in", "litres_out"))
        unseen = moved and not row["done"]
        return not row["level_set"] and (short or unexplained or unseen) or row["open_at_closing"] > 0

    closed = [row for row in rows if row["closed_us"] is not None]
    risky = sorted((row for row in closed if at_risk(row)), key=lambda row: (row["day"], row["job"]), reverse=True)
    first = sheet["said"][1]
    if risky:
        count = "One job was closed" if len(risky) == 1 else f"{len(risky)} jobs were closed"
        compared.same("vehicles at risk", first.startswith(f"{count} although"), True)
        for row in risky[:JOBS_TOLD]:
            compared.same(f"job {row['number']} at risk", f"{row['number']} (" in first, True)
    else:
        compared.same("no vehicle at risk", " although " in first, False)
    unset = sum(1 for row in closed if row["done"] and not row["level_set"])
    count = "One job was closed as done" if unset == 1 else f"{unset} jobs were closed as done"
    last = sheet["said"][-1]
    compared.same("jobs without the level", last.startswith(f"{count} without a look at the level"), unset > 0)


# Most jobs that a sentence names.
JOBS_TOLD = 6

# Most jobs that a note names; how many there are beside them is said.
NAMED_AT_MOST = 10


def left_out(compared, names, sheet, left):
    """Jobs that could not be computed measure nothing, and the sheet says which ones they are and that no figure has them."""
    said = {"site", "job", "number", "month", "left_out"}
    by_site = {}
    for row in left:
        compared.same(f"{row['number']} of {row['site']}, which is left out, measures",
                      sorted(key for key, value in row.items() if value is not None and key not in said), [])
        by_site.setdefault(row["site"], []).append(row["number"])
    notes = [text for text in sheet.get("notes", []) if "could not be computed" in text]
    compared.same("notes about jobs that are left out", len(notes), len(by_site))
    for site, numbers in by_site.items():
        name, count = names.get(site, site), len(numbers)
        jobs = "one job" if count == 1 else f"{count} jobs"
        note = next((text for text in notes if text.startswith(f"{name}: {jobs} could")), None)
        compared.same(f"{count} jobs of {site} that are left out have a note", note is not None, True)
        named = [number for number in numbers if note and number in note]
        compared.same(f"jobs of {site} that the note names", len(named), min(count, NAMED_AT_MOST))


def main(folder):
    folder = pathlib.Path(folder)

    def read(name):
        return json.loads((folder / name).read_text(encoding="utf-8"))

    rows = [json.loads(line) for line in (folder / "jobs.jsonl").read_text(encoding="utf-8").splitlines()]
    names, sheet, site_sheet = read("names.json"), read("owner.json"), read("site.json")
    compared = Compared()
    left = [row for row in rows if row.get("left_out")]
    left_out(compared, names, sheet, left)
    rows = [row for row in rows if not row.get("left_out")]
    come_backs(rows)
    for row in rows:
        compared.same(f"job {row['number']} came back after days", row["back_after_days"], row["back"])
    as_of = datetime.datetime.fromisoformat(sheet["as_of"].replace("Z", "+00:00"))
    owner = Owner(rows, int(as_of.timestamp()) // 86_400)
    names = {site: names.get(site, site) for site in owner.sites}
    sums(compared, owner, names, read("sums.json"))
    _, of_displays, of_litres, *shares, of_work = sheet["tables"]
    named = owner.named()
    displays(compared, owner, names, of_displays, {it[1] for it in named if it[0] == LITRES_LOST})
    litres(compared, owner, names, of_litres)
    for table, share in zip(shares, SHARES):
        share_table(compared, owner, names, table, share)
    work(compared, owner, names, of_work)
    site = next(site for site in owner.sites if site_sheet["title"].startswith(names[site] + ","))
    site_months(compared, owner, site, site_sheet)
    if (folder / "named.json").exists():
        compared.same("what is named", read("named.json"), [list(it) for it in named])
    said(compared, owner, names, sheet, named)
    of_vehicles(compared, rows, sheet)
    print(json.dumps({"jobs": len(rows), "left_out": len(left), "numbers": compared.numbers, "named": named,
                      "complaints": compared.complaints[:50], "complaint_count": len(compared.complaints)}))


if __name__ == "__main__":
    main(sys.argv[1])
