//! What a refusal tells, read from its details (AIP-193), and every call by its path.

use standpipe_proto::{Bytes, ERROR_DOMAIN};
use tonic::Status;
use tonic::codec::{Codec, DecodeBuf, Decoder, EncodeBuf, Encoder};
use tonic_types::{ErrorInfo, StatusExt as _};

/// The reason of a refusal that carries exactly one `ErrorInfo` of ours; a complaint otherwise.
pub fn info(status: &Status) -> Result<ErrorInfo, String> {
    let info = status.get_details_error_info().ok_or_else(|| format!("no ErrorInfo in {status:?}"))?;
    let upper_snake = info.reason.bytes().all(|byte| byte.is_ascii_uppercase() || byte == b'_');
    if info.domain != ERROR_DOMAIN || info.reason.is_empty() || info.reason.len() > 63 || !upper_snake {
        return Err(format!("{info:?} is no reason of ours"));
    }
    let all = status.get_error_details_vec();
    let infos = all.iter().filter(|detail| matches!(detail, tonic_types::ErrorDetail::ErrorInfo(_))).count();
    if infos == 1 { Ok(info) } else { Err(format!("{infos} ErrorInfo in {status:?}")) }
}

/// The reason alone.
pub fn reason(status: &Status) -> String {
    info(status).map_or_else(|complaint| complaint, |info| info.reason)
}

/// Bytes as they are, both ways.
#[derive(Debug, Clone, Copy, Default)]
pub struct Raw;

impl Codec for Raw {
    type Encode = Bytes;
    type Decode = Bytes;
    type Encoder = Self;
    type Decoder = Self;

    fn encoder(&mut self) -> Self {
        Self
    }

    fn decoder(&mut self) -> Self {
        Self
    }
}

impl Encoder for Raw {
    type Item = Bytes;
    type Error = Status;

    fn encode(&mut self, item: Bytes, buffer: &mut EncodeBuf<'_>) -> Result<(), Status> {
        bytes::BufMut::put(buffer, item);
        Ok(())
    }
}

impl Decoder for Raw {
    type Item = Bytes;
    type Error = Status;

    fn decode(&mut self, buffer: &mut DecodeBuf<'_>) -> Result<Option<Bytes>, Status> {
        use bytes::Buf as _;
        Ok(Some(buffer.copy_to_bytes(buffer.remaining())))
    }
}

/// Calls any method with one message of any bytes and gives the first message of the answer, if there is one.
pub async fn call<T>(service: T, path: &str, message: Bytes) -> Result<Option<Bytes>, Status>
where
    T: tonic::client::GrpcService<tonic::body::Body>,
    T::Error: std::fmt::Debug,
    T::ResponseBody: tonic::codegen::Body + Send + 'static,
    <T::ResponseBody as tonic::codegen::Body>::Error: Into<tonic::codegen::StdError> + Send,
{
    let mut grpc = tonic::client::Grpc::new(service);
    grpc.ready().await.map_err(|error| Status::unavailable(format!("{error:?}")))?;
    let path = path.parse().unwrap();
    let request = tonic::Request::new(tokio_stream::iter([message]));
    grpc.streaming(request, path, Raw).await?.into_inner().message().await
}
