"""Recomputes the tree of a site and the digest of every job from the database file alone.

Independent of the server: nothing but this file, the standard library and the written formats. Leaf of the entry at
place n: byte 0x01, n as 8 bytes big endian, time of receipt in unix microseconds as 8 bytes big endian, the sealed
bytes. Leaf hash, inner nodes and root by RFC 6962 section 2.1 with SHA-256. Digest of a job: SHA-256 over its leaf
hashes in order. Prints one JSON object; what does not fit stands in "complaints".

    python3 check_tree.py SITE/standpipe.db
"""

import hashlib
import json
import pathlib
import sqlite3
import struct
import sys


def sha256(data):
    return hashlib.sha256(data).digest()


def root(leaves):
    if not leaves:
        return sha256(b"")
    if len(leaves) == 1:
        return leaves[0]
    half = 1
    while half * 2 < len(leaves):
        half *= 2
    return sha256(b"\x01" + root(leaves[:half]) + root(leaves[half:]))


def main(path):
    address = pathlib.Path(path).resolve().as_uri() + "?mode=ro"
    database = sqlite3.connect(address, uri=True)
    leaves, digests, ids, complaints = [], {}, set(), []
    rows = database.execute(
        "select seq, entry_id, job_first_seq, received_us, bytes, leaf_hash from entry order by seq"
    )
    for place, (seq, entry_id, job, received_us, sealed, stored) in enumerate(rows, 1):
        leaf = sha256(b"\x00" + b"\x01" + struct.pack(">Qq", seq, received_us) + sealed)
        if seq != place:
            complaints.append(f"place {place} holds entry {seq}")
        if leaf != stored:
            complaints.append(f"entry {seq} has another leaf hash than it stores")
        if entry_id in ids:
            complaints.append(f"entry {seq} has an id that was there before")
        ids.add(entry_id)
        leaves.append(leaf)
        if job is not None:
            digests.setdefault(job, hashlib.sha256()).update(leaf)
    jobs = {}
    for first_seq, year, ordinal in database.execute("select first_seq, year, ordinal from job order by year, ordinal"):
        if first_seq not in digests:
            complaints.append(f"job {year}-{ordinal} has no entry")
            continue
        jobs[f"{year % 100:02}-{ordinal:04}"] = digests[first_seq].hexdigest()
    if len(jobs) != len(digests):
        complaints.append(f"{len(digests)} jobs have entries, {len(jobs)} have a number")
    (size, epoch), = database.execute("select size, epoch from site")
    if size != len(leaves):
        complaints.append(f"the site counts {size} entries, there are {len(leaves)}")
    print(json.dumps({
        "entries": len(leaves), "root": root(leaves).hex(), "epoch": epoch.hex(), "jobs": jobs,
        "complaints": complaints,
    }))


if __name__ == "__main__":
    main(sys.argv[1])
