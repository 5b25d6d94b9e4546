//! What is sent to a meter, compiled.

use bytes::Bytes;

use crate::text::Text;

use super::{Request, When};

/// A message of a description.
#[derive(Debug)]
pub(super) struct Message {
    pub(super) name: Text,
    pub(super) data: Data,
    pub(super) when: When,
}

/// Its bytes.
#[derive(Debug)]
pub(super) enum Data {
    /// The same for every meter.
    Plain(Bytes),
}

impl Message {
    /// Whether these bytes are this message.
    pub(super) fn is(&self, sent: &[u8]) -> bool {
        match &self.data {
            Data::Plain(data) => data == sent,
        }
    }

    /// Ready for the wire; a message that is the same for all units goes out once.
    pub(super) fn requests(&self, index: usize, units: &[Option<u8>]) -> Vec<Request> {
        let _ = (index, units);
        let request = |data: Bytes| Request {
            name: self.name.clone(),
            data,
            when: self.when,
        };
        match &self.data {
            Data::Plain(data) => vec![request(data.clone())],
        }
    }
}
