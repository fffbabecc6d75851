"""Runs the demo's job as a foreign client: builds every entry anew from a script, sends it, sends everything again, asks
questions, and reads the details of errors.

Works on any API that gives message classes and calls by name (from_proto.py, from_reflection.py). What it sees is
written as one JSON object to the last line of the standard output; nothing is judged here. Before each entry it says at
which time of the server the entry came in the demo and waits for a line, so that the test can move the server's clock.
"""

import base64
import json
import os
import sys
import time
import uuid

import grpc
from google.protobuf import json_format

SERVERS_OWN = "server"


def uuid7(counter):
    """A UUID of version 7 (RFC 9562, section 5.7)."""
    milliseconds = 1_774_000_000_000 + counter
    random = os.urandom(10)
    value = bytearray(milliseconds.to_bytes(6, "big") + random)
    value[6] = 0x70 | (value[6] & 0x0F)
    value[8] = 0x80 | (value[8] & 0x3F)
    return str(uuid.UUID(bytes=bytes(value)))


def ask(line):
    """Says a line to the test and waits for its answer."""
    print(line, flush=True)
    return sys.stdin.readline().strip()


class Run:
    def __init__(self, api, told):
        self.api = api
        self.told = told
        self.tokens = told["tokens"]
        self.epochs = {station: os.urandom(16).hex() for station in self.tokens}
        self.numbers = dict.fromkeys(self.tokens, 0)
        self.entries = {}  # identity in the script -> identity here
        self.jobs = {}
        self.sent = []  # (station, entry message)
        self.editions = 0

    def metadata(self, station):
        return (("authorization", "Bearer " + self.tokens[station]),)

    def call(self, station, service, method, request):
        return self.api.call(service, method, request, self.metadata(station))

    def rebuilt(self, step):
        """The entry of the script as this client makes it: own identities, own order, same facts and times."""
        script = self.api.message("Entry")
        script.ParseFromString(base64.b64decode(step["sealed"]))
        entry = json_format.ParseDict(json_format.MessageToDict(script), self.api.message("Entry"))
        header, station = entry.header, step["station"]
        self.numbers[station] += 1
        entry_id = uuid7(len(self.entries))
        self.entries[header.entry_id] = entry_id
        header.entry_id = entry_id
        if header.job_id:
            header.job_id = self.jobs.setdefault(header.job_id, uuid7(len(self.jobs) + 5000))
        header.station_epoch = self.epochs[station]
        header.station_number = self.numbers[station]
        fact = entry.fact
        if fact.WhichOneof("kind") == "correction":
            fact.correction.corrected_entry_id = self.entries[fact.correction.corrected_entry_id]
        return entry

    def job(self):
        (job,) = self.jobs.values()
        return job

    def play(self):
        acknowledged = []
        for step in self.told["script"]:
            if ask("at %d" % step["received_us"]) != "go":
                raise SystemExit("the test went away")
            if step["station"] == SERVERS_OWN:
                request = self.api.message("IssueRequest")
                request.job, request.request_id, request.person_code = self.job(), uuid7(9000), step["person"]
                issued = self.call("office", "RecordService", "Issue", request)
                acknowledged.append({"edition": issued.edition, "is_pdf": issued.pdf[:5] == b"%PDF-"})
                continue
            entry = self.rebuilt(step)
            request = self.api.message("AppendRequest")
            request.entry.CopyFrom(entry)
            answer = self.call(step["station"], "JournalService", "Append", request).acknowledgement
            self.sent.append((step["station"], entry, answer.seq))
            acknowledged.append(
                {"seq": answer.seq, "repeated": answer.repeated, "job": answer.job_number, "plate": answer.plate}
            )
        return acknowledged

    def again(self):
        """Sends everything again, each station's entries in one stream."""
        unlike, count = [], 0
        for station in self.tokens:
            own = [(entry, seq) for sender, entry, seq in self.sent if sender == station]

            def requests():
                for entry, _ in own:
                    request = self.api.message("AppendStreamRequest")
                    request.entry.CopyFrom(entry)
                    yield request

            answers = self.api.both_ways("JournalService", "AppendStream", requests(), self.metadata(station))
            for (entry, seq), answer in zip(own, answers, strict=True):
                count += 1
                acknowledgement = answer.acknowledgement
                same = acknowledgement.entry_id == entry.header.entry_id and acknowledgement.seq == seq
                if not (same and acknowledgement.repeated):
                    unlike.append(json_format.MessageToDict(answer))
        return {"count": count, "unlike": unlike}

    def refused(self, what, station, service, method, request, token=None):
        """What a refusal says, read by grpcio-status and by hand."""
        metadata = self.metadata(station) if token is None else ((("authorization", token),) if token else ())
        try:
            self.api.call(service, method, request, metadata)
        except grpc.RpcError as error:
            return {"what": what, "code": error.code().name, "message": error.details(), **self.api.details(error)}
        return {"what": what, "code": "OK", "message": "", "details": []}

    def errors(self):
        station, entry, _ = self.sent[0]
        other = self.api.message("AppendRequest")
        other.entry.CopyFrom(entry)
        other.entry.header.person_code = "Z"
        outside = self.api.message("AppendRequest")
        outside.entry.CopyFrom(entry)
        outside.entry.header.entry_id = uuid7(7000)
        outside.entry.header.person_code = "much too long"
        unknown = self.api.message("GetRequest")
        unknown.job = "HL-26-9999"
        gate = self.api.message("MayRequest")
        gate.job, gate.gate = self.job(), "somewhere"
        describe = self.api.message("DescribeRequest")
        customer = self.api.message("GetCustomerRequest")
        customer.job = self.job()
        return [
            self.refused("other bytes", station, "JournalService", "Append", other),
            self.refused("outside its bounds", station, "JournalService", "Append", outside),
            self.refused("unknown job", "bay-1", "JobService", "Get", unknown),
            self.refused("unknown gate", "bay-1", "JobService", "May", gate),
            self.refused("no token", "bay-1", "StationService", "Describe", describe, token=""),
            self.refused("wrong token", "bay-1", "StationService", "Describe", describe, token="Bearer " + "0" * 64),
            self.refused("not for a bay", "bay-1", "CustomerService", "GetCustomer", customer),
        ]

    def questions(self):
        get = self.api.message("GetRequest")
        get.job = self.job()
        job = self.call("office", "JobService", "Get", get).job
        may = self.api.message("MayRequest")
        may.job, may.gate = self.job(), "close"
        render = self.api.message("RenderRequest")
        render.job = self.job()
        printed = self.call("office", "RecordService", "Render", render)
        watch = self.api.message("WatchRequest")
        watch.job = self.job()
        states = self.api.one_to_many("JobService", "Watch", watch, self.metadata("office"))
        first = next(iter(states))
        states.cancel()
        return {
            "job": json_format.MessageToDict(job),
            "may": self.call("bay-1", "JobService", "May", may).yes,
            "pdf_begins": printed.pdf[:5].decode(),
            "check_value": printed.check_value,
            "watched": first.summary.number,
        }


def main(api_of):
    told = json.load(open(sys.argv[1], encoding="utf-8"))
    authority = told.get("authority")
    if authority:
        roots = open(authority, "rb").read()
        channel = grpc.secure_channel(told["address"], grpc.ssl_channel_credentials(root_certificates=roots))
    else:
        channel = grpc.insecure_channel(told["address"])
    began = time.monotonic()
    with channel:
        run = Run(api_of(channel, told), told)
        seen = {
            "health": run.api.health(),
            "services": run.api.services(run.metadata("office")),
            "acknowledged": run.play(),
            "again": run.again(),
            "errors": run.errors(),
            "questions": run.questions(),
        }
    seen["seconds"] = round(time.monotonic() - began, 2)
    print(json.dumps(seen), flush=True)
