"""The API as the server itself describes it, by reflection alone: no stubs, no .proto files."""

from google.protobuf import any_pb2, descriptor_pb2, descriptor_pool, message_factory
from grpc_reflection.v1alpha import reflection_pb2, reflection_pb2_grpc

import demo_job

PACKAGE = "standpipe.v1"


class Api:
    def __init__(self, channel, told):
        self.channel = channel
        self.metadata = (("authorization", "Bearer " + told["tokens"]["office"]),)
        self.pool = descriptor_pool.DescriptorPool()
        self.known = set()
        self.learn_symbol(PACKAGE + ".Entry")
        for service in self.services(self.metadata):
            self.learn_symbol(service)

    def reflect(self, **asked):
        stub = reflection_pb2_grpc.ServerReflectionStub(self.channel)
        request = reflection_pb2.ServerReflectionRequest(**asked)
        (answer,) = stub.ServerReflectionInfo(iter([request]), metadata=self.metadata, timeout=10)
        return answer

    def learn_symbol(self, symbol):
        self.learn(self.reflect(file_containing_symbol=symbol))

    def learn(self, answer):
        for raw in answer.file_descriptor_response.file_descriptor_proto:
            file = descriptor_pb2.FileDescriptorProto.FromString(raw)
            if file.name in self.known:
                continue
            self.known.add(file.name)
            for needed in file.dependency:
                if needed not in self.known:
                    self.learn(self.reflect(file_by_filename=needed))
            self.pool.AddSerializedFile(raw)

    def message(self, name):
        descriptor = self.pool.FindMessageTypeByName(f"{PACKAGE}.{name}")
        return message_factory.GetMessageClass(descriptor)()

    def method(self, service, method):
        described = self.pool.FindServiceByName(f"{PACKAGE}.{service}").methods_by_name[method]
        answer = message_factory.GetMessageClass(described.output_type)
        path = f"/{PACKAGE}.{service}/{method}"
        return path, lambda request: request.SerializeToString(), answer.FromString

    def call(self, service, method, request, metadata):
        return self.channel.unary_unary(*self.method(service, method))(request, metadata=metadata, timeout=30)

    def one_to_many(self, service, method, request, metadata):
        return self.channel.unary_stream(*self.method(service, method))(request, metadata=metadata, timeout=30)

    def both_ways(self, service, method, requests, metadata):
        return self.channel.stream_stream(*self.method(service, method))(requests, metadata=metadata, timeout=60)

    def health(self):
        self.learn_symbol("grpc.health.v1.Health")
        described = self.pool.FindServiceByName("grpc.health.v1.Health").methods_by_name["Check"]
        request = message_factory.GetMessageClass(described.input_type)(service=f"{PACKAGE}.JournalService")
        answer = message_factory.GetMessageClass(described.output_type)
        call = self.channel.unary_unary(
            "/grpc.health.v1.Health/Check", lambda message: message.SerializeToString(), answer.FromString
        )
        return described.output_type.enum_types_by_name["ServingStatus"].values_by_number[
            call(request, timeout=10).status
        ].name

    def services(self, metadata):
        listed = self.reflect(list_services="*").list_services_response.service
        return sorted(service.name for service in listed)

    def details(self, error):
        """The trailer by hand: google.rpc.Status has code 1, message 2 and details 3."""
        trailer = dict(error.trailing_metadata()).get("grpc-status-details-bin", b"")
        found = []
        for detail in fields(trailer).get(3, []):
            any_message = any_pb2.Any.FromString(detail)
            name = any_message.type_url.rsplit(".", 1)[-1]
            parts = fields(any_message.value)
            told = {"type": name}
            if name == "ErrorInfo":
                told["reason"], told["domain"] = parts[1][0].decode(), parts[2][0].decode()
            if name == "BadRequest":
                told["fieldViolations"] = [{"field": fields(part)[1][0].decode()} for part in parts[1]]
            found.append(told)
        return {"details": found}


def fields(message):
    """Length-delimited fields of a message by their numbers."""
    found, at = {}, 0

    def number():
        nonlocal at
        value, shift = 0, 0
        while True:
            byte = message[at]
            at += 1
            value |= (byte & 0x7F) << shift
            shift += 7
            if byte < 0x80:
                return value

    while at < len(message):
        key = number()
        if key & 7 == 2:
            length = number()
            found.setdefault(key >> 3, []).append(message[at : at + length])
            at += length
        else:
            number()
    return found


if __name__ == "__main__":
    demo_job.main(Api)
