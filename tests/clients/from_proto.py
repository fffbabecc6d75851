"""The API as it is made from the .proto files alone, by grpcio-tools."""

import importlib
import pathlib
import sys
import tempfile

import grpc_tools
from google.rpc import error_details_pb2  # noqa: F401  (known to the decoder of details)
from grpc_health.v1 import health_pb2, health_pb2_grpc
from grpc_status import rpc_status
from grpc_tools import protoc

import demo_job



class Api:
    def __init__(self, channel, told):
        self.channel = channel
        self.out = tempfile.TemporaryDirectory()
        well_known = pathlib.Path(grpc_tools.__file__).parent / "_proto"
        proto = told["proto"]
        files = sorted(str(path.relative_to(proto)) for path in pathlib.Path(proto).rglob("*.proto"))
        arguments = ["protoc", f"-I{proto}", f"-I{well_known}"]
        arguments += [f"--python_out={self.out.name}", f"--grpc_python_out={self.out.name}", *files]
        if protoc.main(arguments) != 0:
            raise SystemExit("the messages cannot be compiled")
        sys.path.insert(0, self.out.name)
        stems = [file.removesuffix(".proto").replace("/", ".") for file in files]
        self.modules = [importlib.import_module(stem + "_pb2") for stem in stems]
        self.calls = [importlib.import_module(stem + "_pb2_grpc") for stem in stems]

    def message(self, name):
        return next(getattr(module, name) for module in self.modules if hasattr(module, name))()

    def stub(self, service):
        name = service + "Stub"
        return next(getattr(module, name) for module in self.calls if hasattr(module, name))(self.channel)

    def call(self, service, method, request, metadata):
        return getattr(self.stub(service), method)(request, metadata=metadata, timeout=30)

    def one_to_many(self, service, method, request, metadata):
        return getattr(self.stub(service), method)(request, metadata=metadata, timeout=30)

    def both_ways(self, service, method, requests, metadata):
        return getattr(self.stub(service), method)(requests, metadata=metadata, timeout=60)

    def health(self):
        request = health_pb2.HealthCheckRequest(service="standpipe.v1.JournalService")
        answer = health_pb2_grpc.HealthStub(self.channel).Check(request, timeout=10)
        return health_pb2.HealthCheckResponse.ServingStatus.Name(answer.status)

    def services(self, metadata):
        return []

    def details(self, error):
        status = rpc_status.from_call(error)
        found = []
        for detail in status.details if status else []:
            name = detail.TypeName().rsplit(".", 1)[-1]
            message = getattr(error_details_pb2, name)()
            detail.Unpack(message)
            found.append({"type": name, **demo_job.json_format.MessageToDict(message)})
        return {"details": found}


if __name__ == "__main__":
    demo_job.main(Api)
